//! Reads score text on a thread of its own, so that neither audio nor window
//! ever wait for it.

use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread::JoinHandle;

use crate::state::{Checked, Problem, check};

/// One check at a time; a newer text waits for the one under way.
#[derive(Debug, Default)]
pub struct Checker {
    running: Option<Running>,
}

#[derive(Debug)]
struct Running {
    result: Receiver<Result<Checked, Problem>>,
    thread: JoinHandle<()>,
}

impl Checker {
    /// Whether a check is under way.
    pub fn is_busy(&self) -> bool {
        self.running.is_some()
    }

    /// Starts a check, unless one is under way; `done` is called on its thread.
    pub fn start(&mut self, text: String, file: String, done: impl FnOnce() + Send + 'static) {
        if self.is_busy() {
            return;
        }
        let (send, result) = channel();
        let thread = std::thread::Builder::new()
            .name("score check".to_owned())
            .spawn(move || {
                // The window may have gone meanwhile.
                let _ = send.send(check(&text, &file));
                done();
            });
        match thread {
            Ok(thread) => self.running = Some(Running { result, thread }),
            Err(_) => self.running = None,
        }
    }

    /// The outcome of the check under way, once it is there.
    pub fn poll(&mut self) -> Option<Result<Checked, Problem>> {
        let outcome = match self.running.as_ref()?.result.try_recv() {
            Ok(outcome) => Some(outcome),
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => None,
        };
        self.join();
        outcome
    }

    fn join(&mut self) {
        if let Some(running) = self.running.take() {
            // Its result, if any, has been received or is of no interest.
            let _ = running.thread.join();
        }
    }
}

impl Drop for Checker {
    /// A host may unload this library as soon as the window is gone: no thread
    /// may be left in it.
    fn drop(&mut self) {
        self.join();
    }
}
