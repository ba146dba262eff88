//! Rule sets: the embedded ones, and a user's settings file on top.

mod error;
pub(crate) mod layer;

pub use error::RuleError;
