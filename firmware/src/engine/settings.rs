//! What the engine room must be told by the owner, and what it refuses to be told.
//!
//! No limits ship for any engine. The demonstration set exists so that the dash, the simulator and the tests
//! have something to run on; the screen says so until the owner has entered the figures of the engine maker's
//! manual.
//!
//! This file knows the units and the tables.

use core::fmt;

use serde::{Deserialize, Serialize};

use super::limits::{Limit, Limited, Limits, with_room};
use super::start::StartSettings;
use super::tach::{self, TachSettings};
use super::type_k;
use super::watch::WatchSettings;
use crate::calibration::Probes;
use crate::units::{CentiPercent, MilliCelsius, Span};

/// The most thermocouples that can be watched.
pub const PROBES_MAX: usize = 4;

/// The least EGT hysteresis: 3 degrees, the tolerance of a class 1 type K wire at 750 degrees (IEC 60584-1).
pub const EGT_HYSTERESIS_MIN: MilliCelsius = MilliCelsius::from_milli(3_000);

/// Everything that the engine room must be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EngineSettings {
    /// True until the owner has entered his own limits.
    pub demonstration: bool,
    /// How many thermocouples are fitted; EGT is the hottest of them.
    pub probes: u8,
    /// How old a temperature may become before it is no temperature any more.
    pub egt_stale_after: Span,
    /// Bad reads in a row that make a probe faulty; good reads in a row that make it trusted again.
    pub faults_to_believe: u8,
    /// Above this EGT the engine burns, so a shaft without a signal is a fault.
    pub lit_above: MilliCelsius,
    /// Below this EGT, with N1 self-sustaining, it is the probe that is wrong.
    pub cold_below: MilliCelsius,
    /// The N1 from which the engine runs without its starter: above it the running table applies.
    pub self_sustaining: CentiPercent,
    /// The gas generator's pickup.
    pub n1_tach: TachSettings,
    /// The power shaft's pickup.
    pub n2_tach: TachSettings,
    /// EGT limits while starting.
    pub egt_starting: Limits<MilliCelsius>,
    /// EGT limits while running.
    pub egt_running: Limits<MilliCelsius>,
    /// N1 limits.
    pub n1: Limits<CentiPercent>,
    /// N2 limits.
    pub n2: Limits<CentiPercent>,
    /// The N2 above which the shaft has lost its load.
    pub n2_overspeed: CentiPercent,
    /// The supervised start.
    pub start: StartSettings,
    /// What is watched beside the limits.
    pub watch: WatchSettings,
    /// Each thermocouple in ice and in boiling water.
    pub calibrated: Probes,
}

impl EngineSettings {
    /// Demonstration data, not limits for any engine.
    ///
    /// Every figure is invented for a made-up engine (common practice, no source), but for two: 4,200 rpm and
    /// one cycle a turn are the 100 % of a two-pole tachometer generator (nameplate of an aircraft electric
    /// tachometer; MS28054-1 generators as in TM 55-6680-234-40).
    #[must_use]
    pub fn demonstration() -> Self {
        Self {
            demonstration: true,
            probes: 1,
            egt_stale_after: Span::from_millis(500),
            faults_to_believe: 3,
            lit_above: celsius(300),
            cold_below: celsius(100),
            self_sustaining: percent(45),
            n1_tach: TachSettings { rpm_at_100: 4_200, cycles_per_turn: 1 },
            n2_tach: TachSettings { rpm_at_100: 10_000, cycles_per_turn: 1 },
            egt_starting: limits(&[(celsius(800), 10), (celsius(900), 0)], celsius(5)),
            egt_running: limits(&[(celsius(780), 300), (celsius(820), 20), (celsius(850), 0)], celsius(5)),
            n1: limits(&[(percent(102), 300), (percent(105), 0)], CentiPercent::from_centi(50)),
            n2: limits(&[(percent(103), 20), (percent(108), 0)], CentiPercent::from_centi(50)),
            n2_overspeed: percent(112),
            start: StartSettings::demonstration(),
            watch: WatchSettings::demonstration(),
            calibrated: Probes::default(),
        }
    }

    /// Looks for a setting that cannot be right.
    ///
    /// # Errors
    /// The first one found: its field, and the rule that it breaks.
    pub fn check(&self) -> Result<(), EngineFault> {
        let egt = (celsius(0), type_k::HIGHEST);
        let shaft = (percent(0), tach::FASTEST);
        within("probes", self.probes, 0, PROBES_MAX as u8)?;
        within("egt_stale_after", self.egt_stale_after.as_micros(), 100_000, 5_000_000)?;
        within("faults_to_believe", self.faults_to_believe, 1, 10)?;
        within("lit_above", self.lit_above.as_milli(), 100_000, 600_000)?;
        within("cold_below", self.cold_below.as_milli(), 0, self.lit_above.as_milli())?;
        within("self_sustaining", self.self_sustaining.as_centi(), 1_000, 8_000)?;
        check_tach("n1_tach.rpm_at_100", "n1_tach.cycles_per_turn", &self.n1_tach)?;
        check_tach("n2_tach.rpm_at_100", "n2_tach.cycles_per_turn", &self.n2_tach)?;
        check_limits("egt_starting", &self.egt_starting, egt, (EGT_HYSTERESIS_MIN, celsius(50)))?;
        check_limits("egt_running", &self.egt_running, egt, (EGT_HYSTERESIS_MIN, celsius(50)))?;
        check_limits("n1", &self.n1, shaft, (CentiPercent::ZERO, percent(5)))?;
        check_limits("n2", &self.n2, shaft, (CentiPercent::ZERO, percent(5)))?;
        let last = self.n2.rows.last().map_or(CentiPercent::ZERO, |row| row.threshold);
        within("n2_overspeed", self.n2_overspeed.as_centi(), last.as_centi(), tach::FASTEST.as_centi())?;
        self.watch.check()?;
        self.start.check(self)
    }

    /// The overspeed limit as a table of its own: at once above it.
    pub(super) fn overspeed(&self) -> Limits<CentiPercent> {
        Limits {
            rows: with_room([Limit { threshold: self.n2_overspeed, allowed: Span::ZERO }].into_iter()),
            hysteresis: self.n2.hysteresis,
        }
    }
}

/// A setting that cannot be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct EngineFault {
    /// The field, as it is spelt in [`EngineSettings`].
    pub field: &'static str,
    /// The rule that it breaks.
    pub rule: EngineRule,
}

/// What a setting must keep to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum EngineRule {
    /// From `lowest` to `highest`, in the field's own unit (0.001 degrees, 0.01 %, microseconds, a count).
    Within {
        /// The least that is taken.
        lowest: i64,
        /// The most that is taken.
        highest: i64,
    },
    /// At least one row.
    SomeRow,
    /// The hysteresis from `lowest` to `highest`, in the table's own unit.
    HysteresisWithin {
        /// The least that is taken.
        lowest: i64,
        /// The most that is taken.
        highest: i64,
    },
    /// A row's threshold from `lowest` to `highest`, in the table's own unit.
    ThresholdWithin {
        /// The row, 1 for the first.
        row: u8,
        /// The least that is taken.
        lowest: i64,
        /// The most that is taken.
        highest: i64,
    },
    /// A row's threshold higher than the one before.
    ThresholdRises {
        /// The row, 1 for the first.
        row: u8,
    },
    /// A row's time from nothing to 24 hours.
    TimeWithinADay {
        /// The row, 1 for the first.
        row: u8,
    },
    /// A row's time shorter than that of the row before.
    TimeFalls {
        /// The row, 1 for the first.
        row: u8,
    },
    /// A list whose values rise.
    Rising,
}

impl fmt::Display for EngineFault {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{}: ", self.field)?;
        match self.rule {
            EngineRule::Within { lowest, highest } => write!(to, "must be from {lowest} to {highest}"),
            EngineRule::SomeRow => write!(to, "needs at least one row"),
            EngineRule::HysteresisWithin { lowest, highest } => {
                write!(to, "hysteresis must be from {lowest} to {highest}")
            }
            EngineRule::ThresholdWithin { row, lowest, highest } => {
                write!(to, "row {row}: threshold must be from {lowest} to {highest}")
            }
            EngineRule::ThresholdRises { row } => {
                write!(to, "row {row}: threshold must be above the row before")
            }
            EngineRule::TimeWithinADay { row } => write!(to, "row {row}: time must be from 0 to 24 h"),
            EngineRule::TimeFalls { row } => {
                write!(to, "row {row}: time must be shorter than the row before")
            }
            EngineRule::Rising => write!(to, "must rise from one to the next"),
        }
    }
}

impl core::error::Error for EngineFault {}

pub(super) fn within<N: Into<i64>>(
    field: &'static str,
    value: N,
    lowest: N,
    highest: N,
) -> Result<(), EngineFault> {
    let (value, lowest, highest) = (value.into(), lowest.into(), highest.into());
    held(field, (lowest..=highest).contains(&value), EngineRule::Within { lowest, highest })
}

pub(super) fn held(field: &'static str, holds: bool, rule: EngineRule) -> Result<(), EngineFault> {
    if holds { Ok(()) } else { Err(EngineFault { field, rule }) }
}

fn check_tach(rpm: &'static str, cycles: &'static str, tach: &TachSettings) -> Result<(), EngineFault> {
    within(rpm, tach.rpm_at_100, 100, 100_000)?;
    within(cycles, tach.cycles_per_turn, 1, 255)
}

fn check_limits<T: Limited>(
    field: &'static str,
    limits: &Limits<T>,
    (lowest, highest): (T, T),
    (narrowest, widest): (T, T),
) -> Result<(), EngineFault> {
    let narrow =
        EngineRule::HysteresisWithin { lowest: narrowest.raw().into(), highest: widest.raw().into() };
    held(field, (narrowest..=widest).contains(&limits.hysteresis), narrow)?;
    held(field, !limits.rows.is_empty(), EngineRule::SomeRow)?;
    let mut before: Option<Limit<T>> = None;
    for (row, &limit) in (1_u8..).zip(&limits.rows) {
        let (low, high) = (lowest.raw().into(), highest.raw().into());
        let placed = EngineRule::ThresholdWithin { row, lowest: low, highest: high };
        held(field, (lowest..=highest).contains(&limit.threshold), placed)?;
        let day = Span::from_secs(86_400);
        held(field, (Span::ZERO..=day).contains(&limit.allowed), EngineRule::TimeWithinADay { row })?;
        if let Some(before) = before {
            held(field, limit.threshold > before.threshold, EngineRule::ThresholdRises { row })?;
            held(field, limit.allowed < before.allowed, EngineRule::TimeFalls { row })?;
        }
        before = Some(limit);
    }
    Ok(())
}

pub(super) const fn celsius(degrees: i32) -> MilliCelsius {
    MilliCelsius::from_milli(degrees * 1_000)
}

pub(super) const fn percent(percent: i32) -> CentiPercent {
    CentiPercent::from_centi(percent * 100)
}

fn limits<T: Limited>(rows: &[(T, i64)], hysteresis: T) -> Limits<T> {
    let row = |&(threshold, seconds): &(T, i64)| Limit { threshold, allowed: Span::from_secs(seconds) };
    Limits { rows: with_room(rows.iter().map(row)), hysteresis }
}
