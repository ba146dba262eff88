//! A thread that waits for the disk, so that the window does not.
//!
//! In: jobs, done one after the other in the order given. Out: an answer for
//! each. Never here: what a job is about.

use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;

/// Something to be done with what the thread keeps.
type Job<K, A> = Box<dyn FnOnce(&mut K) -> A + Send>;

/// A thread that keeps a `K` and answers with `A`.
pub struct Worker<K, A> {
    jobs: Option<Sender<Job<K, A>>>,
    answers: Receiver<A>,
    /// Jobs that have no answer yet.
    waiting: usize,
    thread: Option<JoinHandle<()>>,
}

impl<K: Send + 'static, A: Send + 'static> Worker<K, A> {
    /// Starts the thread; `wake` is called on it after each answer. Where the
    /// system gives no thread, no job is ever answered.
    pub fn new(name: &str, mut keeps: K, wake: impl Fn() + Send + 'static) -> Worker<K, A> {
        let (jobs, orders) = channel::<Job<K, A>>();
        let (send, answers) = channel();
        let thread = std::thread::Builder::new()
            .name(name.to_owned())
            .spawn(move || {
                for job in orders {
                    if send.send(job(&mut keeps)).is_err() {
                        return;
                    }
                    wake();
                }
            });
        Worker {
            jobs: Some(jobs),
            answers,
            waiting: 0,
            thread: thread.ok(),
        }
    }

    /// Gives it something to do.
    pub fn ask(&mut self, job: impl FnOnce(&mut K) -> A + Send + 'static) {
        if let Some(jobs) = &self.jobs
            && jobs.send(Box::new(job)).is_ok()
        {
            self.waiting += 1;
        }
    }

    /// The next answer that is there.
    pub fn answer(&mut self) -> Option<A> {
        match self.answers.try_recv() {
            Ok(answer) => {
                self.waiting = self.waiting.saturating_sub(1);
                Some(answer)
            }
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => {
                self.waiting = 0;
                None
            }
        }
    }

    /// Whether an answer is still to come.
    pub fn is_busy(&self) -> bool {
        self.waiting > 0
    }
}

impl<K, A> Drop for Worker<K, A> {
    /// What was asked for is still done. A host may unload this library as soon
    /// as the window is gone: no thread may be left in it.
    fn drop(&mut self) {
        self.jobs = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn jobs_are_done_in_order_and_all_of_them() {
        let (send, seen) = channel();
        let mut worker = Worker::new("test", 0_u32, || {});
        for _ in 0..3 {
            let send = send.clone();
            worker.ask(move |kept| {
                *kept += 1;
                let _ = send.send(*kept);
                *kept
            });
        }
        assert!(worker.is_busy());
        drop(worker);
        assert_eq!(seen.try_iter().collect::<Vec<_>>(), [1, 2, 3]);
    }

    #[test]
    fn every_job_has_an_answer() {
        let mut worker = Worker::new("test", (), || {});
        worker.ask(|()| 7);
        let answer = loop {
            if let Some(answer) = worker.answer() {
                break answer;
            }
            std::thread::yield_now();
        };
        assert_eq!((answer, worker.is_busy()), (7, false));
    }
}
