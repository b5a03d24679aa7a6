//! The dockside: what the switches of a cold engine do, and what a heat file has to say of it.
//!
//! All that practice knows of starting an engine stands here. The world's engine of today is simple: its starter's switch
//! starts it, and nothing stops it. One that obeys igniter, fuel and starter needs only this file to change: where it
//! reads its switches from the presses of the heat, both functions become empty.
//!
//! Switches in; the engine of a live world is told, and lines of a heat file come out.

use std::fmt::Write as _;

use firmware::input::Line;
use firmware::units::Span;

use crate::world::live::Live;
use crate::world::maths::seconds;

/// So late after zero no heat is followed: a starter that is never pressed.
const NEVER_S: f64 = 3_600.0;

/// What was done at the dock so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dock {
    /// When the starter was pressed.
    starter: Option<Span>,
}

impl Dock {
    /// A switch was thrown.
    pub fn thrown(&mut self, live: &mut Live, line: Line, on: bool) {
        if on && self.starter.is_none() && matches!(line, Line::StarterLow | Line::StarterHigh) {
            self.starter = Some(live.press_starter());
        }
    }

    /// The engine's keys of a heat file; `hot_c` is the peak of a hot start.
    #[must_use]
    pub fn keys(&self, hot_c: Option<u32>) -> String {
        let mut text = format!("\n[engine]\nstarter_at_s = {:.3}\n", self.starter.map_or(NEVER_S, seconds));
        if let Some(peak) = hot_c {
            let _ = writeln!(text, "start_peak_c = {peak}");
        }
        text
    }
}
