//! One thing at a time, done on a thread of its own.

use std::io;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread::JoinHandle;

/// The thread, while it works.
#[derive(Debug)]
pub struct Job<T> {
    running: Option<Running<T>>,
}

#[derive(Debug)]
struct Running<T> {
    result: Receiver<T>,
    thread: JoinHandle<()>,
}

/// The thread ended without a result: the work panicked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lost;

impl<T> Default for Job<T> {
    fn default() -> Job<T> {
        Job { running: None }
    }
}

impl<T> Job<T> {
    /// Whether work is under way.
    pub fn is_busy(&self) -> bool {
        self.running.is_some()
    }

    /// The outcome of the work under way, once it is there.
    pub fn poll(&mut self) -> Option<Result<T, Lost>> {
        let outcome = match self.running.as_ref()?.result.try_recv() {
            Ok(outcome) => Ok(outcome),
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => Err(Lost),
        };
        self.join();
        Some(outcome)
    }

    fn join(&mut self) {
        if let Some(running) = self.running.take() {
            // Its result, if any, has been received or is of no interest.
            let _ = running.thread.join();
        }
    }
}

impl<T: Send + 'static> Job<T> {
    /// Starts work, unless some is under way; `done` is called on its thread.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn start(
        &mut self,
        name: &str,
        work: impl FnOnce() -> T + Send + 'static,
        done: impl FnOnce() + Send + 'static,
    ) -> io::Result<()> {
        if self.is_busy() {
            return Ok(());
        }
        let (send, result) = channel();
        let thread = std::thread::Builder::new()
            .name(name.to_owned())
            .spawn(move || {
                // The window may have gone meanwhile.
                let _ = send.send(work());
                done();
            })?;
        self.running = Some(Running { result, thread });
        Ok(())
    }
}

impl<T> Drop for Job<T> {
    /// A host may unload this library as soon as the window is gone: no thread
    /// may be left in it.
    fn drop(&mut self) {
        self.join();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering::Relaxed};

    fn outcome<T>(job: &mut Job<T>) -> Result<T, Lost> {
        loop {
            if let Some(outcome) = job.poll() {
                return outcome;
            }
            std::thread::yield_now();
        }
    }

    #[test]
    fn work_is_done_once_and_its_result_given_once() {
        let mut job = Job::default();
        job.start("test", || 7, || ()).unwrap();
        assert!(job.is_busy());
        assert_eq!(outcome(&mut job), Ok(7));
        assert!(!job.is_busy());
        assert_eq!(job.poll(), None);
    }

    #[test]
    fn work_that_panics_is_lost() {
        let mut job: Job<u8> = Job::default();
        job.start("test", || panic!("as meant"), || ()).unwrap();
        assert_eq!(outcome(&mut job), Err(Lost));
    }

    #[test]
    fn no_thread_is_left_when_it_is_dropped() {
        let ended = Arc::new(AtomicBool::new(false));
        let seen = ended.clone();
        let mut job = Job::default();
        let slow = || std::thread::sleep(std::time::Duration::from_millis(20));
        job.start("test", slow, move || seen.store(true, Relaxed))
            .unwrap();
        drop(job);
        assert!(ended.load(Relaxed));
    }
}
