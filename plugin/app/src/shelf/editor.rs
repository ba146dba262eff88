//! How a user likes the editor, whatever session is open: what a new instance
//! starts with. A session keeps the theme and scale of its own window.

use super::error::ShelfError;
use super::memo::Memo;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use std::ops::RangeInclusive;
use std::path::PathBuf;

/// Smallest and largest scale of the editor, in percent.
pub const SCALE_PERCENT: RangeInclusive<u16> = 75..=250;

/// Largest latency offset either way, in milliseconds: the slowest wireless
/// headphones in use stay below half of it.
pub const MAX_LATENCY_MS: f64 = 1_000.0;

/// Dark or light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Theme {
    /// Light on dark, for a stage or a control room.
    #[default]
    Dark,
    /// Dark on light, for a classroom.
    Light,
    /// As the system is; dark where a window is not told how that is.
    System,
}

/// How a user likes the editor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Prefs {
    /// Dark or light.
    pub theme: Theme,
    /// Scale of the editor in percent, in [`SCALE_PERCENT`].
    #[serde(deserialize_with = "scale")]
    pub scale_percent: u16,
    /// Whether things appear at once instead of moving.
    pub reduced_motion: bool,
    /// How much later a stroke played in arrives than it was meant, in
    /// milliseconds: the way of the sound to the player's ear and of the stroke
    /// back. Negative if it arrives earlier. At most [`MAX_LATENCY_MS`] either way.
    #[serde(deserialize_with = "latency")]
    pub latency_offset_ms: f64,
}

impl Default for Prefs {
    fn default() -> Self {
        Prefs {
            theme: Theme::default(),
            scale_percent: 100,
            reduced_motion: false,
            latency_offset_ms: 0.0,
        }
    }
}

impl Prefs {
    /// Reads them from a file; the default where there is none.
    ///
    /// # Errors
    /// If the file is there but cannot be read, says something out of range or
    /// is of a newer version.
    pub fn load(path: impl Into<PathBuf>) -> Result<Prefs, ShelfError> {
        Memo::at(path).read()
    }

    /// Changes them as they then stand on the disk, so that what another window
    /// has changed stays; returns what is kept. A file that cannot be read is
    /// set aside as `editor.damaged` and a new one begun.
    ///
    /// # Errors
    /// A value out of range, a file of a newer version, or what the system
    /// refuses; the file is then as before.
    pub fn update(
        path: impl Into<PathBuf>,
        change: impl FnOnce(&mut Prefs),
    ) -> Result<Prefs, ShelfError> {
        Memo::at(path).update(|prefs: &mut Prefs| {
            change(prefs);
            prefs.check()
        })
    }

    fn check(&self) -> Result<(), ShelfError> {
        let fault = |what, read, allowed| ShelfError::OutOfRange {
            what,
            read: format!("is {read}"),
            allowed,
        };
        if !SCALE_PERCENT.contains(&self.scale_percent) {
            let read = format!("{} %", self.scale_percent);
            return Err(fault("the scale", read, scale_range()));
        }
        // A number that is none is in no range.
        if !is_latency(self.latency_offset_ms) {
            let read = format!("{} ms", self.latency_offset_ms);
            return Err(fault("the latency offset", read, latency_range()));
        }
        Ok(())
    }
}

fn scale_range() -> String {
    format!("{} to {} %", SCALE_PERCENT.start(), SCALE_PERCENT.end())
}

fn latency_range() -> String {
    format!("-{MAX_LATENCY_MS} to {MAX_LATENCY_MS} ms")
}

fn is_latency(ms: f64) -> bool {
    ms.abs() <= MAX_LATENCY_MS
}

fn scale<'de, D: Deserializer<'de>>(from: D) -> Result<u16, D::Error> {
    let percent = u16::deserialize(from)?;
    if SCALE_PERCENT.contains(&percent) {
        return Ok(percent);
    }
    let allowed = scale_range();
    Err(D::Error::custom(format!(
        "the scale is {percent} %; allowed is {allowed}"
    )))
}

fn latency<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    let ms = f64::deserialize(from)?;
    if is_latency(ms) {
        return Ok(ms);
    }
    let allowed = latency_range();
    Err(D::Error::custom(format!(
        "the latency offset is {ms} ms; allowed is {allowed}"
    )))
}
