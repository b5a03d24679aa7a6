//! A condition that changes at most once a second: what keeps a warning from chattering at its threshold.
//!
//! This file knows the units.

use crate::units::{Instant, Span};

/// A condition stays as it is for so long after a change (common practice, no source).
const STAYS: Span = Span::from_secs(1);

/// A condition as said, and as wanted.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Steady {
    changed: Instant,
    said: bool,
    wanted: bool,
}

impl Steady {
    /// The condition holds, or not.
    pub(super) fn see(&mut self, at: Instant, holds: bool) {
        self.wanted = holds;
        let rested = self.changed == Instant::BOOT || at.since(self.changed) >= STAYS;
        if self.wanted != self.said && rested {
            (self.said, self.changed) = (holds, at);
        }
    }

    /// Whether it is said to hold.
    pub(super) const fn holds(self) -> bool {
        self.said
    }

    /// When time alone changes what is said.
    pub(super) fn due(self) -> Option<Instant> {
        (self.wanted != self.said).then(|| self.changed.plus(STAYS))
    }
}
