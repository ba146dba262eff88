//! What a user likes in every window: kept in the data folder, not in a session.
//!
//! A session keeps the size, theme and scale of its own window ([`EditorPrefs`]);
//! a choice of theme or scale is kept in both places, so that the next new
//! session starts like the last window that was changed, and no stored one is
//! touched. A file that cannot be read or written is no reason not to go on: what
//! is wrong with it is kept to be said.

use std::path::PathBuf;

use crate::session::{EditorPrefs, Theme};
use crate::shelf::{Folders, MAX_LATENCY_MS, Prefs, SCALE_PERCENT, Theme as Liked};

/// A user's preferences, as last read or set.
#[derive(Debug, Default)]
pub struct Preferences {
    /// Their file; `None` where the machine has no data folder.
    path: Option<PathBuf>,
    now: Prefs,
    trouble: Option<String>,
}

impl Preferences {
    /// Those kept in a data folder; the default where there is none.
    pub fn of(folders: Option<&Folders>) -> Preferences {
        let mut prefs = Preferences {
            path: folders.map(Folders::editor),
            ..Preferences::default()
        };
        prefs.read();
        prefs
    }

    /// Reads them anew: another window may have changed them.
    pub fn read(&mut self) {
        let Some(path) = &self.path else { return };
        match Prefs::load(path) {
            Ok(now) => {
                self.now = now;
                self.trouble = None;
            }
            Err(error) => self.trouble = Some(error.to_string()),
        }
    }

    /// How much later a stroke played in arrives than it was meant, in
    /// milliseconds; negative if earlier.
    pub fn latency_offset_ms(&self) -> f64 {
        self.now.latency_offset_ms
    }

    /// Whether things appear at once instead of moving or fading.
    pub fn reduced_motion(&self) -> bool {
        self.now.reduced_motion
    }

    /// Why they could not be read or kept.
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// How the window of a new instance looks.
    pub fn start(&self) -> EditorPrefs {
        EditorPrefs {
            theme: match self.now.theme {
                Liked::Light => Theme::Light,
                // A plugin's window is not told how the system is.
                Liked::Dark | Liked::System => Theme::Dark,
            },
            zoom_percent: u32::from(self.now.scale_percent),
            ..EditorPrefs::default()
        }
    }

    /// Changes them, here and on the disk. What is out of range is brought into
    /// it.
    pub fn set(&mut self, change: impl Fn(&mut Prefs)) {
        let change = |prefs: &mut Prefs| {
            change(prefs);
            let (least, most) = SCALE_PERCENT.into_inner();
            prefs.scale_percent = prefs.scale_percent.clamp(least, most);
            let ms = prefs.latency_offset_ms;
            prefs.latency_offset_ms = if ms.is_finite() {
                ms.clamp(-MAX_LATENCY_MS, MAX_LATENCY_MS)
            } else {
                0.0
            };
        };
        change(&mut self.now);
        let Some(path) = &self.path else { return };
        match Prefs::update(path, change) {
            Ok(now) => {
                self.now = now;
                self.trouble = None;
            }
            Err(error) => self.trouble = Some(error.to_string()),
        }
    }

    /// The look of a window was changed: new instances start like it.
    pub fn look(&mut self, look: EditorPrefs) {
        let theme = match look.theme {
            Theme::Dark => Liked::Dark,
            Theme::Light => Liked::Light,
        };
        let scale = u16::try_from(look.zoom_percent).unwrap_or(u16::MAX);
        if self.now.theme != theme || self.now.scale_percent != scale {
            self.set(|prefs| {
                prefs.theme = theme;
                prefs.scale_percent = scale;
            });
        }
    }
}
