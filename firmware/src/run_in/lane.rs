//! The lane on the water: bends and straights become a closed ring of stations.
//!
//! A course is told by its bends alone: where the middle of each is and how far from it the buoys lie. The lane
//! runs round them like a belt round pulleys: arcs about the middles, and straights that touch two arcs. Lane 1
//! lies next to the buoys, each further one a width outside it. The list of bends is that of a boat with
//! left-hand turns; the same list serves both ways round. A cut through the infield replaces some of the bends
//! by others, and is a ring of its own.
//!
//! Everything happens in the start line's own frame: millimetres past the line, and along it from its left end.
//!
//! Knows the start line and the boat. Settings in, stations out; done once.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use super::boat::BoatModel;
use super::stations::{Course, Laid, Point, Ring, RingFault};
use crate::angle::{ONE, SinCos, angle_of, scaled, sin_cos};
use crate::course::StartLine;
use crate::gnss::Position;
use crate::units::{Millimetres, MmPerSecond, mul_div};

/// The most bends of a course.
pub const BENDS_MAX: usize = 8;

/// The most bends of a cut.
pub const CUT_BENDS_MAX: usize = 4;

/// The most lanes.
pub const LANES: u8 = 6;

/// Which way a boat turns that races round the course.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Turns {
    /// Counter-clockwise seen from above.
    Left,
    /// Clockwise seen from above.
    Right,
}

/// One bend: buoys on a circle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Bend {
    /// The middle of the circle.
    pub centre: Position,
    /// From there to the buoys. Negative for a bend that turns the other way than the course does.
    pub radius: Millimetres,
}

/// A way through the infield that milling boats take.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cut {
    /// The first bend that it replaces, counted from 0 in the list.
    pub first: u8,
    /// The last one.
    pub last: u8,
    /// The bends that it takes instead.
    pub bends: Vec<Bend, CUT_BENDS_MAX>,
}

/// The lane that the boat runs in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LaneSettings {
    /// The bends in the order in which a boat with left-hand turns meets them; at least two.
    pub bends: Vec<Bend, BENDS_MAX>,
    /// Which way this race turns.
    pub turns: Turns,
    /// Lane 1 is next to the buoys.
    pub lane: u8,
    /// How wide a lane is; a boat runs in the middle of its own.
    pub lane_width: Millimetres,
    /// The way through the infield, if there is one.
    pub cut: Option<Cut>,
    /// The mark from which on lanes are fixed; without it they are everywhere.
    pub entrance: Option<Position>,
    /// How far beside its lane a boat still counts as on course, where lanes are fixed; elsewhere three times that.
    pub tolerance: Millimetres,
}

/// Why no lane can be laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LaneFault {
    /// Fewer than two bends, or bends that a cut names and that are not there.
    Bends,
    /// Not one of the lanes 1 to 6, or a width beyond 100 m.
    Lane,
    /// A bend that is tighter than 5 m in this lane, or wider than 5 km, or a middle off the plane.
    Radius,
    /// Two bends so close that no straight touches both.
    TooClose,
    /// The ring is none.
    Ring(RingFault),
}

/// A bend in the line's frame; the radius in this lane, negative when the boat turns right.
#[derive(Clone, Copy, Debug)]
struct Circle {
    centre: Point,
    radius: i64,
}

/// The vector square to the left of a straight, in units of 2^-30.
#[derive(Clone, Copy, Debug)]
struct Normal {
    along: i64,
    past: i64,
}

/// The step of an arc's stations. On 200 m its chord leaves the arc by 0.3 m.
const STEP_NANO: i64 = 6_000_000_000;

/// An arc that is this near a whole turn is none: the bend's straights are in line.
const NO_TURN_NANO: i64 = 359_500_000_000;

/// Lays out the lane in racing direction, or with `by_cut` the way through the infield, into a ring where it stands.
///
/// # Errors
/// [`LaneFault`] says why there is none.
#[inline(never)]
pub fn lay_out(
    ring: &mut Ring,
    lane: &LaneSettings,
    by_cut: Option<&Cut>,
    line: &StartLine,
    boat: &BoatModel,
) -> Result<(), LaneFault> {
    if !(1..=LANES).contains(&lane.lane)
        || !(Millimetres::ZERO..=Millimetres::from_mm(100_000)).contains(&lane.lane_width)
    {
        return Err(LaneFault::Lane);
    }
    let circles = match by_cut {
        Some(cut) => circles(&with_cut(&lane.bends, cut)?, lane, line)?,
        None => circles(&lane.bends, lane, line)?,
    };
    belt(ring, &circles, line, boat)
}

/// The bends with those of the cut in their places.
fn with_cut(bends: &[Bend], cut: &Cut) -> Result<Vec<Bend, { BENDS_MAX + CUT_BENDS_MAX }>, LaneFault> {
    let (first, last) = (usize::from(cut.first), usize::from(cut.last));
    let (before, after) = match (bends.get(..first), bends.get(last + 1..)) {
        (Some(before), Some(after)) if first <= last => (before, after),
        _ => return Err(LaneFault::Bends),
    };
    let mut whole = Vec::new();
    for piece in [before, &cut.bends, after] {
        whole.extend_from_slice(piece).map_err(|_| LaneFault::Bends)?;
    }
    Ok(whole)
}

/// The bends as this boat meets them.
fn circles(
    bends: &[Bend],
    lane: &LaneSettings,
    line: &StartLine,
) -> Result<Vec<Circle, { BENDS_MAX + CUT_BENDS_MAX }>, LaneFault> {
    if bends.len() < 2 {
        return Err(LaneFault::Bends);
    }
    // The middle of the lane: half a width outside the buoys for lane 1.
    let outside = lane.lane_width.as_mm() * (2 * i64::from(lane.lane) - 1) / 2;
    let mut circles = Vec::new();
    for bend in bends {
        let beside = line.beside(bend.centre);
        let centre = Point::new(beside).ok_or(LaneFault::Radius)?;
        let radius = bend.radius.as_mm().clamp(-10_000_000, 10_000_000);
        let left = radius + outside;
        if !(5_000..=5_000_000).contains(&left.abs()) || (left < 0) != (radius < 0) {
            return Err(LaneFault::Radius);
        }
        let radius = if lane.turns == Turns::Left { left } else { -left };
        circles.push(Circle { centre, radius }).map_err(|_| LaneFault::Bends)?;
    }
    if lane.turns == Turns::Right {
        circles.reverse();
    }
    Ok(circles)
}

/// The belt round the circles, as a ring of stations.
fn belt(ring: &mut Ring, circles: &[Circle], line: &StartLine, boat: &BoatModel) -> Result<(), LaneFault> {
    let mut course = Course::new();
    let before = circles.iter().cycle().skip(circles.len().saturating_sub(1));
    let after = circles.iter().cycle().skip(1);
    for ((circle, before), after) in circles.iter().zip(before).zip(after) {
        let (arrives, leaves) = (straight(before, circle)?, straight(circle, after)?);
        arc(&mut course, circle, arrives, leaves, boat)?;
    }
    ring.close(&mut course, line.length()).map_err(LaneFault::Ring)
}

/// The straight that touches two circles, the first at its beginning, the second at its end.
///
/// A point on it is a circle's middle less its radius times the straight's left normal n. So n is square to the
/// straight when the way D between the middles has D n = r2 - r1; the other part of n is what is left of one.
fn straight(a: &Circle, b: &Circle) -> Result<Normal, LaneFault> {
    let (along, past) = (b.centre.along - a.centre.along, b.centre.past - a.centre.past);
    let (along, past) = (i64::from(along), i64::from(past));
    let way = distance(along, past);
    let rise = b.radius - a.radius;
    if way <= rise.abs() {
        return Err(LaneFault::TooClose);
    }
    let toward = mul_div(rise, ONE, way);
    let aside = root(ONE * ONE - toward * toward);
    let (along, past) = (mul_div(along, ONE, way), mul_div(past, ONE, way));
    Ok(Normal {
        along: scaled(along, toward) - scaled(past, aside),
        past: scaled(past, toward) + scaled(along, aside),
    })
}

/// The stations of one bend: its arc in steps, and the beginning of the straight after it.
fn arc(
    course: &mut Course,
    circle: &Circle,
    arrives: Normal,
    leaves: Normal,
    boat: &BoatModel,
) -> Result<(), LaneFault> {
    let side = if circle.radius < 0 { -1 } else { 1 };
    let cos = scaled(arrives.along, leaves.along) + scaled(arrives.past, leaves.past);
    let sin = scaled(arrives.along, leaves.past) - scaled(arrives.past, leaves.along);
    let angle = match angle_of(SinCos { sin: sin * side, cos }) {
        NO_TURN_NANO.. => 0,
        angle => angle,
    };
    let radius = Millimetres::from_mm(circle.radius.abs());
    let limit = boat.bend_speed(radius);
    let steps = (angle + STEP_NANO - 1) / STEP_NANO;
    let up_to = |step: i64| (angle * step).checked_div(steps).unwrap_or(0);
    // The arc up to here, rounded once, so that rounding does not add up.
    let mut before = Millimetres::ZERO;
    for step in 0..steps {
        let turned = sin_cos(side * up_to(step));
        let normal = Normal {
            along: scaled(arrives.along, turned.cos) - scaled(arrives.past, turned.sin),
            past: scaled(arrives.along, turned.sin) + scaled(arrives.past, turned.cos),
        };
        let after = arc_length(up_to(step + 1), radius);
        push(course, Laid { point: on(circle, normal), limit, run: Some(after - before) })?;
        before = after;
    }
    push(course, Laid { point: on(circle, leaves), limit: MmPerSecond::MAX, run: None })
}

fn push(course: &mut Course, laid: Laid) -> Result<(), LaneFault> {
    course.push(laid).map_err(|_| LaneFault::Ring(RingFault::TooMany))
}

/// The point of a circle that has the normal.
fn on(circle: &Circle, normal: Normal) -> Point {
    let off = |centre: i32, normal: i64| {
        i32::try_from(i64::from(centre) - scaled(circle.radius, normal)).unwrap_or(centre)
    };
    Point { along: off(circle.centre.along, normal.along), past: off(circle.centre.past, normal.past) }
}

fn arc_length(nano_degrees: i64, radius: Millimetres) -> Millimetres {
    let micro_radians = mul_div(nano_degrees, 3_141_592_654, 180_000_000_000_000);
    Millimetres::from_mm(mul_div(micro_radians, radius.as_mm(), 1_000_000))
}

fn distance(along: i64, past: i64) -> i64 {
    root(along.saturating_mul(along).saturating_add(past.saturating_mul(past)))
}

/// The root, rounded down; nothing for what has none.
fn root(square: i64) -> i64 {
    i64::try_from(square.max(0).unsigned_abs().isqrt()).unwrap_or(i64::MAX)
}
