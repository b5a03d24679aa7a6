//! A ring of stations: points round the lane, each with its way to the line and the speed limit from there on.
//!
//! The ring begins and ends on the start line. From station to station runs a straight segment; the way to the
//! line grows along it in proportion, so that the chord of an arc is as long as the arc.
//!
//! Knows places beside the line. Stations in, segments and stretches out.

use heapless::Vec;

use super::planner::{STRETCHES_MAX, Stretch};
use crate::course::Beside;
use crate::units::{Millimetres, MmPerSecond, mul_div};

/// The most stations of a ring.
pub const STATIONS_MAX: usize = 128;

/// No place is farther from the line's left end than this, in either direction: 16 km.
const FARTHEST: i32 = 1 << 24;

/// A place in the line's frame, millimetres, in 32 bits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Point {
    /// Along the line from its left end.
    pub along: i32,
    /// Beyond the line in racing direction.
    pub past: i32,
}

impl Point {
    /// `None` when it is more than 16 km away.
    #[must_use]
    pub fn new(beside: Beside) -> Option<Self> {
        let near = |mm: Millimetres| i32::try_from(mm.as_mm()).ok().filter(|mm| mm.abs() < FARTHEST);
        Some(Self { along: near(beside.along)?, past: near(beside.past)? })
    }
}

/// A point of the lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Station {
    /// Where it is.
    pub point: Point,
    /// The way along the lane from here to the line.
    pub to_line: Millimetres,
    /// The fastest speed from here to the next station; [`MmPerSecond::MAX`] on a straight.
    pub limit: MmPerSecond,
    /// The direction to the next station along the line and past it, in units of 2^-14.
    pub ahead: (i16, i16),
}

/// A point of the lane before it is part of a ring.
#[derive(Clone, Copy, Debug)]
pub(super) struct Laid {
    pub point: Point,
    /// The fastest speed from here on.
    pub limit: MmPerSecond,
    /// The way to the next one where that is not the straight distance.
    pub run: Option<Millimetres>,
}

/// The points of a lane in racing direction, one after the other, before the line is found.
pub(super) type Course = Vec<Laid, STATIONS_MAX>;

/// Why stations make no ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RingFault {
    /// More than [`STATIONS_MAX`] or more than [`STRETCHES_MAX`] speed limits in turn.
    TooMany,
    /// The lane does not pass the line in racing direction between its ends.
    MissesTheLine,
    /// It is longer than 100 km.
    TooLong,
}

/// Where a point lies beside a segment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BesideSegment {
    /// The way along the lane from there to the line, millimetres.
    pub to_line: i32,
    /// The distance from the lane.
    pub aside: i32,
}

/// The stations round the lane; the first lies on the line, and so does the end of the last segment.
#[derive(Clone, Debug, Default)]
pub struct Ring {
    stations: Vec<Station, STATIONS_MAX>,
}

impl Ring {
    /// Finds the line, makes it the ring's beginning, and measures the way from every point to it. The ring is made
    /// where it stands, because it is long.
    pub(super) fn close(&mut self, course: &mut Course, line: Millimetres) -> Result<(), RingFault> {
        let (before, share, point) = crossing(course, line).ok_or(RingFault::MissesTheLine)?;
        let Some(laid) = course.get(before).copied() else { return Err(RingFault::MissesTheLine) };
        let run = run(course, before);
        let first = mul_div(run, share, 1 << 30);
        let of_run = |mm: i64| laid.run.map(|_| Millimetres::from_mm(mm));
        if let Some(laid) = course.get_mut(before) {
            laid.run = of_run(first);
        }
        let on_line = Laid { point, run: of_run(run - first), ..laid };
        course.insert(before + 1, on_line).map_err(|_| RingFault::TooMany)?;
        let begin = (before + 1).min(course.len());
        course.rotate_left(begin);
        self.measure(course)
    }

    /// The way to the line from each point, and the direction to the next.
    fn measure(&mut self, course: &Course) -> Result<(), RingFault> {
        let lap: i64 = (0..course.len()).map(|place| run(course, place)).sum();
        if lap > 100_000_000 {
            return Err(RingFault::TooLong);
        }
        let mut to_line = lap;
        self.stations.clear();
        for (place, laid) in course.iter().enumerate() {
            let (along, past) = step(course, place);
            let chord = length(along, past);
            let ahead = |step: i64| i16::try_from(mul_div(step, 1 << 14, chord)).unwrap_or(0);
            let station = Station {
                point: laid.point,
                to_line: Millimetres::from_mm(to_line),
                limit: laid.limit,
                ahead: (ahead(along), ahead(past)),
            };
            self.stations.push(station).map_err(|_| RingFault::TooMany)?;
            to_line -= run(course, place);
        }
        Ok(())
    }

    /// All stations, in racing direction, the first on the line.
    #[must_use]
    pub fn stations(&self) -> &[Station] {
        &self.stations
    }

    /// Once round.
    #[must_use]
    pub fn lap(&self) -> Millimetres {
        self.stations.first().map_or(Millimetres::ZERO, |station| station.to_line)
    }

    /// The speed limit on a segment.
    #[must_use]
    pub fn limit(&self, segment: usize) -> MmPerSecond {
        self.stations.get(segment).map_or(MmPerSecond::MAX, |station| station.limit)
    }

    /// The way to the line from the point of the lane that is nearest to a place within a kilometre of it.
    #[must_use]
    pub fn nearest(&self, point: Point) -> Option<Millimetres> {
        let all = (0..self.stations.len()).filter_map(|place| self.beside(place, point, 1_000_000));
        all.min_by_key(|beside| beside.aside).map(|beside| Millimetres::from_mm(i64::from(beside.to_line)))
    }

    /// The lane as stretches of one speed limit each, the first from the line on.
    ///
    /// # Errors
    /// [`RingFault::TooMany`].
    pub fn stretches(&self) -> Result<Vec<Stretch, STRETCHES_MAX>, RingFault> {
        let mut stretches: Vec<Stretch, STRETCHES_MAX> = Vec::new();
        let ends = self.stations.iter().skip(1).map(|station| station.to_line).chain([Millimetres::ZERO]);
        for (station, end) in self.stations.iter().zip(ends) {
            let length = station.to_line - end;
            match stretches.last_mut().filter(|last| last.limit == station.limit) {
                Some(last) => last.length = last.length + length,
                None => {
                    stretches
                        .push(Stretch { length, limit: station.limit })
                        .map_err(|_| RingFault::TooMany)?;
                }
            }
        }
        Ok(stretches)
    }

    /// Where a point lies beside the segment that begins at a station, if it is within `reach` of it.
    #[must_use]
    pub fn beside(&self, place: usize, point: Point, reach: i32) -> Option<BesideSegment> {
        let station = self.stations.get(place)?;
        let end = self.stations.get(place + 1).map_or(0, |next| next.to_line.as_mm());
        let (begin, run) = (station.to_line.as_mm() as i32, (station.to_line.as_mm() - end) as i32);
        let (along, past) = (point.along - station.point.along, point.past - station.point.past);
        // Most segments are out of reach, and that is seen without a multiplication.
        let far = reach.saturating_add(run);
        if along.abs() > far || past.abs() > far {
            return None;
        }
        let (x, y) = (i64::from(station.ahead.0), i64::from(station.ahead.1));
        let (along, past) = (i64::from(along), i64::from(past));
        let on = ((along * x + past * y) >> 14) as i32;
        let aside = ((along * y - past * x) >> 14) as i32;
        let beyond = if on < 0 { on } else { (on - run).max(0) };
        let aside = aside.abs().saturating_add(beyond.abs());
        (aside <= reach).then_some(BesideSegment { to_line: begin - on.min(run).max(0), aside })
    }
}

/// The segment that passes the line in racing direction, how far along it, and where.
fn crossing(course: &Course, line: Millimetres) -> Option<(usize, i64, Point)> {
    let next = course.iter().cycle().skip(1);
    course.iter().zip(next).enumerate().find_map(|(place, (a, b))| {
        let (from, to) = (i64::from(a.point.past), i64::from(b.point.past));
        if from >= 0 || to < 0 {
            return None;
        }
        let share = mul_div(-from, 1 << 30, to - from);
        let aside = i64::from(b.point.along - a.point.along);
        let along = i64::from(a.point.along) + mul_div(aside, share, 1 << 30);
        let inside = (0..=line.as_mm()).contains(&along);
        let point = Point { along: i32::try_from(along).ok()?, past: 0 };
        inside.then_some((place, share, point))
    })
}

/// From a point to the next, in the line's frame.
fn step(course: &Course, place: usize) -> (i64, i64) {
    let next = course.get(place + 1).or(course.first());
    let (Some(a), Some(b)) = (course.get(place), next) else { return (0, 0) };
    (i64::from(b.point.along - a.point.along), i64::from(b.point.past - a.point.past))
}

/// The way from a point to the next.
fn run(course: &Course, place: usize) -> i64 {
    let (along, past) = step(course, place);
    let given = course.get(place).and_then(|laid| laid.run);
    given.map_or_else(|| length(along, past), Millimetres::as_mm)
}

fn length(along: i64, past: i64) -> i64 {
    let square = |part: i64| part.unsigned_abs().saturating_mul(part.unsigned_abs());
    i64::try_from(square(along).saturating_add(square(past)).isqrt()).unwrap_or(i64::MAX)
}
