//! Where on this machine a user's things lie.

use super::error::ShelfError;
use etcetera::BaseStrategy;
use std::path::{Path, PathBuf};

/// The folder that holds all a user keeps, and the places in it. Nothing is made
/// before something is kept there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folders {
    root: PathBuf,
}

impl Folders {
    /// The user's data folder by the convention of the system, and `Barform` in
    /// it: `$XDG_DATA_HOME` or `~/.local/share` (XDG Base Directory
    /// Specification), `~/Library/Application Support` on a Mac, the roaming
    /// application data on Windows.
    ///
    /// # Errors
    /// [`ShelfError::NoHome`].
    pub fn of_user() -> Result<Folders, ShelfError> {
        let strategy = etcetera::base_strategy::choose_native_strategy();
        let data = strategy.map_err(|_| ShelfError::NoHome)?.data_dir();
        let name = if cfg!(any(windows, target_os = "macos")) {
            "Barform"
        } else {
            "barform"
        };
        Ok(Folders::at(data.join(name)))
    }

    /// A folder of one's own choice.
    pub fn at(root: impl Into<PathBuf>) -> Folders {
        Folders { root: root.into() }
    }

    /// The folder that holds the rest.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Cells and forms: see [`super::Shelf`].
    pub fn shelf(&self) -> PathBuf {
        self.root.join("shelf")
    }

    /// Key maps: see [`super::Kits`].
    pub fn kits(&self) -> PathBuf {
        self.root.join("kits")
    }

    /// The files opened last: see [`super::Recent`].
    pub fn recent(&self) -> PathBuf {
        self.root.join("recent.toml")
    }

    /// How the editor looks: see [`super::Prefs`].
    pub fn editor(&self) -> PathBuf {
        self.root.join("editor.toml")
    }
}
