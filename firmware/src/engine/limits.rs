//! Time-limited limits: above this, for so long; above that, not at all.
//!
//! A [`Limits`] table says how long a value may stay above each threshold. A [`Watch`] holds one against a
//! value and reports each row that is exceeded, and the peak and the time above once it is over: both belong
//! in the engine's log (TM 1-1510-223-10, overtemperature text).
//!
//! * Above means strictly above: a value at its threshold is inside.
//! * Time counts only while the value is known to be above. In the hysteresis band below the threshold, and
//!   while the value is unknown, the clock stands; it goes back to nothing once the value has been seen at or
//!   below the band. So a dropout neither uses up the allowance nor gives it back.
//! * A value that becomes unknown ends the report of a running exceedance with what was measured.
//!
//! This file knows the units and the outputs. Values flow in, decisions flow out.

use core::ops::Sub;

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::output::{Output, Outputs, Quantity};
use crate::units::{CentiPercent, Instant, MilliCelsius, Span, mul_div};

/// The most rows that a table may have.
pub const ROWS_MAX: usize = 6;

/// A table of limits for one quantity.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Limits<T> {
    /// Rows with rising thresholds and falling times.
    pub rows: Vec<Limit<T>, ROWS_MAX>,
    /// How far below a threshold the value must come to count as back inside.
    pub hysteresis: T,
}

/// One row: how long the value may be above a threshold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Limit<T> {
    /// Above this the clock runs.
    pub threshold: T,
    /// Longer than this is an exceedance; with zero, being above is one at once.
    pub allowed: Span,
}

/// A quantity that can have limits.
pub trait Limited: Copy + Ord + Sub<Output = Self> {
    /// The number that an [`Output::Exceedance`] carries, in the quantity's own unit.
    fn raw(self) -> i32;
}

impl Limited for MilliCelsius {
    fn raw(self) -> i32 {
        self.as_milli()
    }
}

impl Limited for CentiPercent {
    fn raw(self) -> i32 {
        self.as_centi()
    }
}

/// A value held against its table.
#[derive(Clone, Debug)]
pub struct Watch<T> {
    quantity: Quantity,
    hysteresis: T,
    rows: Vec<Row<T>, ROWS_MAX>,
    known: bool,
    /// True while no row holds anything: then a value at or below every band changes nothing.
    at_rest: bool,
    /// The lowest end of a band.
    calm_to: Option<T>,
}

impl<T: Limited> Watch<T> {
    /// A watch over `quantity` that has seen nothing yet.
    #[must_use]
    pub fn new(quantity: Quantity, limits: &Limits<T>) -> Self {
        let rows = with_room(limits.rows.iter().map(|&limit| Row::new(limit)));
        let lowest = limits.rows.iter().map(|limit| limit.threshold).min();
        let calm_to = lowest.map(|threshold| threshold - limits.hysteresis);
        Self { quantity, hysteresis: limits.hysteresis, rows, known: false, at_rest: true, calm_to }
    }

    /// The value is this from `at` on, or unknown. Until now it was what the last call said.
    pub fn update(&mut self, at: Instant, value: Option<T>, out: &mut Outputs) {
        self.known = value.is_some();
        // Nothing runs and nothing could begin: most calls end here.
        if self.at_rest && self.is_calm(value) {
            return;
        }
        for row in &mut self.rows {
            row.run_to(at);
            row.check(self.quantity, out);
            match value {
                Some(value) if value > row.limit.threshold => row.rise(at, value),
                Some(value) if value > row.limit.threshold - self.hysteresis => row.pause(),
                Some(_) => row.leave(self.quantity, out),
                None => row.suspend(self.quantity, out),
            }
            row.check(self.quantity, out);
        }
        self.at_rest = self.rows.iter().all(Row::is_at_rest);
    }

    /// True when a value is below every band, or unknown.
    fn is_calm(&self, value: Option<T>) -> bool {
        match (value, self.calm_to) {
            (Some(value), Some(calm)) => value <= calm,
            _ => true,
        }
    }

    /// The table does not apply from `at` on: what runs is over, and the clocks go back to nothing.
    pub fn release(&mut self, at: Instant, out: &mut Outputs) {
        self.known = false;
        if self.at_rest {
            return;
        }
        for row in &mut self.rows {
            row.run_to(at);
            row.leave(self.quantity, out);
        }
        self.at_rest = true;
    }

    /// When a row's allowance runs out if the value stays as it is.
    #[must_use]
    pub fn next_wake(&self) -> Option<Instant> {
        if self.at_rest { None } else { self.rows.iter().filter_map(Row::due).min() }
    }

    /// How long until a row is exceeded if the value goes on rising by `slope` of its own units a second, looking
    /// no further than `ahead` for it to reach a row; and whether it has to get there first. Nothing about rows
    /// below one that is exceeded already.
    #[must_use]
    pub fn ahead(&self, at: Instant, value: T, slope: i64, ahead: Span) -> Option<(Span, bool)> {
        let mut first: Option<(Span, bool)> = None;
        for row in &self.rows {
            let this = match row.due() {
                _ if row.exceeded => {
                    first = None;
                    None
                }
                Some(due) => Some((due.since(at).max(Span::ZERO), false)),
                None => row
                    .reach(value, slope)
                    .filter(|reach| *reach <= ahead)
                    .map(|reach| (reach + (row.limit.allowed - row.above).max(Span::ZERO), true)),
            };
            first = match (first, this) {
                (Some(one), Some(other)) => Some(if other.0 < one.0 { other } else { one }),
                (one, other) => one.or(other),
            };
        }
        first
    }

    /// True while a row is exceeded.
    #[must_use]
    pub fn is_exceeded(&self) -> bool {
        !self.at_rest && self.rows.iter().any(|row| row.exceeded)
    }

    /// True while the value is above a threshold that allows it for a time, or has not come back inside yet.
    #[must_use]
    pub fn is_timed(&self) -> bool {
        let runs = self.known && !self.at_rest;
        runs && self.rows.iter().any(|row| row.peak.is_some() && row.limit.allowed > Span::ZERO)
    }
}

/// One row's clock.
#[derive(Clone, Copy, Debug)]
struct Row<T> {
    limit: Limit<T>,
    /// Time above, up to `since`.
    above: Span,
    /// Since when the clock runs; `None` while it stands.
    since: Option<Instant>,
    /// The highest value of this excursion; `None` while inside.
    peak: Option<T>,
    exceeded: bool,
}

impl<T: Limited> Row<T> {
    const fn new(limit: Limit<T>) -> Self {
        Self { limit, above: Span::ZERO, since: None, peak: None, exceeded: false }
    }

    /// True when it is as new.
    fn is_at_rest(&self) -> bool {
        self.above == Span::ZERO && self.since.is_none() && self.peak.is_none() && !self.exceeded
    }

    fn run_to(&mut self, at: Instant) {
        if let Some(since) = self.since {
            self.above = self.above + at.since(since).max(Span::ZERO);
            self.since = Some(since.max(at));
        }
    }

    /// Reports the row when its allowance is used up.
    fn check(&mut self, quantity: Quantity, out: &mut Outputs) {
        let spent = self.limit.allowed == Span::ZERO || self.above > self.limit.allowed;
        if self.since.is_some() && spent && !self.exceeded {
            self.exceeded = true;
            self.report(quantity, false, out);
        }
    }

    fn rise(&mut self, at: Instant, value: T) {
        self.peak = self.peak.max(Some(value));
        self.since = self.since.or(Some(at));
    }

    fn pause(&mut self) {
        self.since = None;
    }

    /// The value is unknown: the report ends here, the clock stands.
    fn suspend(&mut self, quantity: Quantity, out: &mut Outputs) {
        self.since = None;
        if self.exceeded {
            self.exceeded = false;
            self.report(quantity, true, out);
        }
    }

    /// The value is back inside.
    fn leave(&mut self, quantity: Quantity, out: &mut Outputs) {
        self.suspend(quantity, out);
        *self = Self::new(self.limit);
    }

    fn report(&self, quantity: Quantity, over: bool, out: &mut Outputs) {
        let threshold = self.limit.threshold.raw();
        let peak = self.peak.map_or(threshold, T::raw);
        out.push(Output::Exceedance { quantity, threshold, peak, above: self.above, over });
    }

    /// How long until a value that rises like this is above the threshold.
    fn reach(&self, value: T, slope: i64) -> Option<Span> {
        let way = i64::from(self.limit.threshold.raw().saturating_sub(value.raw()));
        (slope > 0).then(|| Span::from_micros(mul_div(way.max(0), 1_000_000, slope)))
    }

    /// The first microsecond that is longer than allowed.
    fn due(&self) -> Option<Instant> {
        let left = self.limit.allowed - self.above + Span::from_micros(1);
        self.since.filter(|_| !self.exceeded).map(|since| since.plus(left))
    }
}

/// A list of what comes, as far as there is room. To `collect` would be to panic where there is none.
pub(super) fn with_room<T, const N: usize>(items: impl Iterator<Item = T>) -> Vec<T, N> {
    let mut list = Vec::new();
    for item in items.take(N) {
        let _ = list.push(item);
    }
    list
}
