//! Whether the engine is, or was a moment ago, under power: only then must the power shaft turn.
//!
//! At the dock the gas generator idles and the power shaft may stand still; in a turn the driver lifts, and a pickup
//! that was silent before is no less broken for that. So power counts once it has lasted, and lingers.
//!
//! This file knows the units.

use crate::units::{CentiPercent, Instant, Span};

/// The N1 from which the power shaft surely turns (common practice, no source).
pub(super) const POWER_FROM: CentiPercent = CentiPercent::from_centi(7_500);

/// The shaft has so long to come up to speed with a boat that leaves the dock (common practice, no source).
const SETTLES: Span = Span::from_secs(5);

/// Lifting for a turn takes less than this (common practice, no source).
const LINGERS: Span = Span::from_secs(30);

/// Follows N1.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Power {
    began: Option<Instant>,
    last: Instant,
    seen: Instant,
}

impl Power {
    /// Takes note of N1, if it is known, at `at`.
    pub(super) fn see(&mut self, at: Instant, n1: Option<CentiPercent>) {
        self.seen = at;
        if n1.is_some_and(|n1| n1 >= POWER_FROM) {
            self.began.get_or_insert(at);
            self.last = at;
        } else if !self.has_lasted(self.last) || at.since(self.last) > LINGERS {
            self.began = None;
        }
    }

    /// True when the power shaft must turn.
    pub(super) fn is_on(&self, at: Instant) -> bool {
        self.has_lasted(at) && at.since(self.last) <= LINGERS
    }

    fn has_lasted(&self, at: Instant) -> bool {
        self.began.is_some_and(|began| at.since(began) >= SETTLES)
    }

    /// When time alone changes the answer.
    pub(super) fn due(&self) -> Option<Instant> {
        let began = self.began?;
        let ends = self.last.plus(LINGERS).plus(Span::from_micros(1));
        [began.plus(SETTLES), ends].into_iter().filter(|due| *due > self.seen).min()
    }
}
