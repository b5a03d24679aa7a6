//! The proof of the timing logic: every reachable state against every written rule.
//!
//! [`stage`] puts a real dash beside a [`book`] that knows the rules alone; [`moments`] says when something may happen;
//! [`search`] goes through all that can be reached, breadth first, until nothing new is left. A difference is a rule
//! broken, and the way there becomes a heat file ([`counter`]) that `gunline run` plays.
//!
//! What is abstracted is said in `docs/proof.md`: the moments are the two sides of each boundary, the crystal is
//! perfect, the receiver exact.

pub mod book;
pub mod command;
pub mod counter;
pub mod moments;
pub mod search;
pub mod stage;

#[cfg(test)]
mod tests;
