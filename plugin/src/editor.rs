//! The window; a first stand-in without one.

/// No window yet.
pub type BarformEditor = ();
