//! One thing at a time done on a thread of its own, so that neither audio nor
//! window wait for it.
//!
//! In: work. Out: what it came to, once it is there. Never here: what it is
//! about.

use std::io;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread::JoinHandle;

/// The thread, while it works.
#[derive(Debug)]
pub struct Errand<T> {
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

impl<T> Default for Errand<T> {
    fn default() -> Errand<T> {
        Errand { running: None }
    }
}

impl<T> Errand<T> {
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

impl<T: Send + 'static> Errand<T> {
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

impl<T> Drop for Errand<T> {
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

    fn outcome<T>(errand: &mut Errand<T>) -> Result<T, Lost> {
        loop {
            if let Some(outcome) = errand.poll() {
                return outcome;
            }
            std::thread::yield_now();
        }
    }

    #[test]
    fn work_is_done_once_and_its_result_given_once() {
        let mut errand = Errand::default();
        errand.start("test", || 7, || ()).unwrap();
        assert!(errand.is_busy());
        assert_eq!(outcome(&mut errand), Ok(7));
        assert!(!errand.is_busy());
        assert_eq!(errand.poll(), None);
    }

    #[test]
    fn work_that_panics_is_lost() {
        let mut errand: Errand<u8> = Errand::default();
        errand.start("test", || panic!("as meant"), || ()).unwrap();
        assert_eq!(outcome(&mut errand), Err(Lost));
    }

    #[test]
    fn no_thread_is_left_when_it_is_dropped() {
        let ended = Arc::new(AtomicBool::new(false));
        let seen = ended.clone();
        let mut errand = Errand::default();
        let slow = || std::thread::sleep(std::time::Duration::from_millis(20));
        errand
            .start("test", slow, move || seen.store(true, Relaxed))
            .unwrap();
        drop(errand);
        assert!(ended.load(Relaxed));
    }
}
