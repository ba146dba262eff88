//! What repeats: cells, their letters, and the form they make, by least
//! description.

pub mod classes;
pub mod content;
pub mod parse;
pub mod search;
pub mod snap;

pub use classes::{Classes, classes};
pub use content::{Content, Costs, Difference, Mark};
pub use parse::{Entry, Step, Text};
pub use search::{Solution, search};
pub use snap::snap;
