//! A kit from the user's own SoundFont 2 file, for audio made offline.
//!
//! In: the bytes of a `.sf2` file (SoundFont technical specification 2.04), a
//! preset, a sample rate and the notes that will be asked for. Out: each of
//! those notes as a finished one-shot ([`FontShots`]), and a [`FontMixer`] that
//! plays them on the exact frame.
//!
//! A file is checked before the synthesiser sees it: its chunks, its indices,
//! how much there is of everything. What the check may have missed is caught:
//! whatever a file holds, loading ends in a kit or in a [`FontError`].
//!
//! Never here: the audio thread of a host, the file's reverb and chorus (a kit
//! is mixed dry), musical time, a file system beyond reading the one file.

mod attack;
mod mixer;
mod riff;
mod shots;
mod zones;

pub use mixer::FontMixer;
pub use shots::{FontShots, MAX_SHOT_S};

use riff::Parts;
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;

/// Largest file that is read, bytes. Large drum libraries are some hundred
/// megabytes, and a file is held in memory twice while it is loaded.
pub const MAX_FONT_BYTES: u64 = 512 << 20;

/// The bank of percussion presets in a SoundFont file that follows General
/// MIDI (SoundFont 2.04, section 7.2).
pub const DRUM_BANK: u16 = 128;

/// Why a SoundFont cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum FontError {
    /// The system failed.
    #[error("the SoundFont cannot be read: {0}")]
    Read(#[from] io::Error),
    /// More than [`MAX_FONT_BYTES`].
    #[error("the SoundFont has more than {} MiB; use a smaller one", MAX_FONT_BYTES >> 20)]
    TooLarge,
    /// Not a SoundFont 2 file, or a broken one.
    #[error("not a valid SoundFont 2 file: {0}")]
    Damaged(String),
    /// Compressed samples.
    #[error("the SoundFont has compressed samples (SF3); save it as SF2")]
    Compressed,
    /// No preset that is asked for.
    #[error("the SoundFont has no {wanted}; it has {}", list(.presets))]
    NoPreset {
        /// What was looked for.
        wanted: String,
        /// What there is.
        presets: Vec<Preset>,
    },
    /// A sample rate the synthesiser does not do.
    #[error("no SoundFont at {0} Hz; sample rates from 16000 to 192000 Hz are allowed")]
    Rate(u32),
    /// The notes need more memory than is granted.
    #[error("the notes of this SoundFont need more than {0} MiB; use one with shorter samples")]
    TooMuch(usize),
}

/// A preset of a SoundFont.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Preset {
    /// Bank; 128 holds the drum kits.
    pub bank: u16,
    /// Program, from 0.
    pub program: u16,
    /// Its name in the file.
    pub name: String,
}

/// A loaded SoundFont.
pub struct SoundFont {
    font: Arc<rustysynth::SoundFont>,
    zones: zones::Zones,
    presets: Vec<Preset>,
}

impl std::fmt::Debug for SoundFont {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SoundFont")
            .field("presets", &self.presets)
            .finish_non_exhaustive()
    }
}

impl SoundFont {
    /// Reads a file.
    ///
    /// # Errors
    /// See [`FontError`].
    pub fn open(path: &Path) -> Result<SoundFont, FontError> {
        let file = File::open(path)?;
        // A folder opens, too, and fails only when read.
        let known = file.metadata()?.len();
        if known > MAX_FONT_BYTES {
            return Err(FontError::TooLarge);
        }
        let mut bytes = Vec::new();
        file.take(MAX_FONT_BYTES + 1).read_to_end(&mut bytes)?;
        SoundFont::read(&bytes)
    }

    /// Reads the bytes of a file.
    ///
    /// # Errors
    /// See [`FontError`].
    pub fn read(bytes: &[u8]) -> Result<SoundFont, FontError> {
        if bytes.len() as u64 > MAX_FONT_BYTES {
            return Err(FontError::TooLarge);
        }
        let parts = Parts::find(bytes)?;
        let zones = zones::Zones::read(&parts)?;
        let (head, tail) = parts.plain();
        let mut plain = Cursor::new(head)
            .chain(parts.samples)
            .chain(Cursor::new(tail));
        // The checks above are meant to leave it no reason to; a panic in the
        // library must not take the caller down all the same.
        let loaded = catch_unwind(AssertUnwindSafe(|| rustysynth::SoundFont::new(&mut plain)));
        let font = match loaded {
            Ok(Ok(font)) => font,
            Ok(Err(rustysynth::SoundFontError::UnsupportedSampleFormat)) => {
                return Err(FontError::Compressed);
            }
            Ok(Err(error)) => return Err(FontError::Damaged(error.to_string())),
            Err(_) => return Err(FontError::Damaged("it contradicts itself".to_owned())),
        };
        let mut presets: Vec<Preset> = font
            .get_presets()
            .iter()
            .map(|p| Preset {
                bank: u16::try_from(p.get_bank_number()).unwrap_or(u16::MAX),
                program: u16::try_from(p.get_patch_number()).unwrap_or(u16::MAX),
                name: p.get_name().trim().to_owned(),
            })
            .collect();
        presets.sort();
        Ok(SoundFont {
            font: Arc::new(font),
            zones,
            presets,
        })
    }

    /// Its presets by bank and program.
    pub fn presets(&self) -> &[Preset] {
        &self.presets
    }

    /// The preset that plays the drums: the one asked for (bank and program);
    /// else the first of the percussion bank 128; else the only one there is.
    ///
    /// # Errors
    /// [`FontError::NoPreset`].
    pub fn drums(&self, wanted: Option<(u16, u16)>) -> Result<&Preset, FontError> {
        let missing = |wanted: String| FontError::NoPreset {
            wanted,
            presets: self.presets.clone(),
        };
        if let Some((bank, program)) = wanted {
            let is = |p: &&Preset| (p.bank, p.program) == (bank, program);
            let found = self.presets.iter().find(is);
            return found.ok_or_else(|| missing(format!("preset {bank}:{program}")));
        }
        if let Some(drums) = self.presets.iter().find(|p| p.bank == DRUM_BANK) {
            return Ok(drums);
        }
        match self.presets.as_slice() {
            [only] => Ok(only),
            _ => Err(missing("percussion preset (bank 128)".to_owned())),
        }
    }
}

/// The first few presets, for a message.
fn list(presets: &[Preset]) -> String {
    const SHOWN: usize = 8;
    let named = |p: &Preset| format!("{}:{} {}", p.bank, p.program, p.name);
    let mut all: Vec<String> = presets.iter().take(SHOWN).map(named).collect();
    if presets.len() > SHOWN {
        all.push(format!("{} more", presets.len() - SHOWN));
    }
    all.join(", ")
}
