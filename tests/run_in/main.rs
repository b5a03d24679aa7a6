//! The run-in against textbooks, a second planner and a statistics library.

mod monotone;
mod planner;
mod risk;
mod second_opinion;
