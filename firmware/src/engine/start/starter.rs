//! The starter's duty cycle: so long on, so long off, so many times, then a long rest.
//!
//! A starter motor is built for short work. Each time it is switched on counts, however short; a change from the
//! lower to the higher voltage may interrupt it for a moment and is one time.
//!
//! This file knows the units and the settings. On and off flow in.

use super::settings::StartSettings;
use crate::units::{Instant, Span};
use crate::view::StarterView;

/// Off for less than this is the change from one voltage to the other (common practice, no source).
const CHANGEOVER: Span = Span::from_secs(2);

/// What the starter has done.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Starter {
    /// Since when it has been on, changeovers counted in; kept while it rests.
    on: Option<Instant>,
    /// Since when it has been off.
    off: Option<Instant>,
    /// Times on since the last long rest.
    spent: u8,
    too_soon: bool,
}

impl Starter {
    /// The starter is on, or off.
    pub(super) fn see(&mut self, at: Instant, on: bool, settings: &StartSettings) {
        match (on, self.on, self.off) {
            (true, None, _) => self.engage(at, Span::MAX, settings),
            (true, Some(_), Some(off)) if at.since(off) < CHANGEOVER => self.off = None,
            (true, Some(_), Some(off)) => self.engage(at, at.since(off), settings),
            (false, Some(_), None) => self.off = Some(at),
            _ => {}
        }
    }

    fn engage(&mut self, at: Instant, rested: Span, settings: &StartSettings) {
        if rested >= settings.starter_rest {
            self.spent = 0;
        }
        self.too_soon = rested < self.needs(settings);
        self.spent = self.spent.saturating_add(1).min(settings.starter_cycles);
        (self.on, self.off) = (Some(at), None);
    }

    /// The rest that it needs before it may be on again.
    fn needs(&self, settings: &StartSettings) -> Span {
        match self.spent {
            0 => Span::ZERO,
            spent if spent < settings.starter_cycles => settings.starter_off,
            _ => settings.starter_rest,
        }
    }

    fn on_since(&self) -> Option<Instant> {
        self.on.filter(|_| self.off.is_none())
    }

    /// True when it has been on for longer than allowed.
    pub(super) fn is_long(&self, at: Instant, settings: &StartSettings) -> bool {
        self.on_since().is_some_and(|on| at.since(on) > settings.starter_on)
    }

    /// True while it is on and had not rested enough before.
    pub(super) fn is_too_soon(&self) -> bool {
        self.too_soon && self.on_since().is_some()
    }

    /// When time alone makes it too long.
    pub(super) fn due(&self, settings: &StartSettings) -> Option<Instant> {
        self.on_since().map(|on| on.plus(settings.starter_on).plus(Span::from_micros(1)))
    }

    /// What the driver may still ask of it.
    pub(super) fn view(&self, at: Instant, settings: &StartSettings) -> StarterView {
        match (self.on_since(), self.off) {
            (Some(on), _) => StarterView::On { left: (settings.starter_on - at.since(on)).max(Span::ZERO) },
            (None, Some(off)) if at.since(off) < self.needs(settings) => {
                StarterView::Rests { left: self.needs(settings) - at.since(off) }
            }
            _ => StarterView::Free,
        }
    }
}
