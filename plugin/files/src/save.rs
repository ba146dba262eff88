//! Writing whole files.
//!
//! In: a path, bytes. Out: a file that is under its name complete or not at all:
//! it grows under a hidden name beside its place, is forced to the disk and then
//! takes its name in one step of the file system. Whatever fails on the way
//! leaves the old file as it was. A link stays a link, and what it points to is
//! replaced; a file that is replaced keeps its permissions. Everything in Barform
//! that writes a file writes it here.

use std::fs::{self, File, OpenOptions, Permissions};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

/// What the name of every draft begins with.
pub const DRAFT_PREFIX: &str = ".barform-draft-";

/// Most links that are followed from one to the next: as many as Linux does.
const MAX_LINKS: usize = 40;

/// Whether an existing file may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Overwrite {
    /// Refuse.
    #[default]
    Refuse,
    /// Replace it, once the new file is complete.
    Replace,
}

impl Overwrite {
    /// [`Overwrite::Replace`] where that was asked for.
    pub fn if_asked(replace: bool) -> Overwrite {
        if replace {
            Overwrite::Replace
        } else {
            Overwrite::Refuse
        }
    }
}

/// Writes a file. A device or a pipe is written to, whether or not files may be
/// replaced.
///
/// # Errors
/// As [`Draft::beside`] and [`Draft::publish`], and what the system says while
/// the bytes are written.
pub fn write(path: &Path, bytes: &[u8], overwrite: Overwrite) -> io::Result<()> {
    if is_special(path) {
        return OpenOptions::new().write(true).open(path)?.write_all(bytes);
    }
    let draft = Draft::beside(path, overwrite)?;
    draft.file().write_all(bytes)?;
    draft.publish()
}

/// Whether a path is there and is neither a file nor a folder: a device, a pipe.
pub fn is_special(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|meta| !meta.is_file() && !meta.is_dir())
}

/// A file that grows. Unless published, it is removed when dropped.
#[derive(Debug)]
pub struct Draft {
    file: NamedTempFile,
    target: PathBuf,
    overwrite: Overwrite,
    /// Of the file that is replaced.
    kept: Option<Permissions>,
}

impl Draft {
    /// Opens a draft for `path`.
    ///
    /// # Errors
    /// [`ErrorKind::AlreadyExists`] for a name that is taken and may not be
    /// replaced, [`ErrorKind::InvalidInput`] where there is something else than a
    /// file, [`ErrorKind::PermissionDenied`] for a file that is protected; and
    /// what the system says.
    pub fn beside(path: &Path, overwrite: Overwrite) -> io::Result<Draft> {
        if overwrite == Overwrite::Refuse {
            absent(path)?;
        }
        let target = followed(path)?;
        let kept = match fs::metadata(&target) {
            Ok(meta) if !meta.is_file() => {
                return Err(io::Error::new(ErrorKind::InvalidInput, "it is not a file"));
            }
            // To take its name would pass over its protection.
            Ok(meta) if meta.permissions().readonly() => {
                return Err(ErrorKind::PermissionDenied.into());
            }
            Ok(meta) => Some(meta.permissions()),
            Err(error) if error.kind() == ErrorKind::NotFound => None,
            Err(error) => return Err(error),
        };
        let mut builder = tempfile::Builder::new();
        builder.prefix(DRAFT_PREFIX);
        // Like any new file: what the user's mask leaves of read and write. One
        // that is replaced is the user's alone until it is complete.
        #[cfg(unix)]
        if kept.is_none() {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(Permissions::from_mode(0o666));
        }
        Ok(Draft {
            file: builder.tempfile_in(folder_of(&target))?,
            target,
            overwrite,
            kept,
        })
    }

    /// The open file.
    pub fn file(&self) -> &File {
        self.file.as_file()
    }

    /// Gives the complete file its name.
    ///
    /// # Errors
    /// [`ErrorKind::AlreadyExists`] if the name was taken meanwhile and may not be
    /// replaced; and what the system says.
    pub fn publish(self) -> io::Result<()> {
        let Draft {
            file,
            target,
            overwrite,
            kept,
        } = self;
        if let Some(kept) = kept {
            file.as_file().set_permissions(kept)?;
        }
        file.as_file().sync_all()?;
        match overwrite {
            Overwrite::Replace => file.persist(&target)?,
            Overwrite::Refuse => match file.persist_noclobber(&target) {
                // Where a file system cannot do both at once, look once more.
                Err(refused) if refused.error.kind() != ErrorKind::AlreadyExists => {
                    absent(&target)?;
                    refused.file.persist(&target)?
                }
                named => named?,
            },
        };
        sync_folder_of(&target);
        Ok(())
    }
}

/// Forces the names in a file's folder to the disk, where a system can. The file
/// is in place whether or not this succeeds, so there is nothing to report.
pub fn sync_folder_of(path: &Path) {
    if cfg!(unix)
        && let Ok(folder) = File::open(folder_of(path))
    {
        folder.sync_all().ok();
    }
}

/// The folder that a path is in.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Where a path leads, whether or not there is something at the end of its links.
fn followed(path: &Path) -> io::Result<PathBuf> {
    let mut at = path.to_owned();
    for _ in 0..MAX_LINKS {
        match fs::read_link(&at) {
            Ok(to) => at = folder_of(&at).join(to),
            // Not a link, or nothing at all.
            Err(_) => return Ok(at),
        }
    }
    Err(io::Error::other("its links lead round and round"))
}

fn absent(path: &Path) -> io::Result<()> {
    match fs::symlink_metadata(path) {
        Ok(_) => Err(ErrorKind::AlreadyExists.into()),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Overwrite::{Refuse, Replace};

    /// Names in a folder, in order.
    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let name = |e: io::Result<fs::DirEntry>| e.unwrap().file_name().into_string().unwrap();
        let mut names: Vec<String> = entries.map(name).collect();
        names.sort();
        names
    }

    fn kind(done: io::Result<()>) -> ErrorKind {
        done.unwrap_err().kind()
    }

    #[test]
    fn a_file_is_new_or_in_place_of_the_old_one_and_nothing_else_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        write(&path, b"one", Refuse).unwrap();
        assert_eq!(kind(write(&path, b"two", Refuse)), ErrorKind::AlreadyExists);
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write(&path, b"two", Replace).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(
            kind(write(folder.path(), b"", Replace)),
            ErrorKind::InvalidInput
        );
        let nowhere = folder.path().join("no/where");
        assert_eq!(kind(write(&nowhere, b"", Replace)), ErrorKind::NotFound);
        assert_eq!(names(folder.path()), ["a"]);
    }

    #[test]
    fn what_fails_on_the_way_leaves_the_old_file_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        fs::write(&path, "old").unwrap();
        let draft = Draft::beside(&path, Replace).unwrap();
        draft.file().write_all(b"half of the n").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()).len(), 2);
        drop(draft);
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["a"]);
    }

    #[test]
    fn a_name_that_was_taken_meanwhile_stays_whose_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        let draft = Draft::beside(&path, Refuse).unwrap();
        fs::write(&path, "theirs").unwrap();
        assert_eq!(kind(draft.publish()), ErrorKind::AlreadyExists);
        assert_eq!(fs::read(&path).unwrap(), b"theirs");
        assert_eq!(names(folder.path()), ["a"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link_and_what_it_points_to_is_replaced() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("far")).unwrap();
        fs::write(at("far/file"), "old").unwrap();
        symlink("far/file", at("link")).unwrap();
        symlink("link", at("link to a link")).unwrap();
        symlink("far", at("folder")).unwrap();
        symlink("../far/new", at("far/to nothing")).unwrap();
        symlink("round", at("round")).unwrap();
        for (name, end) in [
            ("link", "far/file"),
            ("link to a link", "far/file"),
            ("folder/file", "far/file"),
            ("folder/to nothing", "far/new"),
        ] {
            if fs::symlink_metadata(at(name)).unwrap().is_symlink() {
                assert_eq!(
                    kind(write(&at(name), b"", Refuse)),
                    ErrorKind::AlreadyExists
                );
            }
            write(&at(name), name.as_bytes(), Replace).unwrap();
            assert_eq!(fs::read(at(end)).unwrap(), name.as_bytes(), "{name}");
        }
        assert!(write(&at("round"), b"", Replace).is_err());
        for name in [
            "link",
            "link to a link",
            "folder",
            "far/to nothing",
            "round",
        ] {
            assert!(
                fs::symlink_metadata(at(name)).unwrap().is_symlink(),
                "{name}"
            );
        }
        assert_eq!(names(&at("far")), ["file", "new", "to nothing"]);
    }

    #[cfg(unix)]
    #[test]
    fn permissions_are_kept_and_those_of_a_new_file_are_as_of_any() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o7777;
        fs::write(at("any"), "").unwrap();
        write(&at("new"), b"", Refuse).unwrap();
        assert_eq!(mode(&at("new")), mode(&at("any")));
        for kept in [0o600, 0o640, 0o664, 0o666, 0o755] {
            fs::set_permissions(at("new"), Permissions::from_mode(kept)).unwrap();
            write(&at("new"), b"", Replace).unwrap();
            assert_eq!(mode(&at("new")), kept);
        }
        fs::set_permissions(at("new"), Permissions::from_mode(0o444)).unwrap();
        let refused = write(&at("new"), b"other", Replace);
        assert_eq!(kind(refused), ErrorKind::PermissionDenied);
        assert_eq!(fs::read(at("new")).unwrap(), b"");
        assert_eq!(names(folder.path()), ["any", "new"]);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_device_is_written_to() {
        // man 4 full: writes to it fail as on a full disk.
        write(Path::new("/dev/null"), b"x", Refuse).unwrap();
        let full = write(Path::new("/dev/full"), b"x", Replace);
        assert_eq!(kind(full), ErrorKind::StorageFull);
        assert!(is_special(Path::new("/dev/null")));
    }
}
