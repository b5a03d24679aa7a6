//! Where on the lane is the boat? Or is it anywhere else?
//!
//! Each fix is laid beside every segment that runs the boat's way: within 60 degrees of its course over ground.
//! The two legs of a course lie side by side and run opposite ways, so this alone tells them apart. Of several
//! the nearest wins, where a segment that the boat could not have reached since the last fix counts as 100 m
//! farther away, and the cut through the infield as a tolerance farther than the lane itself.
//!
//! A boat that fits no segment for more than a second is off course, and no number is shown; within that second
//! it is carried on along the lane at its speed. Once off, it comes back on only within three quarters of the
//! tolerance and 45 degrees. Below walking pace a course is noise, and the boat is not placed.
//!
//! Knows the rings. Fixes in the line's frame in, places on the lane out.

use super::stations::{BesideSegment, Point, Ring};
use crate::units::{Millimetres, MmPerSecond, Span, Utc, mul_div};

/// A fix in the start line's frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sighting {
    /// The moment of the fix.
    pub at: Utc,
    /// The antenna's place.
    pub point: Point,
    /// Over ground.
    pub speed: MmPerSecond,
    /// Course over ground along the line and past it, in units of 2^-14.
    pub ahead: (i16, i16),
}

/// A place on the lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OnLane {
    /// The way along the lane to the line.
    pub to_line: Millimetres,
    /// True on the cut through the infield.
    pub on_cut: bool,
    /// Which segment.
    pub segment: usize,
}

/// Follows the boat along the lane.
#[derive(Clone, Debug)]
pub struct Tracker {
    tolerance: i32,
    /// Lanes are fixed within this way of the line.
    fixed_within: Option<Millimetres>,
    last: Option<(Utc, OnLane)>,
    /// The last fix that fitted the lane.
    fitted: Option<Utc>,
    /// True after more than a second without a fit.
    off: bool,
}

/// Below this speed the course of a fix is noise; as where the line is crossed.
const STEERAGE: MmPerSecond = MmPerSecond::from_mm_s(2_000);

/// A boat that fits nowhere for longer than this is off course.
const OFF_AFTER: Span = Span::from_secs(1);

/// cos 60 and cos 45 degrees, in units of 2^-28.
const COS_60: i32 = 1 << 27;
const COS_45: i32 = 189_812_531;

/// What a jump along the lane costs, as metres aside; and how far off the expected place is a jump.
const JUMP: i32 = 100_000;

/// Outside the part where lanes are fixed, the tolerance is so many times as large.
const MILLING_TIMES: i32 = 3;

impl Tracker {
    /// A tracker that has seen nothing. `fixed_within` is where lanes are fixed; everywhere when `None`.
    #[must_use]
    pub fn new(tolerance: Millimetres, fixed_within: Option<Millimetres>) -> Self {
        let tolerance = i32::try_from(tolerance.as_mm()).unwrap_or(i32::MAX).clamp(1_000, 200_000);
        Self { tolerance, fixed_within, last: None, fitted: None, off: true }
    }

    /// Takes a fix; says where on the lane it is, or that it is on none.
    pub fn fix(&mut self, seen: &Sighting, lane: &Ring, cut: Option<&Ring>) -> Option<OnLane> {
        let expected = self.expected(seen, lane, cut);
        let found = (seen.speed >= STEERAGE).then(|| self.nearest(seen, expected, lane, cut)).flatten();
        if found.is_some() {
            self.fitted = Some(seen.at);
            self.off = false;
        } else if self.fitted.is_none_or(|fitted| seen.at.since(fitted) > OFF_AFTER) {
            self.off = true;
        }
        let place = found.or(if self.off { None } else { expected });
        self.last = place.map(|place| (seen.at, place));
        place
    }

    /// Where the boat must be if it has run on along its lane since the last fix.
    fn expected(&self, seen: &Sighting, lane: &Ring, cut: Option<&Ring>) -> Option<OnLane> {
        let (at, place) = self.last?;
        let run = mul_div(i64::from(seen.speed.as_mm_s()), seen.at.since(at).as_micros(), 1_000_000);
        let ring = cut.filter(|_| place.on_cut).unwrap_or(lane);
        let to_line = place.to_line.as_mm().saturating_sub(run).rem_euclid(ring.lap().as_mm().max(1));
        Some(OnLane { to_line: Millimetres::from_mm(to_line), ..place })
    }

    fn nearest(
        &self,
        seen: &Sighting,
        expected: Option<OnLane>,
        lane: &Ring,
        cut: Option<&Ring>,
    ) -> Option<OnLane> {
        let on_lane = self.nearest_of(seen, expected.filter(|place| !place.on_cut), lane, false);
        let on_cut =
            cut.and_then(|cut| self.nearest_of(seen, expected.filter(|place| place.on_cut), cut, true));
        let of_cut = on_cut.map(|(cost, place)| (cost.saturating_add(self.tolerance), place));
        let nearest = [on_lane, of_cut].into_iter().flatten().min_by_key(|(cost, _)| *cost);
        nearest.map(|(_, place)| place)
    }

    /// The best segment of a ring, and what it costs: millimetres aside.
    fn nearest_of(
        &self,
        seen: &Sighting,
        expected: Option<OnLane>,
        ring: &Ring,
        on_cut: bool,
    ) -> Option<(i32, OnLane)> {
        let narrow = if self.off { COS_45 } else { COS_60 };
        let lap = ring.lap().as_mm() as i32;
        let mut best: Option<(i32, OnLane)> = None;
        for (segment, station) in ring.stations().iter().enumerate() {
            let (x, y) = (i32::from(station.ahead.0), i32::from(station.ahead.1));
            let agreement = x * i32::from(seen.ahead.0) + y * i32::from(seen.ahead.1);
            if agreement < narrow {
                continue;
            }
            let Some(beside) = ring.beside(segment, seen.point, self.tolerance * MILLING_TIMES) else {
                continue;
            };
            if beside.aside > self.reach(beside.to_line) {
                continue;
            }
            let cost = beside.aside + jump(&beside, expected, lap);
            if best.is_none_or(|(least, _)| cost < least) {
                let to_line = Millimetres::from_mm(i64::from(beside.to_line));
                best = Some((cost, OnLane { to_line, on_cut, segment }));
            }
        }
        best
    }

    /// How far aside a boat may be, so far from the line.
    fn reach(&self, to_line: i32) -> i32 {
        let fixed = self.fixed_within.is_none_or(|within| i64::from(to_line) <= within.as_mm());
        let reach = if fixed { self.tolerance } else { self.tolerance * MILLING_TIMES };
        if self.off { reach / 4 * 3 } else { reach }
    }
}

/// What it costs that the boat is not where it was expected, the short way round the ring.
fn jump(beside: &BesideSegment, expected: Option<OnLane>, lap: i32) -> i32 {
    let Some(expected) = expected else { return 0 };
    let off = (expected.to_line.as_mm() as i32 - beside.to_line).abs();
    if off.min(lap - off) > JUMP { JUMP } else { 0 }
}
