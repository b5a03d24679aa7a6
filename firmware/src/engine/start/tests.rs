//! Starts played against the engine room: dated scripts, an engine of a few lines, and rules for any signal.

mod bench;
mod heat;
mod properties;
mod scripts;
