//! A sensor's last value, for as long as it may be believed.
//!
//! A value that nothing renews ages out: the driver sees no number rather than an old one. A sensor that was
//! never heard is not missed until there is a reason to expect it; then it has as long as any other.
//!
//! This file knows the units.

use crate::units::{Instant, Span};

/// A sensor's value and its age.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held<T> {
    standing: Standing<T>,
    lasts: Span,
}

#[derive(Clone, Copy, Debug)]
enum Standing<T> {
    /// Nothing has come, and nothing had to.
    Unheard,
    /// Nothing has come, but something should have since then.
    Expected { since: Instant },
    /// This came then.
    Fresh { value: T, since: Instant },
    /// What came is too old, or what was expected never came.
    Silent,
}

impl<T: Copy> Held<T> {
    /// A sensor not heard yet, whose values are good for less than `lasts`.
    pub(super) const fn new(lasts: Span) -> Self {
        Self { standing: Standing::Unheard, lasts }
    }

    /// There is a reason to expect this sensor from now on; does nothing if it was heard or expected before.
    pub(super) fn expect(&mut self, at: Instant) {
        if matches!(self.standing, Standing::Unheard) {
            self.standing = Standing::Expected { since: at };
        }
    }

    /// A value came.
    pub(super) fn take(&mut self, at: Instant, value: T) {
        self.standing = Standing::Fresh { value, since: at };
    }

    /// The value is not to be believed any more.
    pub(super) fn forget(&mut self) {
        self.standing = Standing::Silent;
    }

    /// Lets go of what is too old at `at`.
    pub(super) fn age(&mut self, at: Instant) {
        if self.is_silent(at) {
            self.standing = Standing::Silent;
        }
    }

    /// The value, if it may be believed at `at`.
    pub(super) fn value(&self, at: Instant) -> Option<T> {
        match self.standing {
            Standing::Fresh { value, .. } if !self.is_silent(at) => Some(value),
            _ => None,
        }
    }

    /// True when a value is missed at `at`.
    pub(super) fn is_silent(&self, at: Instant) -> bool {
        matches!(self.standing, Standing::Silent) || self.due().is_some_and(|due| at >= due)
    }

    /// When the sensor falls silent if nothing comes.
    pub(super) fn due(&self) -> Option<Instant> {
        match self.standing {
            Standing::Expected { since } | Standing::Fresh { since, .. } => Some(since.plus(self.lasts)),
            Standing::Unheard | Standing::Silent => None,
        }
    }
}
