//! One thread that works out one answer at a time.

use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread::JoinHandle;

use super::answer::Answer;

/// The thread, while it works.
#[derive(Debug, Default)]
pub struct Worker {
    running: Option<Running>,
}

#[derive(Debug)]
struct Running {
    result: Receiver<Answer>,
    thread: JoinHandle<()>,
}

impl Worker {
    /// Whether it works.
    pub fn is_busy(&self) -> bool {
        self.running.is_some()
    }

    /// Starts, unless it works already; `done` is called on the thread.
    pub fn start(
        &mut self,
        work: impl FnOnce() -> Answer + Send + 'static,
        done: impl FnOnce() + Send + 'static,
    ) {
        if self.is_busy() {
            return;
        }
        let (send, result) = channel();
        let thread = std::thread::Builder::new()
            .name("bench tools".to_owned())
            .spawn(move || {
                // The window may have gone meanwhile.
                let _ = send.send(work());
                done();
            });
        self.running = thread.ok().map(|thread| Running { result, thread });
    }

    /// The answer, once it is there.
    pub fn poll(&mut self) -> Option<Answer> {
        let answer = match self.running.as_ref()?.result.try_recv() {
            Ok(answer) => answer,
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => {
                Answer::only("This could not be worked out. Please tell the makers of Barform.")
            }
        };
        self.join();
        Some(answer)
    }

    fn join(&mut self) {
        if let Some(running) = self.running.take() {
            // Its answer, if any, has been received or is of no interest.
            let _ = running.thread.join();
        }
    }
}

impl Drop for Worker {
    /// A host may unload this library as soon as the window is gone: no thread
    /// may be left in it.
    fn drop(&mut self) {
        self.join();
    }
}
