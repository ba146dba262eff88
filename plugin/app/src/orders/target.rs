//! Where a file goes, and who watches while it is made.

use std::fs;
use std::io::{self, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};

use super::OrderError;
use crate::save::{self, Overwrite, is_special};

/// Watches a file being made.
pub trait Watch {
    /// The share done, 0 to 1. A break stops the work.
    fn at(&mut self, share: f64) -> ControlFlow<()>;
}

impl<F: FnMut(f64) -> ControlFlow<()>> Watch for F {
    fn at(&mut self, share: f64) -> ControlFlow<()> {
        self(share)
    }
}

/// The share done and the wish to stop, between the thread that makes a file and
/// the one that waits for it.
#[derive(Debug, Default)]
pub struct SharedProgress {
    stop: AtomicBool,
    /// In thousandths.
    share: AtomicU32,
}

impl SharedProgress {
    /// The share done, 0 to 1.
    pub fn share(&self) -> f32 {
        self.share.load(Relaxed) as f32 / 1_000.0
    }

    /// The work need not be finished.
    pub fn stop(&self) {
        self.stop.store(true, Relaxed);
    }
}

impl Watch for Arc<SharedProgress> {
    fn at(&mut self, share: f64) -> ControlFlow<()> {
        self.share.store((share * 1_000.0) as u32, Relaxed);
        if self.stop.load(Relaxed) {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    }
}

/// Where a file goes: a path, or a stream in place of it.
pub struct Target<'a> {
    path: PathBuf,
    overwrite: Overwrite,
    stream: Option<&'a mut dyn Write>,
}

impl<'a> Target<'a> {
    /// A file, or a folder for what is made of several files.
    pub fn file(path: impl Into<PathBuf>, overwrite: Overwrite) -> Target<'static> {
        Target {
            path: path.into(),
            overwrite,
            stream: None,
        }
    }

    /// A stream that is called `name`.
    pub fn stream(name: impl Into<PathBuf>, out: &'a mut dyn Write) -> Target<'a> {
        Target {
            path: name.into(),
            overwrite: Overwrite::Refuse,
            stream: Some(out),
        }
    }

    /// The path, or the name of the stream.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether files that exist may be replaced.
    pub fn overwrite(&self) -> Overwrite {
        self.overwrite
    }

    /// Whether it is a stream.
    pub fn is_stream(&self) -> bool {
        self.stream.is_some()
    }

    /// Whether it takes one byte after another: a stream, a device, a pipe.
    pub fn is_sequential(&self) -> bool {
        self.is_stream() || is_special(&self.path)
    }

    /// Refuses a file that is there and may not be replaced, before any work is
    /// done.
    ///
    /// # Errors
    /// [`OrderError::Exists`].
    pub fn refuse_existing(&self) -> Result<(), OrderError> {
        self.refuse(&self.path)
    }

    /// As [`Target::refuse_existing`], for one of several files.
    pub(super) fn refuse(&self, path: &Path) -> Result<(), OrderError> {
        let free = self.is_stream() || self.overwrite == Overwrite::Replace;
        if !free && fs::symlink_metadata(path).is_ok() && !is_special(path) {
            return Err(OrderError::Exists(path.to_owned()));
        }
        Ok(())
    }

    /// Writes a whole file.
    ///
    /// # Errors
    /// [`OrderError::Exists`], [`OrderError::Write`].
    pub fn write(&mut self, bytes: &[u8]) -> Result<(), OrderError> {
        let path = self.path.clone();
        self.write_to(&path, bytes)
    }

    /// As [`Target::write`], for one of several files.
    pub(super) fn write_to(&mut self, path: &Path, bytes: &[u8]) -> Result<(), OrderError> {
        let written = match &mut self.stream {
            Some(out) => out.write_all(bytes).and_then(|()| out.flush()),
            None => save::write(path, bytes, self.overwrite),
        };
        written.map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => OrderError::Exists(path.to_owned()),
            _ => OrderError::Write {
                path: path.to_owned(),
                error,
            },
        })
    }
}
