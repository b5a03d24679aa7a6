//! The `gunline` command.
fn main() {}
