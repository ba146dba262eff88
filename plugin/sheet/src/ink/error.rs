//! Why a drawing could not be painted.

use thiserror::Error;

/// Why a drawing could not be painted.
#[derive(Debug, Error, Clone, PartialEq)]
pub enum InkError {
    /// There is no such page; pages count from 1 here.
    #[error("there is no page {page}: the sheet has {pages}")]
    NoPage {
        /// The page asked for.
        page: usize,
        /// How many there are.
        pages: usize,
    },
    /// A page has no size, or one beyond what the format can say.
    #[error(
        "page {page} measures {width} by {height} mm; allowed is more than 0, up to {limit} mm"
    )]
    PageSize {
        /// The page, counted from 1.
        page: usize,
        /// Its width in millimetres.
        width: f32,
        /// Its height in millimetres.
        height: f32,
        /// The longest side in millimetres.
        limit: f32,
    },
    /// A resolution that is no number, or not above 0.
    #[error("{0} dots per inch is no resolution; it must be more than 0")]
    Resolution(f32),
    /// The picture would be too large to hold.
    #[error(
        "{width} by {height} dots are too many; allowed are {limit} in all: ask for fewer dots per inch"
    )]
    TooManyDots {
        /// Dots across.
        width: u64,
        /// Dots down.
        height: u64,
        /// The most dots allowed.
        limit: u64,
    },
    /// A library that writes the format refused.
    #[error("the {format} could not be written: {why}")]
    Write {
        /// Name of the format.
        format: &'static str,
        /// What the library says.
        why: String,
    },
}
