//! A thread that keeps something and does jobs with it, one after the other.

use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// Time between looks round while there is nothing else to do.
const ROUND: Duration = Duration::from_secs(1);

/// Something to be done with what the thread keeps.
type Task<K, A> = Box<dyn FnOnce(&mut K) -> A + Send>;

/// A thread that keeps a `K` and answers with `A`.
pub struct Worker<K, A> {
    jobs: Option<Sender<Task<K, A>>>,
    answers: Receiver<A>,
    thread: Option<JoinHandle<()>>,
}

impl<K: Send + 'static, A: Send + 'static> Worker<K, A> {
    /// Starts the thread; `wake` is called on it after each answer. Where the
    /// system gives no thread, no job is ever answered.
    pub fn new(name: &str, mut keeps: K, wake: impl Fn() + Send + 'static) -> Worker<K, A> {
        Worker::start(name, move |orders, send| {
            for job in orders {
                if send.send(job(&mut keeps)).is_err() {
                    return;
                }
                wake();
            }
        })
    }

    /// The same; while it has had nothing to do for a second, it looks round,
    /// and answers if there is something to say.
    pub fn looking_round(
        name: &str,
        mut keeps: K,
        round: impl Fn(&mut K) -> Option<A> + Send + 'static,
        wake: impl Fn() + Send + 'static,
    ) -> Worker<K, A> {
        Worker::start(name, move |orders, send| {
            loop {
                let answer = match orders.recv_timeout(ROUND) {
                    Ok(job) => Some(job(&mut keeps)),
                    Err(RecvTimeoutError::Timeout) => round(&mut keeps),
                    Err(RecvTimeoutError::Disconnected) => return,
                };
                let Some(answer) = answer else { continue };
                if send.send(answer).is_err() {
                    return;
                }
                wake();
            }
        })
    }

    fn start(
        name: &str,
        run: impl FnOnce(Receiver<Task<K, A>>, Sender<A>) + Send + 'static,
    ) -> Worker<K, A> {
        let (jobs, orders) = channel();
        let (send, answers) = channel();
        let builder = std::thread::Builder::new().name(name.to_owned());
        Worker {
            jobs: Some(jobs),
            answers,
            thread: builder.spawn(move || run(orders, send)).ok(),
        }
    }

    /// Gives it something to do.
    pub fn ask(&mut self, job: impl FnOnce(&mut K) -> A + Send + 'static) {
        if let Some(jobs) = &self.jobs {
            // Without a thread there is nobody to tell.
            let _ = jobs.send(Box::new(job));
        }
    }

    /// The next answer that is there.
    pub fn answer(&mut self) -> Option<A> {
        self.answers.try_recv().ok()
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
        drop(worker);
        assert_eq!(seen.try_iter().collect::<Vec<_>>(), [1, 2, 3]);
    }

    #[test]
    fn it_looks_round_while_it_has_nothing_to_do() {
        let round = |seen: &mut u32| {
            *seen += 1;
            (*seen == 2).then_some(*seen)
        };
        let mut worker = Worker::looking_round("test", 0, round, || {});
        worker.ask(|seen| *seen);
        assert_eq!(next(&mut worker), 0);
        // The first round says nothing.
        assert_eq!(next(&mut worker), 2);
    }

    fn next(worker: &mut Worker<u32, u32>) -> u32 {
        loop {
            if let Some(answer) = worker.answer() {
                return answer;
            }
            std::thread::yield_now();
        }
    }
}
