//! What is wrong with a start, and what to do about it.
//!
//! A hot start is said before its limit: when the gas will be there soon at the rate at which it heats. The other
//! warnings are times and thresholds. None is raised or cleared more than once a second.
//!
//! This file knows the units, the steps and the settings. What is known flows in, conditions flow out.

use super::sequence::{Seen, may_hang};
use super::{START_CONDITIONS, Start};
use crate::engine::EngineSettings;
use crate::output::{AlertId, StartStep};
use crate::units::{Instant, MilliCelsius, Span};
use crate::view::StartAct;

/// The alerts of a start, the gravest first.
pub(super) const IDS: [AlertId; START_CONDITIONS] = [
    AlertId::HotStart,
    AlertId::FlameOut,
    AlertId::HungStart,
    AlertId::NoLightOff,
    AlertId::FuelTooSoon,
    AlertId::NotCooling,
    AlertId::StarterLong,
    AlertId::StarterRest,
];

/// So many reads must say that the limit is near, one that does not taking one away: light-off itself is steep in
/// every start, for a moment. Tried on an invented engine: with eight, one good start in forty is warned.
const NEAR_READS: u8 = 10;

/// So many reads in a row must say that EGT is about to be over the limit.
const CLOSE_READS: u8 = 3;

/// A hot start is over when the limit was not near for so long (common practice, no source).
pub(super) const HOT_LASTS: Span = Span::from_secs(3);

/// General practice; the engine maker's manual rules.
pub(super) const fn act(id: AlertId) -> StartAct {
    match id {
        AlertId::NotCooling => StartAct::KeepCranking,
        AlertId::StarterLong => StartAct::StarterOff,
        AlertId::StarterRest => StartAct::LetStarterRest,
        AlertId::FuelTooSoon | AlertId::FlameOut => StartAct::FuelOff,
        _ => StartAct::FuelOffKeepCranking,
    }
}

impl Start {
    /// True while fire may heat the engine beyond its starting limit.
    pub(super) const fn may_get_hot(&self) -> bool {
        may_hang(self.step)
            || matches!(self.step, StartStep::StarterOff | StartStep::PowerAway | StartStep::Cooling)
    }

    /// After a read: how near is the starting limit? It is the table's last row, which allows the least time.
    pub(super) fn look_ahead(&mut self, at: Instant, settings: &EngineSettings) {
        let Some(limit) = settings.egt_starting.rows.last().map(|row| row.threshold) else { return };
        let until = self.rise.until(at, limit, settings.start.probe_lag);
        self.reaches = until.map(|until| at.plus(until));
        let near = until.is_some_and(|until| until <= settings.start.hot_ahead);
        let more = self.near.saturating_add(1).min(NEAR_READS);
        self.near = if near { more } else { self.near.saturating_sub(1) };
        let close = self.rise.soon(settings.start.probe_lag).is_some_and(|soon| soon > limit);
        self.close = if close { self.close.saturating_add(1) } else { 0 };
        let over = self.rise.level().is_some_and(|level| level > limit);
        if self.may_get_hot() && (self.near >= NEAR_READS || over || self.close >= CLOSE_READS) {
            self.hot = Some(at);
        }
    }

    /// Holds what is known against every rule.
    pub(super) fn warn(&mut self, seen: &Seen, settings: &EngineSettings) {
        let start = &settings.start;
        for (id, place) in IDS.into_iter().zip(0..) {
            let holds = match id {
                AlertId::HotStart => self.hot.is_some_and(|hot| seen.at.since(hot) < HOT_LASTS),
                AlertId::FlameOut => self.flame_is_out(seen, settings),
                AlertId::HungStart => self.hangs(seen, settings),
                AlertId::NoLightOff => self.does_not_light(seen, start.light_off_within),
                AlertId::FuelTooSoon => self.fuel_is_too_soon(seen, settings),
                AlertId::NotCooling => {
                    self.step == StartStep::Cooling && self.cooling.fails(seen.at, seen.level, start)
                }
                AlertId::StarterLong => self.starter.is_long(seen.at, start),
                _ => self.starter.is_too_soon(),
            };
            if let Some(said) = self.said.get_mut(place) {
                said.see(seen.at, holds);
            }
        }
    }

    /// Out while it gave power, or had a moment ago: EGT is that of no fire, and N1 falls or is below
    /// self-sustaining. Lifting leaves a fire; a probe that fails leaves N1 as it is, and a broken one has no EGT.
    fn flame_is_out(&self, seen: &Seen, settings: &EngineSettings) -> bool {
        let ran = match self.step {
            StartStep::Ready | StartStep::Running => true,
            StartStep::Cooling => !self.cooling.is_given_up(),
            _ => false,
        };
        let power = self.power.is_some_and(|last| seen.at.since(last) < settings.start.shut_down_after);
        let cold = seen.level.is_some_and(|level| level < settings.lit_above);
        let sinks = seen.n1.is_some_and(|n1| self.falls(seen.at) || n1 < settings.self_sustaining);
        ran && power && cold && sinks
    }

    fn hangs(&self, seen: &Seen, settings: &EngineSettings) -> bool {
        let burns = seen.level.is_some_and(|level| level >= self.burns_from(settings));
        let still = self.gained.is_some_and(|(at, _)| seen.at.since(at) >= settings.start.hung_after);
        may_hang(self.step) && burns && still && !seen.sustains
    }

    /// A temperature that only fire explains in this start.
    fn burns_from(&self, settings: &EngineSettings) -> MilliCelsius {
        self.coolest.map_or(settings.lit_above, |coolest| coolest + settings.start.light_off_rise)
    }

    fn does_not_light(&self, seen: &Seen, within: Span) -> bool {
        let due = self.fuel.is_some_and(|fuel| seen.at.since(fuel) >= within);
        self.step == StartStep::FuelOn && due && seen.level.is_some()
    }

    /// By its switch, or by a light-off. An N1 that is not known is not enough where the switch tells of fuel.
    fn fuel_is_too_soon(&self, seen: &Seen, settings: &EngineSettings) -> bool {
        let slow = |unknown: bool| seen.n1.map_or(unknown, |n1| n1 < settings.start.fuel_from);
        match self.step {
            StartStep::AtRest | StartStep::Igniters | StartStep::Cranking | StartStep::FuelOn => {
                seen.fuel == Some(true) && slow(true)
            }
            StartStep::Lit => seen.fuel != Some(false) && slow(false),
            _ => false,
        }
    }
}
