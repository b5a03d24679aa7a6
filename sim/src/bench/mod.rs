//! Hardware in the loop: the heat that runs in virtual time is played to a real or emulated board in real time, and its
//! decisions are compared with the simulator's own as they come.
//!
//! [`script`] makes of a heat the inputs that the dash gets. [`host`] is the host's end of a board on the bench:
//! inputs go ahead of their time, what came of them comes back. [`compare`] lives the same inputs on a dash of this
//! machine, at the board's own moments, and holds the decisions against each other. [`verdict`] says what came of it.
//! [`command`] is what `gunline bench` runs. The protocol: docs/protocol.md; the rules of B in docs/timing-logic.md.

pub mod command;
pub mod compare;
pub mod host;
pub mod script;
pub mod verdict;
