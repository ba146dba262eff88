//! How far a long job has come, for a person who waits.

use barform_app::orders::Watch;
use std::io::{self, IsTerminal, Write};
use std::ops::ControlFlow;
use std::time::{Duration, Instant};

/// Time between two updates: smooth to the eye, nothing to the machine.
const PAUSE: Duration = Duration::from_millis(100);

/// One line on standard error, if that is a terminal; else nothing.
pub struct Progress {
    what: &'static str,
    shown: bool,
    next: Instant,
    enabled: bool,
}

impl Progress {
    /// A line that says `what`, unless `quiet`.
    pub fn new(what: &'static str, quiet: bool) -> Progress {
        let enabled = !quiet && io::stderr().is_terminal();
        // Jobs that are done at once need no line.
        Progress {
            what,
            shown: false,
            next: Instant::now() + PAUSE,
            enabled,
        }
    }

    /// Shows the share done, `0 ..= 1`.
    pub fn show(&mut self, share: f64) {
        if self.enabled && Instant::now() >= self.next {
            self.next = Instant::now() + PAUSE;
            self.shown = true;
            let percent = (share * 100.0).clamp(0.0, 100.0) as u32;
            let _ = write!(io::stderr(), "\r{} {percent:>3} %", self.what);
        }
    }
}

impl Watch for Progress {
    fn at(&mut self, share: f64) -> ControlFlow<()> {
        self.show(share);
        ControlFlow::Continue(())
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.shown {
            let blank = " ".repeat(self.what.len() + 6);
            let _ = write!(io::stderr(), "\r{blank}\r");
        }
    }
}
