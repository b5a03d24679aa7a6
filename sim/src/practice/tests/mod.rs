//! Practice as a whole: what is driven by hand is what its heat file replays.

mod dock;
mod history;
mod messages;
mod replays;
mod server;
