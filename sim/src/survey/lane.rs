//! The lane round the turns, in floating point: a belt round pulleys, as the dash lays it out in whole numbers.
//!
//! Reckoned apart from the dash's own, so that the one checks the other. Source: the common outer tangent of two circles,
//! plane geometry.
//!
//! Knows points. Circles in, straights, arcs and lengths out.

use super::ground::Point;

/// A turn as this lane runs it: its middle and its radius, metres; positive turns left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulley {
    /// The middle.
    pub centre: Point,
    /// The radius, positive to the left.
    pub radius_m: f64,
}

/// The lane.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// Points along it in racing direction; the last joins the first.
    pub points: Vec<Point>,
    /// Once round, metres.
    pub length_m: f64,
}

/// Where the lane meets the start line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Meets {
    /// The point.
    pub at: Point,
    /// The lane's direction there, of length one.
    pub direction: Point,
    /// How far along the line from its left end, metres.
    pub along_m: f64,
    /// The piece of the lane that meets it.
    place: usize,
}

/// The step of an arc's points, degrees: on 200 m a chord leaves the arc by 8 mm.
const STEP_DEG: f64 = 1.0;

/// Lays out the lane; the pair of turns that no straight touches, where there is one.
///
/// # Errors
/// The places in the list of two turns of which one lies within the other.
pub fn lay(pulleys: &[Pulley]) -> Result<Lane, (usize, usize)> {
    let after = pulleys.iter().cycle().skip(1);
    let pairs = pulleys.iter().zip(after.clone()).enumerate();
    let pair = |place: usize| (place, (place + 1) % pulleys.len().max(1));
    let normals = pairs.map(|(place, (a, b))| normal(a, b).ok_or_else(|| pair(place)));
    let normals = normals.collect::<Result<Vec<_>, _>>()?;
    let before = normals.iter().cycle().skip(normals.len().saturating_sub(1));
    let mut lane = Lane { points: Vec::new(), length_m: 0.0 };
    for (((pulley, next), arrives), leaves) in pulleys.iter().zip(after).zip(before).zip(&normals) {
        lane.round(pulley, *arrives, *leaves);
        let begins = next.centre.plus(*leaves, -next.radius_m);
        lane.length_m += pulley.centre.plus(*leaves, -pulley.radius_m).to(begins).length();
    }
    Ok(lane)
}

/// The left normal of the straight from one pulley to the next: its point on either is the middle less radius times
/// normal, so that the way D between the middles has D n = r2 - r1.
fn normal(a: &Pulley, b: &Pulley) -> Option<Point> {
    let way = a.centre.to(b.centre);
    let toward = (b.radius_m - a.radius_m) / way.length();
    if !toward.is_finite() || toward.abs() >= 1.0 {
        return None;
    }
    let unit = way.unit()?;
    let aside = (1.0 - toward * toward).sqrt();
    Some(Point { east: unit.east * toward, north: unit.north * toward }.plus(unit.left(), aside))
}

/// How far a boat turns on a pulley, degrees; a whole turn is none.
fn turned(arrives: Point, leaves: Point, radius_m: f64) -> f64 {
    let angle = (arrives.cross(leaves) * radius_m.signum()).atan2(arrives.dot(leaves)).to_degrees();
    let angle = if angle < 0.0 { angle + 360.0 } else { angle };
    if angle > 359.5 { 0.0 } else { angle }
}

impl Lane {
    /// Adds the arc round a pulley.
    fn round(&mut self, pulley: &Pulley, arrives: Point, leaves: Point) {
        let angle = turned(arrives, leaves, pulley.radius_m);
        let steps = (angle / STEP_DEG).ceil().max(1.0);
        let from = arrives.north.atan2(arrives.east);
        for step in 0..=steps as u32 {
            let turned = (angle * f64::from(step) / steps).to_radians() * pulley.radius_m.signum();
            let (sin, cos) = (from + turned).sin_cos();
            self.points.push(pulley.centre.plus(Point { east: cos, north: sin }, -pulley.radius_m));
        }
        self.length_m += pulley.radius_m.abs() * angle.to_radians();
    }

    fn pieces(&self) -> impl Iterator<Item = (Point, Point)> {
        let next = self.points.iter().cycle().skip(1);
        self.points.iter().copied().zip(next.copied())
    }

    /// Every place where the lane crosses the straight through the line's ends in racing direction.
    pub fn meetings(&self, left: Point, right: Point) -> Vec<Meets> {
        let Some(along) = left.to(right).unit() else { return Vec::new() };
        let ahead = along.left();
        let meets = |(place, (a, b)): (usize, (Point, Point))| {
            let (from, to) = (left.to(a).dot(ahead), left.to(b).dot(ahead));
            let at = a.plus(a.to(b), from / (from - to));
            let direction = a.to(b).unit().filter(|_| from < 0.0 && to >= 0.0)?;
            Some(Meets { at, direction, along_m: left.to(at).dot(along), place })
        };
        self.pieces().enumerate().filter_map(meets).collect()
    }

    /// The way along the lane from its point nearest to a place up to the line, and how far that point is from the place.
    pub fn way_to_line(&self, from: Point, line: &Meets) -> (f64, f64) {
        let mut before = 0.0;
        let mut best = (f64::MAX, 0.0);
        let mut line_at = 0.0;
        for (place, (a, b)) in self.pieces().enumerate() {
            let way = a.to(b);
            let share = (a.to(from).dot(way) / way.dot(way).max(1e-12)).clamp(0.0, 1.0);
            let aside = a.plus(way, share).to(from).length();
            if aside < best.0 {
                best = (aside, before + share * way.length());
            }
            if place == line.place {
                line_at = before + a.to(line.at).length();
            }
            before += way.length();
        }
        ((line_at - best.1).rem_euclid(before), best.0)
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;

    fn pulley(east: f64, north: f64, radius_m: f64) -> Pulley {
        Pulley { centre: Point { east, north }, radius_m }
    }

    /// Plane geometry: two equal circles, two straights as long as their middles are apart, and one whole circle.
    #[test]
    fn an_oval_is_two_straights_and_a_circle_long() {
        let left = lay(&[pulley(0.0, 600.0, 150.0), pulley(0.0, -600.0, 150.0)]).unwrap();
        assert!((left.length_m - (2.0 * 1_200.0 + 2.0 * PI * 150.0)).abs() < 1e-9);
        let right = lay(&[pulley(0.0, 600.0, -150.0), pulley(0.0, -600.0, -150.0)]).unwrap();
        assert!((right.length_m - left.length_m).abs() < 1e-9);
    }

    /// Plane geometry: the belt round two unlike circles is 2 L + (R + r) pi + 2 (R - r) asin((R - r) / d).
    #[test]
    fn a_belt_round_unlike_pulleys_is_as_long_as_the_handbook_says() {
        let (d, big, small) = (1_000.0_f64, 300.0_f64, 100.0_f64);
        let lane = lay(&[pulley(0.0, 0.0, big), pulley(d, 0.0, small)]).unwrap();
        let straight = (d * d - (big - small).powi(2)).sqrt();
        let arcs = (big + small) * PI + 2.0 * (big - small) * ((big - small) / d).asin();
        assert!((lane.length_m - 2.0 * straight - arcs).abs() < 1e-9);
    }

    #[test]
    fn a_turn_within_another_is_told() {
        assert_eq!(lay(&[pulley(0.0, 0.0, 300.0), pulley(100.0, 0.0, 50.0)]), Err((0, 1)));
    }

    #[test]
    fn the_way_to_the_line_is_measured_along_the_lane() {
        // Left turns, so northwards on the east side; the line lies square across that straight.
        let lane = lay(&[pulley(0.0, 600.0, 150.0), pulley(0.0, -600.0, 150.0)]).unwrap();
        let (left, right) = (Point { east: 100.0, north: 0.0 }, Point { east: 200.0, north: 0.0 });
        let meets = lane.meetings(left, right);
        assert_eq!(meets.len(), 1, "the other straight runs the other way");
        assert!((meets[0].along_m - 50.0).abs() < 1e-6);
        let (way, aside) = lane.way_to_line(Point { east: 140.0, north: -400.0 }, &meets[0]);
        assert!((way - 400.0).abs() < 1e-6 && (aside - 10.0).abs() < 1e-6, "{way} {aside}");
        let (past, _) = lane.way_to_line(Point { east: 150.0, north: 400.0 }, &meets[0]);
        assert!((past - (lane.length_m - 400.0)).abs() < 0.2, "{past}");
    }
}
