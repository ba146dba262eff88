//! What is stored with a session: the score, its file, the look of the editor.
//!
//! The document is versioned; [`read_document`] is the one place that knows old
//! versions. A damaged or newer one is refused whole, with a message.

use serde::{Deserialize, Serialize};

use super::{CompiledScore, check};

/// Version of the document written today.
pub const VERSION: u64 = 1;

/// What a host stores: version 1, the only one so far.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StoredSession {
    /// Always [`VERSION`].
    pub version: u64,
    /// The score as text, comments and all.
    pub score: String,
    /// The score file last opened or saved, if any.
    pub file: Option<String>,
    /// The look of the editor.
    pub editor: EditorPrefs,
}

/// The look of the editor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EditorPrefs {
    /// Dark or light.
    pub theme: Theme,
    /// Width in points, before zoom.
    pub width: u32,
    /// Height in points, before zoom.
    pub height: u32,
    /// Scale in percent, in [`SCALE_RANGE`].
    pub zoom_percent: u32,
}

/// Dark or light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Theme {
    /// Light on dark, for a stage or a control room.
    Dark,
    /// Dark on light, for a classroom.
    Light,
}

/// Smallest editor in points: hosts cut off what does not fit their own window.
/// Where there is less room than its pages need, it is scrolled.
pub const MIN_SIZE: (u32, u32) = (480, 320);
/// Largest editor in points; more than any screen sold today.
const MAX_SIZE: (u32, u32) = (7_680, 4_320);
/// Smallest and largest scale in percent. Sessions of the first version may say
/// 50 to 300; they load, brought into the range.
pub const SCALE_RANGE: (u32, u32) = (
    *crate::shelf::SCALE_PERCENT.start() as u32,
    *crate::shelf::SCALE_PERCENT.end() as u32,
);

impl Default for EditorPrefs {
    fn default() -> Self {
        EditorPrefs {
            theme: Theme::Dark,
            width: 1_100,
            height: 720,
            zoom_percent: 100,
        }
    }
}

impl EditorPrefs {
    pub(super) fn clamped(self) -> Self {
        EditorPrefs {
            theme: self.theme,
            width: self.width.clamp(MIN_SIZE.0, MAX_SIZE.0),
            height: self.height.clamp(MIN_SIZE.1, MAX_SIZE.1),
            zoom_percent: self.zoom_percent.clamp(SCALE_RANGE.0, SCALE_RANGE.1),
        }
    }
}

/// End of every refusal.
const KEPT: &str = "Nothing was loaded and what was there before still plays.";

/// The message of a refusal: what is wrong with a stored session.
pub fn damaged(what: impl std::fmt::Display) -> String {
    format!("The stored session is damaged ({what}). {KEPT}")
}

impl StoredSession {
    /// Reads and compiles its score.
    ///
    /// # Errors
    /// A message for the user.
    pub fn compiled(&self) -> Result<CompiledScore, String> {
        check(&self.score, "session").map_err(|problem| {
            damaged(format_args!(
                "score, line {}: {}",
                problem.line, problem.message
            ))
        })
    }
}

/// Reads a stored document of any version up to [`VERSION`].
///
/// # Errors
/// A message for the user.
pub fn read_document(json: &str) -> Result<StoredSession, String> {
    let value: serde_json::Value = serde_json::from_str(json).map_err(damaged)?;
    let version = value.get("version").and_then(serde_json::Value::as_u64);
    match version {
        None => Err(damaged("it states no version")),
        Some(1) => serde_json::from_value(value).map_err(damaged),
        Some(newer) if newer > VERSION => Err(format!(
            "The stored session is of version {newer}; this Barform reads up to version \
             {VERSION}. {KEPT} Install a newer Barform to load it."
        )),
        Some(other) => Err(damaged(format_args!("there is no version {other}"))),
    }
}
