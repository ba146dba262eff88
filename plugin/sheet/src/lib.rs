//! The sheet: a score as a drummer reads it.
//!
//! In: a [`Score`](barform_score::score::Score) and its
//! [`Timeline`](barform_score::timeline::Timeline). Three steps, each its own folder:
//!
//! - `notate` spells exact times as notes, rests, tuplets and beams: [`Written`].
//! - `engrave` gives all of it a place on paper: [`Drawing`].
//! - `handout` puts a sheet and a practice page for each letter into one drawing.
//! - `ink` turns a drawing into SVG, PDF or PNG; the editor paints the same one.
//!
//! Never here: a file system, a terminal, sound. What is not in [`Written`] is
//! not music; what is not in [`Drawing`] is not on the page.

mod drawing;
pub mod engrave;
pub mod handout;
pub mod ink;
pub mod notate;
mod staff;
mod written;

pub use drawing::{
    Anchor, Bounds, Drawing, Face, Glyph, Item, Page, Path, PathStep, Point, Role, Shape, Spot,
    System,
};
pub use staff::{Head, StaffStep, head, stem_up, step};
pub use written::{
    Beam, Element, Kind, Mark, Ratio, Repeat, Source, Tuplet, Under, Value, VoiceLine, Written,
    WrittenBar, WrittenStroke,
};
