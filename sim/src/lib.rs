//! The Gunline simulator: heats in virtual time, their logs, and what is made of them.
//!
//! [`scenario`] reads a heat file. [`play`] plays it: [`world`] or [`recording`] make events of it in true time,
//! [`sensors`] puts them in order, [`rig`] feeds them to the dash, and a [`log`] is left; [`stimulus`] writes the
//! same events down for a board's pins. [`timeline`], [`json`], [`wave`] and [`report`] are made
//! from the log; [`replay`] plays a journal back into a fresh dash; [`judge`] is an official's
//! check of one, [`clock_check`] holds a board's clock against a reference; [`fixes`] shows the decoder at work; [`board`]
//! talks with a real dash, and [`pack`] makes settings ready for it; [`dock`] draws starts of the engine by the thousand,
//! [`practice`] lets a person drive; [`export`] writes a record for maps and tables, [`heats`] gives the heats that ship,
//! and [`manual`] what shells and `man` want to know.
//! [`survey`] turns marks into a course, and [`practice`] lets a person drive.
//! talks with a real dash, [`bench`](mod@bench) plays heats to one, and [`pack`] makes settings ready for it; [`dock`] draws starts of the engine by the thousand,
//! talks with a real dash, [`mod@bench`] plays heats to one, and [`pack`] makes settings ready for it; [`dock`] draws starts of the engine by the thousand,
//! and [`practice`] lets a person drive.

#![forbid(unsafe_code)]
#![deny(missing_docs)]

pub mod bench;
pub mod board;
pub mod calibrate;
pub mod clock_check;
pub mod dock;
pub mod export;
pub mod fixes;
pub mod heats;
#[cfg(test)]
mod invented;
pub mod json;
pub mod judge;
pub mod learned;
pub mod log;
pub mod manual;
pub mod outlet;
pub mod pack;
pub mod play;
pub mod practice;
pub mod prove;
pub mod recording;
pub mod replay;
pub mod report;
pub mod rig;
pub mod scenario;
pub mod sensors;
pub mod stimulus;
pub mod summary;
pub mod survey;
pub mod sweep;
pub mod timeline;
pub mod wave;
pub mod words;
pub mod world;
