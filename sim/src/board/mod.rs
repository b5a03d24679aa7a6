//! Talk with a board over its USB cable: who it is, settings in, journal out, a schedule.
//!
//! [`port`] finds and opens the board's serial port. [`conversation`] asks one thing at a time over it and sends
//! again what goes unanswered. [`journal`] fetches a journal and goes on after a pulled cable. [`words`] says it
//! to people. [`command`] is what `gunline board` runs, `asked` its shorter questions.
//!
//! Frames and messages are the board's own code, `firmware::talk`; docs/protocol.md has every byte.

mod asked;
pub mod command;
pub mod conversation;
pub mod journal;
pub mod port;
mod said;
mod trouble;
pub mod words;

pub use trouble::Trouble;
