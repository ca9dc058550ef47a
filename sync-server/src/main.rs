//! The `scupper` command.
fn main() {}
