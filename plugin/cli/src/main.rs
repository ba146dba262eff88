//! The barform command.
fn main() {}
