//! The Gunline simulator.
#![forbid(unsafe_code)]
#![deny(missing_docs)]
pub mod world;
