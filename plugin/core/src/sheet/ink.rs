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
mod face;
mod flags;
mod heads;
mod marks;
mod outline;
mod pen;
mod rests;
mod words;

pub use face::{text_bounds, text_outline, text_width};
pub use outline::{Polyline, all, flatten, glyph_bounds, outline, path_bounds};
pub use words::printable;
