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
use crate::units::{Instant, MilliCelsius, Span, mul_div};
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

/// So many reads must say that the limit is near, one that does not taking one away; and the fire must be so old, for
/// the first surge gathers pace in every start (tried on an invented engine).
const NEAR_READS: u8 = 6;
const SURGE_OVER: Span = Span::from_secs(3);

/// So many reads in a row for each of the quick ways: a single wild read makes none.
const QUICK_READS: u8 = 2;

/// So far above a good start's peak no noise and no tolerance of a wire make it (IEC 60584-1: 3 degrees at 750).
const ABOVE_BY: MilliCelsius = MilliCelsius::from_milli(5_000);

/// Fire against air. What EGT will be so far ahead ...
const AHEAD: Span = Span::from_millis(800);
/// ... may be this far from the limit at the N1 at which fuel may come, more for each percent above that, and for each
/// percent that N1 gains a second: air cools. All tried on an invented engine, 0.1 degrees.
const AT_FUEL_DECI: i64 = -1_150;
const EACH_PERCENT_DECI: i64 = 240;
const EACH_PERCENT_A_SECOND_DECI: i64 = 300;

/// N1 is kept at so many reads: half a second at ten a second.
pub(super) const SHAFTS: usize = 6;

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
        let burnt = self.fire.is_some_and(|fire| at.since(fire) >= SURGE_OVER);
        let near = burnt && until.is_some_and(|until| until <= settings.start.hot_ahead);
        let more = self.near.saturating_add(1).min(NEAR_READS);
        self.near = if near { more } else { self.near.saturating_sub(1) };
        let counted = |count: u8, holds: bool| if holds { count.saturating_add(1) } else { 0 };
        let (level, peak) = (self.rise.level(), settings.start.good_peak.min(limit));
        // Half of the way from a good start's peak to the limit.
        let half = MilliCelsius::from_milli((peak.as_milli() + limit.as_milli()) / 2);
        let soon = self.rise.soon(settings.start.probe_lag);
        self.close = counted(self.close, soon.is_some_and(|soon| soon > half));
        let rises = self.rise.before().zip(level).is_some_and(|(before, level)| level > before);
        self.above = counted(self.above, rises && level.is_some_and(|level| level > peak + ABOVE_BY));
        self.shaft.rotate_left(1);
        if let Some(last) = self.shaft.last_mut() {
            *last = self.n1;
        }
        self.big = counted(self.big, self.too_big(limit, settings));
        let quick = self.close.max(self.above).max(self.big) >= QUICK_READS;
        let over = level.is_some_and(|level| level > limit);
        if self.may_get_hot() && (self.near >= NEAR_READS || over || quick) {
            self.hot = Some(at);
        }
    }

    /// Will EGT soon be more than this much air allows?
    fn too_big(&self, limit: MilliCelsius, settings: &EngineSettings) -> bool {
        let (Some(first), Some(Some(last))) = (self.shaft.first().copied().flatten(), self.shaft.last())
        else {
            return false;
        };
        let above = i64::from((*last - settings.start.fuel_from).as_centi());
        let gained = i64::from((*last - first).as_centi().max(0));
        let Some((ahead, span_ms)) = self.rise.ahead(AHEAD) else { return false };
        let a_second = mul_div(gained, 1_000, span_ms.max(1));
        let more = EACH_PERCENT_DECI
            .saturating_mul(above)
            .saturating_add(EACH_PERCENT_A_SECOND_DECI.saturating_mul(a_second));
        ahead > i64::from(limit.as_milli() / 100) + AT_FUEL_DECI + more / 100
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

    /// Below self-sustaining; or below idle as long as its starter is known to be on: an engine that starter and fire
    /// together bring no further would not stay there without it.
    fn hangs(&self, seen: &Seen, settings: &EngineSettings) -> bool {
        let burns = seen.level.is_some_and(|level| level >= self.burns_from(settings));
        let still = self.gained.is_some_and(|(at, _)| seen.at.since(at) >= settings.start.hung_after);
        let helped = seen.starter == Some(true) && seen.n1.is_some_and(|n1| n1 < settings.start.idle_from);
        may_hang(self.step) && burns && still && (!seen.sustains || helped)
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
