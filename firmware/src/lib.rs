//! The Gunline dash: a pure function from stamped inputs to decisions.
//!
//! Nothing here reads a clock, a pin or a file. Whoever owns a dash feeds it inputs stamped with the board's
//! own microseconds and carries out what it decides; the board, the simulator and the officials' replay all
//! run this same code and must decide the same, bit for bit.
//!
//! Arrows point down only: [`units`] know nobody; the rooms know units and each other's plain types; the
//! composition knows the rooms.

#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]

pub mod gnss;
pub mod input;
pub mod output;
pub mod units;
pub mod view;
