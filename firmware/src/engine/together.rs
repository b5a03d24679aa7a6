//! What belongs together and does not: both shafts, two probes, a chip and its cockpit.
//!
//! No limit is held against anything here; each finding is a doubt, said once it has lasted. Only what can be
//! measured is claimed: of two probes that disagree neither is known to be right, and a probe alone is never called
//! aged.
//!
//! * Shafts: under power N2 lies in its band, or the propeller, the gearbox or a pickup is not what it was. A
//!   propeller that ventilates leaves the band too, so it is given time.
//! * Split: the hottest and the coldest sound probe are apart.
//! * Aged: while both stand still, one has read lower than its mate for a minute; or while both rise fast, one comes
//!   later than it should, beyond what it reads lower anyway.
//! * Cold junction: the chip's own temperature, which the thermocouple's is made with, is one that no cockpit has,
//!   or changes faster than a chip on a board can.
//!
//! This file knows the units and its settings. What is known in, doubts out.

use super::PROBES_MAX;
use super::probe::Probe;
use super::trend::Trend;
use super::watch::WatchSettings;
use crate::units::{CentiPercent, Instant, MilliCelsius, Span, mul_div};

/// How far back inside a value must come to end a doubt: percent for shafts, degrees for probes (common practice,
/// no source).
const SHAFT_BAND: CentiPercent = CentiPercent::from_centi(100);
const PROBE_BAND: MilliCelsius = MilliCelsius::from_milli(5_000);

/// A probe reads lower for so long before it is called aged.
const LOW_FOR: Span = Span::from_secs(60);

/// A probe comes late for so long.
const LATE_FOR: Span = Span::from_millis(800);

/// Below this slope a temperature stands still, above that it rises fast; 0.001 degrees a second.
const STILL: i64 = 2_000;
const FAST: i64 = 15_000;

/// A chip's own temperature is wrong for so long: three reads and more.
const COLD_FOR: Span = Span::from_millis(300);

/// One doubt: what speaks for it, and since when.
#[derive(Clone, Copy, Debug, Default)]
struct Doubt {
    since: Option<Instant>,
    lasts: bool,
}

impl Doubt {
    /// The evidence is there, or is not.
    fn see(&mut self, at: Instant, evidence: bool, needs: Span) {
        if evidence {
            let since = *self.since.get_or_insert(at);
            self.lasts |= at.since(since) >= needs;
        } else {
            *self = Self::default();
        }
    }

    fn due(&self, needs: Span) -> Option<Instant> {
        self.since.filter(|_| !self.lasts).map(|since| since.plus(needs))
    }
}

/// All doubts.
#[derive(Clone, Debug, Default)]
pub(super) struct Together {
    shafts: Doubt,
    split: Doubt,
    low: Doubt,
    late: Doubt,
    /// Once found, a late probe stays found: it is late only while it rises.
    is_late: bool,
    /// The lower one of two.
    lower: Option<usize>,
    /// How much lower it reads while both stand still.
    offset: MilliCelsius,
    slopes: [Trend; PROBES_MAX],
    colds: [Cold; PROBES_MAX],
}

/// One chip's own temperature.
#[derive(Clone, Copy, Debug, Default)]
struct Cold {
    trend: Trend,
    doubt: Doubt,
}

impl Together {
    /// Both shafts as they are known at `at`.
    pub(super) fn shafts(
        &mut self,
        at: Instant,
        (n1, n2): (Option<CentiPercent>, Option<CentiPercent>),
        settings: &WatchSettings,
    ) {
        let evidence = match (n1, n2) {
            (Some(n1), Some(n2)) => {
                let slack = if self.shafts.since.is_some() { SHAFT_BAND } else { CentiPercent::ZERO };
                let power = n1 >= settings.power_from - slack;
                power && (n2 < settings.n2_least + slack || n2 > settings.n2_most - slack)
            }
            // Without one of them nothing can be said, and what was said is over.
            _ => false,
        };
        self.shafts.see(at, evidence, settings.mismatch_for);
    }

    /// A probe was read.
    pub(super) fn read(&mut self, at: Instant, index: usize, probes: &[Probe], settings: &WatchSettings) {
        let Some(probe) = probes.get(index) else { return };
        if let (Some(trend), Some(hot)) = (self.slopes.get_mut(index), probe.hot(at)) {
            trend.see(at, Some(hot.as_milli()));
        }
        if let Some(cold) = self.colds.get_mut(index) {
            cold.see(at, probe.cold(), settings);
        }
        self.pair(at, probes, settings);
    }

    /// The hottest and the coldest sound probe.
    fn pair(&mut self, at: Instant, probes: &[Probe], settings: &WatchSettings) {
        let known = || probes.iter().enumerate().filter_map(|(n, probe)| Some((probe.hot(at)?, n)));
        let pair = (known().max(), known().min());
        let (Some((high, upper)), Some((low, lower))) = pair else { return };
        if upper == lower {
            return;
        }
        let apart = high - low;
        let slack = if self.split.since.is_some() { PROBE_BAND } else { MilliCelsius::ZERO };
        self.split.see(at, apart > settings.split - slack, settings.split_for);
        let slope = |n: usize| self.slopes.get(n).and_then(Trend::slope);
        let (Some(of_upper), Some(of_lower)) = (slope(upper), slope(lower)) else { return };
        if of_upper.abs() < STILL && of_lower.abs() < STILL {
            let slack = if self.low.since.is_some() { PROBE_BAND } else { MilliCelsius::ZERO };
            let is_low = apart > settings.aged_low - slack && self.lower.is_none_or(|it| it == lower);
            self.low.see(at, is_low, LOW_FOR);
            (self.offset, self.lower) = (apart, Some(lower));
        } else {
            // How much of what it reads lower is lateness: the way it is behind over the slope that it runs at.
            let behind = i64::from((apart - self.offset).as_milli());
            let late = Span::from_micros(mul_div(behind, 1_000_000, of_upper.max(1)));
            let is_late = of_upper > FAST && of_lower > FAST && late > settings.aged_lag;
            self.late.see(at, is_late, LATE_FOR);
            if self.late.lasts {
                (self.is_late, self.lower) = (true, Some(lower));
            }
        }
    }

    /// When a doubt may become one by time alone.
    pub(super) fn due(&self, settings: &WatchSettings) -> Option<Instant> {
        self.shafts.due(settings.mismatch_for)
    }

    /// N1 and N2 do not belong together.
    pub(super) const fn is_mismatch(&self) -> bool {
        self.shafts.lasts
    }

    /// Two probes are apart.
    pub(super) const fn is_split(&self) -> bool {
        self.split.lasts
    }

    /// A probe reads lower, or comes later, than its mate.
    pub(super) const fn is_aged(&self) -> bool {
        self.low.lasts || self.is_late
    }

    /// A chip's own temperature cannot be.
    pub(super) fn is_cold_wrong(&self) -> bool {
        self.colds.iter().any(|cold| cold.doubt.lasts)
    }

    /// True when something speaks against this probe.
    pub(super) fn doubts(&self, index: usize) -> bool {
        let aged = self.is_aged() && self.lower == Some(index);
        self.is_split() || aged || self.colds.get(index).is_some_and(|cold| cold.doubt.lasts)
    }
}

impl Cold {
    fn see(&mut self, at: Instant, cold: Option<MilliCelsius>, settings: &WatchSettings) {
        let Some(cold) = cold else { return };
        self.trend.see(at, Some(cold.as_milli()));
        let slack = if self.doubt.since.is_some() { PROBE_BAND } else { MilliCelsius::ZERO };
        let outside = cold < settings.cold_least + slack || cold > settings.cold_most - slack;
        let rate =
            self.trend.slope().is_some_and(|slope| slope.abs() > i64::from(settings.cold_rate.as_milli()));
        self.doubt.see(at, outside || rate, COLD_FOR);
    }
}
