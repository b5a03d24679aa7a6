//! One thermocouple over time: glitches are ridden out, faults are believed, old values are let go.
//!
//! A single bad read is a glitch: it shows nothing, and the last good value stays until it is too old. After
//! so many bad reads in a row the probe is faulty and has no value; it takes as many good reads in a row to
//! trust it again. That is what keeps a loose wire from raising and clearing its alert at every read.
//!
//! This file knows the units and what a frame decodes to.

use super::held::Held;
use super::thermocouple::{ProbeFault, Temperatures};
use crate::units::{Instant, MilliCelsius, Span};

/// One probe.
#[derive(Clone, Copy, Debug)]
pub(super) struct Probe {
    hot: Held<MilliCelsius>,
    faulty: bool,
    /// Reads in a row that speak against `faulty`.
    streak: u8,
    /// Reads in a row that change it.
    to_believe: u8,
    /// The chip's own temperature, as last read.
    cold: Option<MilliCelsius>,
}

impl Probe {
    /// A probe not heard yet.
    pub(super) const fn new(stale_after: Span, to_believe: u8) -> Self {
        Self { hot: Held::new(stale_after), faulty: false, streak: 0, to_believe, cold: None }
    }

    /// The probe was read.
    pub(super) fn read(&mut self, at: Instant, result: Result<Temperatures, ProbeFault>) {
        self.streak = if result.is_err() == self.faulty { 0 } else { self.streak.saturating_add(1) };
        if self.streak >= self.to_believe {
            self.faulty = !self.faulty;
            self.streak = 0;
        }
        self.cold = result.ok().map(|temperatures| temperatures.cold);
        match result {
            _ if self.faulty => self.hot.forget(),
            Ok(temperatures) => self.hot.take(at, temperatures.hot),
            Err(_) => {}
        }
    }

    /// The engine turns: a probe not heard so far is missed from now on.
    pub(super) fn expect(&mut self, at: Instant) {
        self.hot.expect(at);
    }

    /// Lets go of a value that is too old at `at`.
    pub(super) fn age(&mut self, at: Instant) {
        self.hot.age(at);
    }

    /// The exhaust's temperature, if it may be believed at `at`.
    pub(super) fn hot(&self, at: Instant) -> Option<MilliCelsius> {
        self.hot.value(at)
    }

    /// The chip's own temperature, if the last reading told it.
    pub(super) const fn cold(&self) -> Option<MilliCelsius> {
        self.cold
    }

    /// True when the probe or its chip is broken.
    pub(super) const fn is_faulty(&self) -> bool {
        self.faulty
    }

    /// True when nothing fresh has come and no fault explains it.
    pub(super) fn is_stale(&self, at: Instant) -> bool {
        !self.faulty && self.hot.is_silent(at)
    }

    /// When the value is too old if nothing comes.
    pub(super) fn due(&self) -> Option<Instant> {
        self.hot.due()
    }
}
