//! How far a long reading has come, and a way to stop it.

use crate::TakeError;

/// What a reading reports to: told a share `0 ..= 1` now and then, answers
/// whether to go on.
pub type Watch<'a> = dyn FnMut(f64) -> bool + 'a;

/// A reading under way.
pub struct Job<'a> {
    watch: &'a mut Watch<'a>,
    from: f64,
    to: f64,
}

/// Steps between two reports.
const EVERY: usize = 64;

impl<'a> Job<'a> {
    /// A reading that reports to `watch`.
    pub fn new(watch: &'a mut Watch<'a>) -> Job<'a> {
        Job {
            watch,
            from: 0.0,
            to: 1.0,
        }
    }

    /// The part of the work that comes next ends at `to`, `0 ..= 1`.
    pub fn part(&mut self, to: f64) {
        self.from = self.to.min(to);
        self.to = to;
    }

    /// Step `at` of `of` of this part.
    ///
    /// # Errors
    /// [`TakeError::Cancelled`] if the watcher says so.
    pub fn step(&mut self, at: usize, of: usize) -> Result<(), TakeError> {
        if !at.is_multiple_of(EVERY) {
            return Ok(());
        }
        let share = at as f64 / of.max(1) as f64;
        if (self.watch)(self.from + (self.to - self.from) * share) {
            Ok(())
        } else {
            Err(TakeError::Cancelled)
        }
    }
}
