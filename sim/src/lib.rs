//! The Gunline simulator.
#![forbid(unsafe_code)]
#![deny(missing_docs)]
pub mod world;
#[cfg(test)]
mod invented;
pub mod json;
pub mod log;
pub mod rig;
pub mod replay;
pub mod recording;
pub mod scenario;
pub mod summary;
pub mod timeline;
pub mod wave;
pub mod words;
