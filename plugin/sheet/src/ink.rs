//! Painting: a drawing becomes SVG, PDF or PNG.
//!
//! In: a [`Drawing`](super::Drawing), every shape with its place in millimetres.
//! Out: bytes of a file, and the measures that a layout needs beforehand: the
//! outline and box of each sign of music, the width and box of words.
//!
//! - `heads`, `flags`, `rests`, `marks`, `digits` draw the signs of music.
//! - `face` has the letters, `words` what may be written with them.
//! - `svg`, `png` and `pdf` write.
//!
//! Never here: a decision where something stands, a file system, colour.

mod digits;
mod error;
mod face;
mod flags;
mod heads;
mod marks;
mod outline;
mod paint;
mod pdf;
mod pen;
mod png;
mod rests;
mod svg;
mod words;

pub use error::InkError;
pub use face::{text_bounds, text_width};
pub use outline::{all, glyph_bounds, outline, path_bounds};
pub use paint::shape_bounds;
pub use pdf::{pdf, pdf_with_progress};
pub use png::{MAX_DOTS, Mask, mask, png};
pub use svg::svg;
pub use words::printable;
