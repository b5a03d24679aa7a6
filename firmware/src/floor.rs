//! The speed floor while milling: some rules want boats on plane, and cost time when they are not.
//!
//! Slower than the floor for strictly more than the grace costs one unit; each further full grace and each new
//! violation cost another, up to a most. Judged only by fixes: no fix, no evidence. The numbers in brackets are
//! the rules of `docs/timing-logic.md`.
//!
//! Knows units and outputs. Speeds in, penalties out.

use serde::{Deserialize, Serialize};

use crate::output::{Cause, Output, Outputs};
use crate::units::{MmPerSecond, Span, Utc};

/// What the rules say of slow boats.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FloorSettings {
    /// The least speed.
    pub speed: MmPerSecond,
    /// From so long before zero until the start.
    pub from: Span,
    /// How long a boat may be slower.
    pub grace: Span,
    /// What each unit costs.
    pub penalty: Span,
    /// The most units.
    pub units_max: u8,
}

/// Watches the speed while it matters.
#[derive(Clone, Debug)]
pub struct SpeedFloor {
    settings: FloorSettings,
    /// When the boat became too slow.
    slow_since: Option<Utc>,
    /// Units of this violation.
    units_now: i64,
    /// Units of the violations before it.
    units_before: i64,
}

impl SpeedFloor {
    /// A watch that has seen no violation.
    #[must_use]
    pub fn new(settings: &FloorSettings) -> Self {
        Self { settings: settings.clone(), slow_since: None, units_now: 0, units_before: 0 }
    }

    /// A watch that goes on after a restart: so many units are owed already.
    pub fn resume(&mut self, units: u8) {
        self.units_before = i64::from(units);
    }

    /// Units owed in all.
    #[must_use]
    pub fn units(&self) -> u8 {
        let units = self.units_before.saturating_add(self.units_now);
        u8::try_from(units).unwrap_or(u8::MAX).min(self.settings.units_max)
    }

    /// From so long before zero until the start the floor holds.
    #[must_use]
    pub const fn from(&self) -> Span {
        self.settings.from
    }

    /// A fix at `at` while the floor holds (rules F1 to F3).
    pub fn speed(&mut self, at: Utc, speed: MmPerSecond, out: &mut Outputs) {
        if speed >= self.settings.speed {
            self.end_violation();
            return;
        }
        let slow_for = at.since(*self.slow_since.get_or_insert(at));
        let units = units(slow_for, self.settings.grace);
        if units > self.units_now {
            let owed_before = self.owed();
            self.units_now = units;
            if self.owed() > owed_before {
                out.push(Output::Penalty { cause: Cause::SpeedFloor, laps: 0, time: self.owed() });
            }
        }
    }

    /// The fixes stopped, or the floor no longer holds: the violation that goes on ends here.
    pub fn end_violation(&mut self) {
        self.slow_since = None;
        self.units_before = self.units_before.saturating_add(self.units_now);
        self.units_now = 0;
    }

    /// True while the boat is too slow and the grace runs or has run out.
    #[must_use]
    pub const fn is_slow(&self) -> bool {
        self.slow_since.is_some()
    }

    /// Time owed in all.
    #[must_use]
    pub fn owed(&self) -> Span {
        Span::from_micros(self.settings.penalty.as_micros().saturating_mul(i64::from(self.units())))
    }
}

/// Full graces in strictly less than `slow_for`: 5.0 s at a grace of 5 s is none, 5.1 s is one, 10.1 s is two.
fn units(slow_for: Span, grace: Span) -> i64 {
    let grace_us = grace.as_micros().max(1);
    slow_for.as_micros().saturating_sub(1).max(0) / grace_us
}

#[cfg(test)]
mod tests {
    use super::*;

    fn floor() -> SpeedFloor {
        SpeedFloor::new(&FloorSettings {
            speed: MmPerSecond::from_mm_s(44_704),
            from: Span::from_secs(300),
            grace: Span::from_secs(5),
            penalty: Span::from_secs(15),
            units_max: 4,
        })
    }

    /// Below the floor for `ds` tenths of a second, seen at 10 Hz.
    fn slow_for(floor: &mut SpeedFloor, from_ds: i64, ds: i64) -> Span {
        let mut out = Outputs::default();
        for tenth in from_ds..=from_ds + ds {
            floor.speed(Utc::from_unix_micros(tenth * 100_000), MmPerSecond::from_mm_s(40_000), &mut out);
        }
        let quick = Utc::from_unix_micros((from_ds + ds + 1) * 100_000);
        floor.speed(quick, MmPerSecond::from_mm_s(50_000), &mut out);
        floor.owed()
    }

    /// Source: class rule-change notice 2012, minimum speed in the five-minute period, read as strictly more than
    /// 5 s, then per full 5 s, at most four times 15 s.
    #[test]
    fn the_published_times_cost_the_published_penalties() {
        let table =
            [(49, 0), (50, 0), (51, 15), (99, 15), (101, 30), (151, 45), (201, 60), (251, 60), (600, 60)];
        for (tenths, penalty_s) in table {
            assert_eq!(slow_for(&mut floor(), 0, tenths), Span::from_secs(penalty_s), "{tenths} tenths");
        }
    }

    #[test]
    fn each_new_violation_costs_again_up_to_the_most() {
        let mut floor = floor();
        for (violation, owed_s) in [(0, 15), (1, 30), (2, 45), (3, 60), (4, 60)] {
            assert_eq!(slow_for(&mut floor, violation * 1_000, 60), Span::from_secs(owed_s));
        }
    }

    #[test]
    fn an_interrupted_violation_starts_its_grace_anew() {
        let mut floor = floor();
        slow_for(&mut floor, 0, 40);
        assert_eq!(slow_for(&mut floor, 100, 40), Span::ZERO);
    }
}
