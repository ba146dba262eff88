//! Where a file grows before it gets its name.

use super::AudioError;
use crate::save::{Draft, Overwrite};
use std::fs;
use std::io;
use std::path::Path;

/// Opens a draft for `path`.
pub(super) fn draft(path: &Path, overwrite: Overwrite) -> Result<Draft, AudioError> {
    let there = fs::metadata(path);
    if path.file_name().is_none() || there.is_ok_and(|meta| !meta.is_file()) {
        return Err(AudioError::NotAFile(path.to_owned()));
    }
    Draft::beside(path, overwrite).map_err(|source| failed(path, source))
}

/// Gives the complete file its name.
pub(super) fn publish(draft: Draft, path: &Path) -> Result<(), AudioError> {
    draft.publish().map_err(|source| failed(path, source))
}

fn failed(path: &Path, source: io::Error) -> AudioError {
    match source.kind() {
        io::ErrorKind::AlreadyExists => AudioError::Exists(path.to_owned()),
        _ => AudioError::Io {
            what: path.display().to_string(),
            source,
        },
    }
}
