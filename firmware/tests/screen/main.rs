//! The screen, seen from outside: pictures of every situation, and what holds for any view at all.
//!
//! The pictures are text files in `tests/screens`, two rows of pixels a line, for a person to read in a diff.
//! After a change that is meant, run the tests once with `GUNLINE_REDRAW=1`: they rewrite the files, and the
//! diff shows what moved.

// A test may panic: that is how it says no.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

mod art;
mod properties;
mod selftest;
mod situations;
mod views;
