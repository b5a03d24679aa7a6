//! After a start was given up: does the engine cool?
//!
//! Fuel is off and the starter keeps turning the engine, so that air carries the heat away. A temperature that does
//! not fall, or a shaft that stands while the engine is still hot, is worth a warning.
//!
//! This file knows the units and the settings.

use super::settings::StartSettings;
use crate::units::{Instant, MilliCelsius, Span};

/// EGT that has fallen by this much has fallen: more than noise and tolerance of a type K wire (3 degrees at 750,
/// IEC 60584-1) explain.
const FALLS_BY: MilliCelsius = MilliCelsius::from_milli(10_000);

/// A shaft that stands for less than this may be a signal that was late (common practice, no source).
const STANDS_FOR: Span = Span::from_secs(2);

/// How it cools.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Cooling {
    given_up: bool,
    /// When EGT last fell, and from what it must fall again.
    fell: Instant,
    from: Option<MilliCelsius>,
    /// Since when the shaft has stood.
    stands: Option<Instant>,
}

impl Cooling {
    /// The fire is out; `given_up` when that ended a start, and not a run.
    pub(super) const fn begin(at: Instant, level: Option<MilliCelsius>, given_up: bool) -> Self {
        Self { given_up, fell: at, from: level, stands: None }
    }

    /// True when a start was given up.
    pub(super) const fn is_given_up(&self) -> bool {
        self.given_up
    }

    /// Takes note of EGT and of whether the shaft stands.
    pub(super) fn see(&mut self, at: Instant, level: Option<MilliCelsius>, stands: bool) {
        match (level, self.from) {
            (Some(level), Some(from)) if level <= from - FALLS_BY => {
                (self.fell, self.from) = (at, Some(level))
            }
            (Some(level), None) => (self.fell, self.from) = (at, Some(level)),
            _ => {}
        }
        self.stands = if stands { self.stands.or(Some(at)) } else { None };
    }

    /// True when the engine is hot and does not cool.
    pub(super) fn fails(&self, at: Instant, level: Option<MilliCelsius>, settings: &StartSettings) -> bool {
        let hot = level.is_some_and(|level| level >= settings.cool_below);
        let stands = self.stands.is_some_and(|since| at.since(since) >= STANDS_FOR);
        self.given_up && hot && (stands || at.since(self.fell) >= settings.cooling_within)
    }

    /// When an EGT that does not fall has failed to.
    pub(super) fn falls_by(&self, settings: &StartSettings) -> Option<Instant> {
        self.given_up.then(|| self.fell.plus(settings.cooling_within))
    }

    /// When a shaft that stands has stood for too long.
    pub(super) fn stands_by(&self) -> Option<Instant> {
        self.stands.filter(|_| self.given_up).map(|since| since.plus(STANDS_FOR))
    }
}
