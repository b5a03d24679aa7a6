//! World.
pub mod maths;
pub mod draw;
pub mod course;
pub mod boat;
pub mod engine;
pub mod driver;
pub mod truth;
