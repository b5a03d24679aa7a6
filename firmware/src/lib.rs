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

#[cfg(test)]
extern crate std;

pub mod alerts;
pub mod angle;
pub mod bench;
pub mod calibration;
mod check_sum;
pub mod course;
pub mod crossing;
pub mod dash;
pub mod engine;
pub mod floor;
pub mod gnss;
pub mod gun;
pub mod input;
pub mod io;
pub mod journal;
pub mod laps;
pub mod mutant;
pub mod output;
pub mod resume;
pub mod run_in;
pub mod screen;
pub mod settings;
pub mod shelf;
pub mod survey;
pub mod talk;
pub mod timebase;
pub mod units;
pub mod view;
