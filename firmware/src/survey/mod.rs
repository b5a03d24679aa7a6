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

/// A boat at rest lies on a rope: by so many millimetres, and four standard deviations of a fix, it may be off the mean so far.
const ROPE: i32 = 3_000;

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

/// One axis of a mark. Deviations are from its first fix, so that the sums stay small: within 30 m and 65,535 fixes they keep
/// far below 63 bits.
#[derive(Clone, Copy, Debug, Default)]
struct Axis {
    /// Sum of the deviations, nano-degrees.
    nano: i64,
    /// The same in millimetres.
    mm: i64,
    /// Sum of their squares.
    square: i64,
}

impl Axis {
    /// Not inlined, like all of an axis: there are two of them, and the board has little room.
    #[inline(never)]
    fn add(&mut self, nano: i64, mm: i32) {
        self.nano = self.nano.saturating_add(nano);
        self.mm = self.mm.saturating_add(i64::from(mm));
        self.square = self.square.saturating_add(i64::from(mm).pow(2));
    }

    /// Whether a place is farther from the mean than `reach`.
    #[inline(never)]
    fn is_off(&self, mm: i32, reach: i32, fixes: u16) -> bool {
        fixes > 0 && mean(self.mm, fixes).saturating_sub(i64::from(mm)).abs() > i64::from(reach)
    }

    /// The variance that is seen, square millimetres.
    #[inline(never)]
    fn seen(&self, fixes: u16) -> i64 {
        let mean_mm = mean(self.mm, fixes);
        mean(self.square, fixes).saturating_sub(mean_mm.saturating_mul(mean_mm))
    }
}

#[inline(never)]
fn mean(sum: i64, fixes: u16) -> i64 {
    mul_div(sum, 1, i64::from(fixes.max(1)))
}

/// A fix that states a larger error is taken to err by this, millimetres.
const WORST: i64 = 100_000;

/// Where a fix is farther from the first, it is taken to be here, millimetres. It is off the mean then: a reach of 403 m
/// moves the mean of 65,535 fixes by less than 403 m times the harmonic sum, 4.8 km.
const FARTHEST: i64 = 10_000_000;

/// A mark that is being averaged.
#[derive(Clone, Copy, Debug)]
pub struct Averaging {
    first: Position,
    east: Axis,
    north: Axis,
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
            east: Axis::default(),
            north: Axis::default(),
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
    #[inline(never)]
    pub fn fix(&mut self, at: Utc, fix: &Fix, sd: Millimetres, accuracy: Millimetres) -> Step {
        if fix.speed > AT_REST {
            return Step::GivenUp(GivenUp::Moving);
        }
        let place = Plane::at(self.first).place(fix.position);
        let (east, north) = (within(place.east, FARTHEST), within(place.north, FARTHEST));
        let sd = within(sd, WORST).max(0);
        let reach = sd.saturating_mul(4).saturating_add(ROPE);
        if self.east.is_off(east, reach, self.fixes) || self.north.is_off(north, reach, self.fixes) {
            return Step::GivenUp(GivenUp::Adrift);
        }
        self.east.add(shortest_way_round((fix.position.lon - self.first.lon).as_nano()), east);
        self.north.add((fix.position.lat - self.first.lat).as_nano(), north);
        self.stated = self.stated.saturating_add(i64::from(sd).pow(2));
        self.fixes = self.fixes.saturating_add(1);
        let gap = at.since(self.last);
        if gap <= GAP {
            self.time = self.time + gap;
        }
        self.last = at;
        let known = self.time >= SHORTEST && self.sd() <= accuracy;
        if known || self.time >= LONGEST || self.fixes == u16::MAX { Step::Taken } else { Step::On }
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
        let of = |first: NanoDegrees, sum: i64| first.as_nano().saturating_add(mean(sum, self.fixes));
        Position {
            lat: NanoDegrees::from_nano(of(self.first.lat, self.north.nano)),
            lon: NanoDegrees::from_nano(shortest_way_round(of(self.first.lon, self.east.nano))),
        }
    }

    /// How well that is known: one standard deviation along any direction (rule Q4).
    ///
    /// The mean of a process that forgets itself as exp(-t / tau), over a time T, has at most 2 tau / T of its variance
    /// (the integral of its autocorrelation; any handbook of random processes).
    #[must_use]
    #[inline(never)]
    pub fn sd(&self) -> Millimetres {
        // The variance of one fix along its worse axis: as stated, or as seen if that is more.
        let seen = self.east.seen(self.fixes).max(self.north.seen(self.fixes));
        let one = seen.max(mean(self.stated, self.fixes));
        let twice = WANDER.as_micros() * 2;
        let mean = mul_div(one, twice, self.time.as_micros().max(twice));
        let floor = FLOOR.as_mm().max(root_up(one).saturating_add(1) / FLOOR_PART);
        Millimetres::from_mm(root_up(mean).max(floor))
    }
}

/// A length in 32 bits.
fn within(length: Millimetres, most: i64) -> i32 {
    length.as_mm().clamp(-most, most) as i32
}

/// A root rounded up, so that no error is said to be smaller than it is.
fn root_up(variance: i64) -> i64 {
    let root = root(u128::from(variance.max(0).unsigned_abs()));
    root.saturating_add(i64::from(root.saturating_mul(root) < variance))
}

#[cfg(test)]
mod tests;
