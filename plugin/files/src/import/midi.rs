//! Standard MIDI Files (MIDI Manufacturers Association, *Standard MIDI Files
//! 1.0*), types 0 and 1, read into a score.
//!
//! In: bytes and [`Options`]. Out: a checked score of lettered cells, remarks,
//! and a [`Report`] in figures. Never here: a file system; a note that is passed
//! over in silence; a panic on any input.
//!
//! Of foreign files: the keys are read by the kit that knows most of them, every
//! beat gets the grid that its strokes contradict least ([`fit`]), bars are cut
//! into cells, like cells share a letter, feet and hands are told apart by the
//! drum, and the hands by [`craft::sticking`](barform_craft::sticking).
//!
//! Files that this program wrote come back as the form they were: letters,
//! sections, pickup, ostinatos, and the same notes on the same ticks when written
//! again. What such a file does not hold is said in the remarks: which hand
//! played, and how a letter was moved to another subdivision, voicing or speed.

mod bars;
mod cells;
mod chunks;
mod clock;
mod cut;
mod exact;
mod file;
pub mod fit;
mod form;
mod keys;
mod ostinato;
mod reading;
mod slots;
mod strokes;

pub use file::{MAX_BYTES, MAX_MARKS, MAX_NOTES};
pub(crate) use keys::percussion_voice;
pub use keys::{FIRST_PERCUSSION_KEY, KitFit, PERCUSSION_NAMES, percussion_name};

use super::{ImportError, Imported};
use barform_score::music::{Beats, Channel, Kit};

/// Shortest cell that can be asked for, in beats: a sixteenth.
const SHORTEST_CELL: (i64, i64) = (1, 4);

/// Longest cell that can be asked for, in beats. Its finest grid still fits a
/// cell.
pub const LONGEST_CELL: i64 = 32;

/// A kit with the name it is told by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedKit {
    /// Its name.
    pub name: String,
    /// Which keys play what.
    pub kit: Kit,
}

/// Which channels are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Channels {
    /// Those of the kit: channel 10 for General MIDI.
    #[default]
    OfKit,
    /// All, whatever the kit says.
    Any,
    /// This one, whatever the kit says.
    Only(Channel),
}

/// How a file is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// The kits to choose from, at least one; of equally good ones the first is
    /// taken.
    pub kits: Vec<NamedKit>,
    /// Which channels are read.
    pub channels: Channels,
    /// Length of a cell in quarter-note beats, `1/4 ..= 32`; `None` for one
    /// beat, in compound meters one pulse. Cells begin anew at every bar line.
    pub cell: Option<Beats>,
    /// Whether the letters in the markers of a file that this program wrote are
    /// kept; otherwise it is read as any other.
    pub own_letters: bool,
}

impl Default for Options {
    /// General MIDI on channel 10, a beat a cell.
    fn default() -> Self {
        Options {
            kits: vec![NamedKit {
                name: "General MIDI Level 1".into(),
                kit: Kit::general_midi(),
            }],
            channels: Channels::OfKit,
            cell: None,
            own_letters: true,
        }
    }
}

/// What was found, in figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// How well each kit of the options fits, in their order.
    pub kits: Vec<KitFit>,
    /// The one that was taken, as an index.
    pub kit: usize,
    /// Strokes in the form, grace notes and bounces not counted.
    pub strokes: usize,
    /// Largest distance of a stroke from its slot, in microseconds at the first
    /// tempo.
    pub largest_error_us: u64,
    /// Whether the file was read as one that this program wrote.
    pub own: bool,
    /// Whole bars without a note ahead of the form, which are left out.
    pub empty_bars: u32,
}

impl Options {
    fn check(&self) -> Result<(), ImportError> {
        if self.kits.is_empty() {
            return Err(ImportError::Option("no kit to read the keys with".into()));
        }
        let shortest = Beats::new(SHORTEST_CELL.0, SHORTEST_CELL.1);
        let longest = Beats::whole(LONGEST_CELL);
        match self.cell {
            Some(cell) if cell < shortest || cell > longest || cell.denom() > 960 => {
                Err(ImportError::Option(format!(
                    "a cell of {cell} beats; allowed is {shortest} to {longest}, with a \
                     denominator of at most 960"
                )))
            }
            _ => Ok(()),
        }
    }
}

/// Reads a file.
///
/// # Errors
/// See [`ImportError`]; damage is told with its track and byte.
pub fn read(bytes: &[u8], options: &Options) -> Result<Imported, ImportError> {
    read_with_report(bytes, options).map(|(imported, _)| imported)
}

/// Reads a file, and tells what was found.
///
/// # Errors
/// As [`read`].
pub fn read_with_report(
    bytes: &[u8],
    options: &Options,
) -> Result<(Imported, Report), ImportError> {
    options.check()?;
    reading::read(bytes, options)
}
