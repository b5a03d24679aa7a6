//! `gunline judge` as its users call it.
