//! What repeats: cells, their letters, and the form they make, by least
//! description.

pub mod classes;
pub mod content;
pub mod parse;
pub mod recut;
pub mod search;
pub mod snap;

pub use classes::{Classes, Known, classes, read_alone};
pub use content::{Content, Costs, Difference, Mark};
pub use parse::{Entry, Step, Text};
pub use recut::recut;
pub use search::{Solution, search};
pub use snap::{fits, snap};
