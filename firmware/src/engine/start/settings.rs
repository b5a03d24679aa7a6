//! What the start supervisor must be told, and what it refuses to be told.
//!
//! The figures that ship are a demonstration for an engine that does not exist. Where one stands in a public
//! handbook, that handbook is named: it was written for another engine than yours all the same.
//!
//! This file knows the units and the engine's faults.

use serde::{Deserialize, Serialize};

use crate::engine::settings::{EngineFault, EngineSettings, within};
use crate::units::{CentiPercent, MilliCelsius, Span};

/// Which of the dock's switches are wired to the dash. One that is not wired is unknown, never off.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Wired {
    /// The igniters.
    pub igniter: bool,
    /// The starter's lower voltage.
    pub starter_low: bool,
    /// The starter's higher voltage.
    pub starter_high: bool,
    /// The start fuel.
    pub start_fuel: bool,
    /// External power.
    pub external_power: bool,
}

/// Everything that the start supervisor must be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StartSettings {
    /// True until the owner has entered his own figures.
    pub demonstration: bool,
    /// Which switches it can see.
    pub wired: Wired,
    /// From this N1 on the shaft is taken to turn.
    pub cranking_from: CentiPercent,
    /// Fuel before this N1 is too soon.
    pub fuel_from: CentiPercent,
    /// Where no switch tells of fuel: it is taken to be on this long after N1 has come to `fuel_from`.
    pub fuel_inferred_after: Span,
    /// EGT so much above the coolest while cranking is a light-off.
    pub light_off_rise: MilliCelsius,
    /// Fuel must light within this time.
    pub light_off_within: Span,
    /// The EGT at which the starter is put on its higher voltage.
    pub starter_high_from: MilliCelsius,
    /// The N1 of an idle that holds; a self-sustaining N1 is needed as well.
    pub idle_from: CentiPercent,
    /// The time constant of the thermocouple in the gas.
    pub probe_lag: Span,
    /// A hot start is said when the limit is this near, at the rate of rise.
    pub hot_ahead: Span,
    /// N1 must gain this much ...
    pub hung_rise: CentiPercent,
    /// ... within this time, or the start hangs.
    pub hung_after: Span,
    /// The longest that the starter may be on at a time.
    pub starter_on: Span,
    /// The rest after each time on.
    pub starter_off: Span,
    /// So many times on, then the long rest.
    pub starter_cycles: u8,
    /// The long rest.
    pub starter_rest: Span,
    /// After a start that was given up: crank until EGT is below this.
    pub cool_below: MilliCelsius,
    /// EGT must have fallen within this time while cooling.
    pub cooling_within: Span,
    /// An engine that goes out after so long without power is taken to have been shut down.
    pub shut_down_after: Span,
}

impl StartSettings {
    /// Demonstration data, not figures for any engine.
    ///
    /// Fuel from 12 % N1: a general article on turbine starting (12 to 15 %); another text has 13 %, a third 15 %.
    /// Light-off within 10 s: a training text on aborted starts. Starter 40 s on, 60 s off, twice, then 30 min
    /// off: the handbook of a light turbine. Cool below 200 degrees: flash cards of a military helicopter.
    /// Starter high from 200 degrees, and everything else: common practice, no source.
    #[must_use]
    pub fn demonstration() -> Self {
        Self {
            demonstration: true,
            wired: Wired::default(),
            cranking_from: percent(5),
            fuel_from: percent(12),
            fuel_inferred_after: Span::from_secs(10),
            light_off_rise: celsius(50),
            light_off_within: Span::from_secs(10),
            starter_high_from: celsius(200),
            idle_from: percent(55),
            probe_lag: Span::from_millis(700),
            hot_ahead: Span::from_secs(2),
            hung_rise: percent(1),
            hung_after: Span::from_secs(5),
            starter_on: Span::from_secs(40),
            starter_off: Span::from_secs(60),
            starter_cycles: 2,
            starter_rest: Span::from_secs(1_800),
            cool_below: celsius(200),
            cooling_within: Span::from_secs(5),
            shut_down_after: Span::from_secs(30),
        }
    }

    /// Looks for a setting that cannot be right, on its own or beside the engine's.
    ///
    /// # Errors
    /// The first one found.
    pub(in crate::engine) fn check(&self, engine: &EngineSettings) -> Result<(), EngineFault> {
        let span = |field, value: Span, lowest_ms: i64, highest_s: i64| {
            within(field, value.as_micros(), lowest_ms * 1_000, highest_s * 1_000_000)
        };
        let shaft = |field, value: CentiPercent, lowest: CentiPercent, highest: CentiPercent| {
            within(field, value.as_centi(), lowest.as_centi(), highest.as_centi())
        };
        let heat = |field, value: MilliCelsius, lowest: i32, highest: MilliCelsius| {
            within(field, value.as_milli(), lowest * 1_000, highest.as_milli())
        };
        shaft("start.cranking_from", self.cranking_from, percent(2), percent(10))?;
        shaft("start.fuel_from", self.fuel_from, self.cranking_from, engine.self_sustaining)?;
        shaft("start.idle_from", self.idle_from, percent(20), percent(90))?;
        shaft("start.hung_rise", self.hung_rise, CentiPercent::from_centi(10), percent(10))?;
        heat("start.light_off_rise", self.light_off_rise, 10, celsius(300))?;
        heat("start.starter_high_from", self.starter_high_from, 50, celsius(600))?;
        heat("start.cool_below", self.cool_below, 50, engine.lit_above)?;
        span("start.fuel_inferred_after", self.fuel_inferred_after, 0, 60)?;
        span("start.light_off_within", self.light_off_within, 1_000, 60)?;
        span("start.probe_lag", self.probe_lag, 0, 3)?;
        span("start.hot_ahead", self.hot_ahead, 500, 10)?;
        span("start.hung_after", self.hung_after, 1_000, 60)?;
        span("start.starter_on", self.starter_on, 5_000, 300)?;
        span("start.starter_off", self.starter_off, 0, 1_800)?;
        within("start.starter_cycles", self.starter_cycles, 1, 20)?;
        within(
            "start.starter_rest",
            self.starter_rest.as_micros(),
            self.starter_off.as_micros(),
            86_400_000_000,
        )?;
        span("start.cooling_within", self.cooling_within, 1_000, 60)?;
        span("start.shut_down_after", self.shut_down_after, 0, 3_600)
    }
}

const fn celsius(degrees: i32) -> MilliCelsius {
    MilliCelsius::from_milli(degrees * 1_000)
}

const fn percent(percent: i32) -> CentiPercent {
    CentiPercent::from_centi(percent * 100)
}
