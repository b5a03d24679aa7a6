//! Records judged: whole ones, altered ones, and ten whose verdict was worked out by hand.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test that fails panics")]

mod alterations;
mod cases;
mod command;
mod exercises;
mod story;
