//! A score compiled for playing: flat arrays in order of time.
//!
//! In: a checked [`Score`](crate::score::Score). Out: a [`Timeline`] whose lanes
//! (form, ostinatos, click, one per letter) hold every stroke in order, ready
//! for binary search; and look-ups for anyone who shows a position: which
//! place, bar, section, count. Times are exact rationals until the moment they
//! are stored as the nearest `f64`. Never here: tempo, samples, a clock. A
//! timeline never changes; an edit compiles a new one.

mod click;
mod compile;
mod exact;
mod lane;
mod place;

pub use click::ClickKind;
pub use compile::{CompileError, MAX_BARS};
pub use lane::{BOUNCES, Lane, LaneRole, MAX_LANES, Note, Track};
pub use place::{Bar, Place, SectionStart};

use crate::music::{Beats, Cell, Kit, Letter};

/// A compiled score. Immutable, cheap to share behind an `Arc`.
#[derive(Debug, Clone)]
pub struct Timeline {
    /// Title of the score.
    pub title: String,
    /// The score's own tempo in beats per minute.
    pub tempo: Beats,
    /// Length of one pass of the form.
    pub length: Beats,
    /// Beats before the first bar line.
    pub pickup: Beats,
    /// Bars in order; the first is the pickup bar if there is one, the last may
    /// be cut short by the end of the form.
    pub bars: Vec<Bar>,
    /// Sections in order.
    pub sections: Vec<SectionStart>,
    /// Cells in playing order.
    pub places: Vec<Place>,
    /// The distinct cells that [`Place::variant`] points to: on their final
    /// subdivision and voicing, at rate 1.
    pub variants: Vec<Cell>,
    /// All letters of the score in the order written; lane
    /// [`LaneRole::Letter`] number `i` plays letter `i`.
    pub letters: Vec<Letter>,
    /// Form, ostinatos, click, then one lane per letter.
    pub lanes: Vec<Lane>,
    /// The kit the notes were mapped with.
    pub kit: Kit,
}

impl Timeline {
    /// Length of one pass in beats, as the player uses it.
    pub fn length_beats(&self) -> f64 {
        self.length.to_f64()
    }

    /// Index of the place that sounds at `beats` from the start of the form,
    /// in O(log n); `None` outside of `0 .. length`.
    pub fn place_at(&self, beats: f64) -> Option<usize> {
        index_at(&self.places, beats, |p| p.start.to_f64()).filter(|_| beats < self.length_beats())
    }

    /// Index of the bar at `beats` from the start of the form, in O(log n).
    pub fn bar_at(&self, beats: f64) -> Option<usize> {
        index_at(&self.bars, beats, |b| b.start.to_f64()).filter(|_| beats < self.length_beats())
    }

    /// Index of the section at `beats` from the start of the form, in O(log n).
    pub fn section_at(&self, beats: f64) -> Option<usize> {
        index_at(&self.sections, beats, |s| s.start.to_f64())
            .filter(|_| beats < self.length_beats())
    }

    /// The cell that a place plays.
    pub fn cell_of(&self, place: &Place) -> &Cell {
        &self.variants[place.variant as usize]
    }

    /// The form's lane.
    pub fn form(&self) -> &Lane {
        &self.lanes[0]
    }

    /// The lane of a letter by its index in [`Timeline::letters`].
    pub fn letter_lane(&self, letter: usize) -> Option<usize> {
        self.lanes
            .iter()
            .position(|l| l.role == LaneRole::Letter(letter as u16))
    }
}

/// Last element that starts at or before `beats`.
fn index_at<T>(items: &[T], beats: f64, start: impl Fn(&T) -> f64) -> Option<usize> {
    items
        .partition_point(|item| start(item) <= beats)
        .checked_sub(1)
}
