//! The board's parts: chips behind `embedded-hal` traits, and what drives lamps and the beeper.
//!
//! Two kinds of file. A driver (`panel`, `max31855`, `max31856`, `nor`) owns a bus and speaks one chip's
//! language; one call is one short piece of work, and an error says what failed. The others own nothing:
//! stamped facts in, what a pin should do out, and `next_wake` says when that changes by itself. None of them
//! reads a clock.
//!
//! What a thermocouple's registers mean stands in [`crate::engine::thermocouple`]; here they are fetched.
//!
//! This room knows units, inputs, outputs and views. The dash does not know it.

pub mod brightness;
pub mod lamps;
pub mod lookout;
pub mod max31855;
pub mod max31856;
pub mod nor;
pub mod panel;
pub mod pulses;
pub mod sounder;
