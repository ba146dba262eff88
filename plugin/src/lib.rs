//! Plugin shell.
