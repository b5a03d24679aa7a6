//! A mark by averaging: a boat at rest beside a buoy, and where it lies, with an honest error (rules Q3 to Q6).
//!
//! A receiver's error is mostly slow: fixes a second apart err alike, and a thousand of them are no thousand opinions. So
//! the mean's error is reckoned from the time that was spent, not from the count of fixes, and a part of it never goes.
//!
//! This room knows units, fixes and the plane of a place. Fixes in, a mean and how well it is known out.

use serde::{Deserialize, Serialize};

use crate::course::{Plane, shortest_way_round};
use crate::gnss::{Fix, Position};
use crate::units::{Millimetres, MmPerSecond, NanoDegrees, Span, Utc, mul_div, root};

/// What the owner may choose about marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SurveySettings {
    /// A mark is taken once it is known this well: one standard deviation along any direction.
    pub accuracy: Millimetres,
}

/// 0.7 m are 10 ms at 160 mph.
impl Default for SurveySettings {
    fn default() -> Self {
        Self { accuracy: Millimetres::from_mm(700) }
    }
}

/// Fixes a time apart err alike as exp(-time / this): the receiver's slow wander. That there is such a thing: "Comparison
/// of Enhanced Noise Model Performance Based on Analysis of Civilian GPS Data", Sensors 20 (2020); the figure is common
/// practice, no source.
const WANDER: Span = Span::from_secs(120);

/// What stays however long one waits: never less than this (common practice, no source)...
const FLOOR: Millimetres = Millimetres::from_mm(300);

/// ... and never less than this part of a fix's own error: orbits, clocks and air err for hours (common practice, no source).
const FLOOR_PART: i64 = 2;

/// A boat that is faster is under way (common practice, no source).
const AT_REST: MmPerSecond = MmPerSecond::from_mm_s(1_000);

/// A boat at rest lies on a rope: by so much, and four standard deviations of a fix, it may be off the mean so far.
const ROPE: Millimetres = Millimetres::from_mm(3_000);

/// The time between fixes beyond this counts for nothing: nothing was measured then.
const GAP: Span = Span::from_secs(2);

/// No mark is taken sooner: a moment's fixes all err alike.
pub const SHORTEST: Span = Span::from_secs(30);

/// Then it is taken with what it has come to.
pub const LONGEST: Span = Span::from_secs(1_200);

/// Why a mark was given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum GivenUp {
    /// The boat is under way.
    Moving,
    /// A fix lies too far from the others.
    Adrift,
}

/// What a fix made of a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// It goes on.
    On,
    /// It is known as well as was asked, or the longest time is over.
    Taken,
    /// It is given up.
    GivenUp(GivenUp),
}

/// A mark that is being averaged. Deviations are from its first fix, so that the sums stay small: within 30 m and
/// 30,000 fixes they keep far below 63 bits.
#[derive(Clone, Copy, Debug)]
pub struct Averaging {
    first: Position,
    lat_nano: i64,
    lon_nano: i64,
    east: i64,
    north: i64,
    east_square: i64,
    north_square: i64,
    /// Sum of the variances that the fixes state, square millimetres.
    stated: i64,
    fixes: u16,
    time: Span,
    last: Utc,
}

impl Averaging {
    /// A mark's first fix, whose own standard deviation is `sd`; nothing for a boat that moves.
    ///
    /// # Errors
    /// The boat is under way.
    pub fn begin(at: Utc, fix: &Fix, sd: Millimetres) -> Result<Self, GivenUp> {
        let mut mark = Self {
            first: fix.position,
            lat_nano: 0,
            lon_nano: 0,
            east: 0,
            north: 0,
            east_square: 0,
            north_square: 0,
            stated: 0,
            fixes: 0,
            time: Span::ZERO,
            last: at,
        };
        match mark.fix(at, fix, sd, Millimetres::ZERO) {
            Step::GivenUp(why) => Err(why),
            Step::On | Step::Taken => Ok(mark),
        }
    }

    /// A further fix.
    pub fn fix(&mut self, at: Utc, fix: &Fix, sd: Millimetres, accuracy: Millimetres) -> Step {
        if fix.speed > AT_REST {
            return Step::GivenUp(GivenUp::Moving);
        }
        let place = Plane::at(self.first).place(fix.position);
        let (east, north) = (place.east.as_mm(), place.north.as_mm());
        let sd = sd.as_mm().clamp(0, 100_000);
        let (mean_east, mean_north) = (self.mean(self.east), self.mean(self.north));
        let reach = ROPE.as_mm().saturating_add(sd.saturating_mul(4));
        let is_off = |part: i64, mean: i64| part.saturating_sub(mean).abs() > reach;
        if self.fixes > 0 && (is_off(east, mean_east) || is_off(north, mean_north)) {
            return Step::GivenUp(GivenUp::Adrift);
        }
        self.add(fix.position, (east, north), sd);
        let gap = at.since(self.last);
        if gap <= GAP {
            self.time = self.time + gap;
        }
        self.last = at;
        let known = self.time >= SHORTEST && self.sd() <= accuracy;
        if known || self.time >= LONGEST || self.fixes == u16::MAX { Step::Taken } else { Step::On }
    }

    fn add(&mut self, position: Position, (east, north): (i64, i64), sd: i64) {
        let lat = (position.lat - self.first.lat).as_nano();
        let lon = shortest_way_round((position.lon - self.first.lon).as_nano());
        let sum = |sum: &mut i64, part: i64| *sum = sum.saturating_add(part);
        sum(&mut self.lat_nano, lat);
        sum(&mut self.lon_nano, lon);
        sum(&mut self.east, east);
        sum(&mut self.north, north);
        sum(&mut self.east_square, east.saturating_mul(east));
        sum(&mut self.north_square, north.saturating_mul(north));
        sum(&mut self.stated, sd.saturating_mul(sd));
        self.fixes = self.fixes.saturating_add(1);
    }

    fn mean(&self, sum: i64) -> i64 {
        mul_div(sum, 1, i64::from(self.fixes.max(1)))
    }

    /// Fixes averaged.
    #[must_use]
    pub const fn fixes(&self) -> u16 {
        self.fixes
    }

    /// Time spent, without gaps.
    #[must_use]
    pub const fn time(&self) -> Span {
        self.time
    }

    /// The mean of the fixes.
    #[must_use]
    pub fn position(&self) -> Position {
        let lat = self.first.lat.as_nano().saturating_add(self.mean(self.lat_nano));
        let lon = shortest_way_round(self.first.lon.as_nano().saturating_add(self.mean(self.lon_nano)));
        Position { lat: NanoDegrees::from_nano(lat), lon: NanoDegrees::from_nano(lon) }
    }

    /// How well that is known: one standard deviation along any direction (rule Q4).
    ///
    /// The mean of a process that forgets itself as exp(-t / tau), over a time T, has at most 2 tau / T of its variance
    /// (the integral of its autocorrelation; any handbook of random processes).
    #[must_use]
    pub fn sd(&self) -> Millimetres {
        let one = self.one_fix();
        let twice = WANDER.as_micros().saturating_mul(2);
        let mean = mul_div(one, twice, self.time.as_micros().max(twice));
        let floor = FLOOR.as_mm().max(root_up(one).saturating_add(1) / FLOOR_PART);
        Millimetres::from_mm(root_up(mean).max(floor))
    }

    /// The variance of one fix along its worse axis, square millimetres: as stated, or as seen if that is more.
    fn one_fix(&self) -> i64 {
        let seen = |square: i64, sum: i64| {
            let mean = self.mean(sum);
            self.mean(square).saturating_sub(mean.saturating_mul(mean))
        };
        let seen = seen(self.east_square, self.east).max(seen(self.north_square, self.north));
        seen.max(self.mean(self.stated))
    }
}

/// A root rounded up, so that no error is said to be smaller than it is.
fn root_up(variance: i64) -> i64 {
    let root = root(u128::from(variance.max(0).unsigned_abs()));
    root.saturating_add(i64::from(root.saturating_mul(root) < variance))
}

#[cfg(test)]
mod tests;
