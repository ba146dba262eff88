//! Threads that a window leaves behind for a moment when it is closed: a program
//! that ends while they still draw may crash in the graphics driver.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

/// How long they may take; other tests' threads are no reason to wait longer.
const PATIENCE: Duration = Duration::from_millis(500);

/// The threads of this program at one moment; none where the system does not
/// list them.
#[derive(Debug, Default)]
pub struct Threads(BTreeSet<u32>);

impl Threads {
    /// Those that there are now.
    pub fn now() -> Threads {
        let tasks = std::fs::read_dir("/proc/self/task");
        let id = |entry: std::fs::DirEntry| entry.file_name().to_str()?.parse().ok();
        Threads(
            tasks
                .into_iter()
                .flatten()
                .flatten()
                .filter_map(id)
                .collect(),
        )
    }

    /// Waits until those of now that were not there at `before` have ended.
    pub fn wait_for_end(&self, before: &Threads) {
        let started = Instant::now();
        while started.elapsed() < PATIENCE {
            let left = Threads::now();
            let mut own = self.0.difference(&before.0);
            if !own.any(|id| left.0.contains(id)) {
                break;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}
