//! Standalone.
fn main() {}
