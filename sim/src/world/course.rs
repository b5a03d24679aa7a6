//! The course as it is: an oval of two straights and two semicircles, where its start line lies on the globe,
//! and the way between path length, metres on the water, and latitude and longitude.
//!
//! The boat's path is one-dimensional: `s` metres along its lane, zero where the lane meets the start line,
//! growing in racing direction from lap to lap. A flat plane with its origin in the middle of the line takes
//! it to east and north metres, and the WGS 84 radii take those to degrees.
//!
//! This room knows the maths only.

use core::f64::consts::{FRAC_PI_2, PI};

use serde::Deserialize;

use super::maths::{atan2, once_round, sin_cos};

/// Which way the turns go.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Turns {
    /// Counter-clockwise seen from above.
    #[default]
    Left,
    /// Clockwise seen from above.
    Right,
}

/// Where the course lies and what shape it has. The default is invented water, 2.5 statute miles round.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CourseSettings {
    /// Left end of the start line as seen by a boat crossing in racing direction: latitude and longitude in
    /// degrees, WGS 84.
    pub line_left: [f64; 2],
    /// Right end of the start line, likewise.
    pub line_right: [f64; 2],
    /// Official length of a lap, metres; it is measured along the path through the middle of the line.
    pub lap_length_m: f64,
    /// Radius of the turns on that path.
    pub turn_radius_m: f64,
    /// How far outside that path the boat runs.
    pub lane_offset_m: f64,
    /// From the end of the last turn to the line.
    pub turn_to_line_m: f64,
    /// How far the straight points clockwise of the line's square.
    pub skew_deg: f64,
    /// Which way the turns go.
    pub turns: Turns,
}

impl Default for CourseSettings {
    fn default() -> Self {
        Self {
            line_left: [45.0, -30.0],
            line_right: [45.0, -29.998],
            lap_length_m: 4_023.36,
            turn_radius_m: 200.0,
            lane_offset_m: 0.0,
            turn_to_line_m: 900.0,
            skew_deg: 0.0,
            turns: Turns::Left,
        }
    }
}

/// A place on the boat's path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Metres east of the middle of the start line.
    pub east_m: f64,
    /// Metres north of it.
    pub north_m: f64,
    /// Direction of the path, clockwise from north, 0 to 2 pi.
    pub heading_rad: f64,
    /// One over the radius, positive in a turn to the right; zero on a straight.
    pub curvature_per_m: f64,
}

impl Place {
    /// The point so many metres straight ahead: where the bow is.
    #[must_use]
    pub fn ahead(&self, metres: f64) -> (f64, f64) {
        let (sin, cos) = sin_cos(self.heading_rad);
        (self.east_m + metres * sin, self.north_m + metres * cos)
    }
}

/// A stretch of the path on which the curvature does not change.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    /// Path length from the line to its end.
    end: f64,
    /// Path length from the line to its beginning.
    start: f64,
    /// Where it begins: metres ahead of the line's middle, and metres towards the inside of the course.
    from: (f64, f64),
    /// Angle turned through since the line, in units of the turning direction.
    turned: f64,
    /// Its sine and cosine.
    bearing: (f64, f64),
    /// One over the radius; zero on a straight.
    curvature: f64,
}

/// The course, ready to be asked.
#[derive(Clone, Debug)]
pub struct Course {
    plane: Plane,
    /// Unit vector from the left end of the line to the right one, east and north.
    along_line: (f64, f64),
    line_m: f64,
    heading_rad: f64,
    ahead: (f64, f64),
    /// +1 for left turns: the inside is to the left.
    inside: f64,
    lap_m: f64,
    turn_radius_m: f64,
    stretches: [Stretch; 5],
}

impl Course {
    /// Lays out the course. A radius too large for the lap length gives a circle.
    #[must_use]
    pub fn new(settings: &CourseSettings) -> Self {
        let [left, right] = [settings.line_left, settings.line_right];
        let plane = Plane::at((left[0] + right[0]) / 2.0, (left[1] + right[1]) / 2.0);
        let (from, to) = (plane.metres(left[0], left[1]), plane.metres(right[0], right[1]));
        let (east, north) = (to.0 - from.0, to.1 - from.1);
        let line_m = (east * east + north * north).sqrt();
        let along_line = if line_m > 0.0 { (east / line_m, north / line_m) } else { (1.0, 0.0) };
        let square = atan2(along_line.0, along_line.1) - FRAC_PI_2;
        let heading_rad = square + settings.skew_deg.to_radians();

        let radius = settings.turn_radius_m.clamp(0.0, settings.lap_length_m / (2.0 * PI));
        let straight = (settings.lap_length_m - 2.0 * PI * radius) / 2.0;
        let lane_radius = (radius + settings.lane_offset_m).max(1.0);
        let behind = settings.turn_to_line_m.clamp(0.0, straight);
        Self {
            plane,
            along_line,
            line_m,
            heading_rad,
            ahead: sin_cos(heading_rad),
            inside: if settings.turns == Turns::Left { 1.0 } else { -1.0 },
            lap_m: 2.0 * (straight + PI * lane_radius),
            turn_radius_m: lane_radius,
            stretches: stretches(straight, behind, lane_radius, settings.lane_offset_m),
        }
    }

    /// Path length of one lap in the boat's lane.
    #[must_use]
    pub const fn lap_m(&self) -> f64 {
        self.lap_m
    }

    /// Radius of the turns in the boat's lane.
    #[must_use]
    pub const fn turn_radius_m(&self) -> f64 {
        self.turn_radius_m
    }

    /// From the end of the last turn to the line.
    #[must_use]
    pub fn turn_to_line_m(&self) -> f64 {
        let [.., last] = &self.stretches;
        last.end - last.start
    }

    /// Length of each of the two straights.
    #[must_use]
    pub fn straight_m(&self) -> f64 {
        let [_, _, back, ..] = &self.stretches;
        back.end - back.start
    }

    /// The place so far along the path; laps repeat in both directions.
    #[must_use]
    pub fn place(&self, s: f64) -> Place {
        let (u, stretch) = self.stretch(s);
        let run = u - stretch.start;
        let turned = stretch.turned + run * stretch.curvature;
        let (sin0, cos0) = stretch.bearing;
        let (ahead, inwards) = if stretch.curvature == 0.0 {
            (run * cos0, run * sin0)
        } else {
            let (sin1, cos1) = sin_cos(turned);
            ((sin1 - sin0) / stretch.curvature, (cos0 - cos1) / stretch.curvature)
        };
        let (ahead, left) = (stretch.from.0 + ahead, self.inside * (stretch.from.1 + inwards));
        Place {
            east_m: ahead * self.ahead.0 - left * self.ahead.1,
            north_m: ahead * self.ahead.1 + left * self.ahead.0,
            heading_rad: once_round(self.heading_rad - self.inside * turned),
            curvature_per_m: -self.inside * stretch.curvature,
        }
    }

    /// Path length to the next turn; zero inside one.
    #[must_use]
    pub fn until_turn(&self, s: f64) -> f64 {
        let (u, stretch) = self.stretch(s);
        let [first, .., home] = &self.stretches;
        if stretch.curvature != 0.0 {
            0.0
        } else if u >= home.start {
            home.end - u + first.end
        } else {
            stretch.end - u
        }
    }

    /// Path length to the end of the turn that the boat is in; zero on a straight.
    #[must_use]
    pub fn until_straight(&self, s: f64) -> f64 {
        let (u, stretch) = self.stretch(s);
        if stretch.curvature == 0.0 { 0.0 } else { stretch.end - u }
    }

    /// +1 where the outside of the course is to the right of a boat on its way, -1 where it is to the left.
    #[must_use]
    pub const fn outside(&self) -> f64 {
        self.inside
    }

    /// The nearest place on the path to a point of the plane: path length from the line, 0 to one lap, and how far
    /// outside of the path the point lies.
    #[must_use]
    pub fn nearest(&self, east_m: f64, north_m: f64) -> (f64, f64) {
        let (sin, cos) = self.ahead;
        let ahead = east_m * sin + north_m * cos;
        let inwards = self.inside * (north_m * sin - east_m * cos);
        let [begin, turn_1, back, turn_2, home] = &self.stretches;
        let centre = begin.from.1 + self.turn_radius_m;
        let round = |turn: &Stretch, along: f64, out: f64| {
            let from_centre = (along * along + out * out).sqrt();
            (turn.start + self.turn_radius_m * atan2(along, out), from_centre - self.turn_radius_m)
        };
        if ahead > begin.end {
            round(turn_1, ahead - begin.end, centre - inwards)
        } else if ahead < home.from.0 {
            round(turn_2, home.from.0 - ahead, inwards - centre)
        } else if inwards > centre {
            (back.start + begin.end - ahead, inwards - back.from.1)
        } else {
            (if ahead < 0.0 { self.lap_m + ahead } else { ahead }, begin.from.1 - inwards)
        }
    }

    /// Metres past the start line in racing direction, and metres from its left end towards its right one.
    #[must_use]
    pub fn from_line(&self, east_m: f64, north_m: f64) -> (f64, f64) {
        let (x, y) = self.along_line;
        (north_m * x - east_m * y, self.line_m / 2.0 + east_m * x + north_m * y)
    }

    /// The point of the start line so many metres from its left end towards its right one, east and north.
    #[must_use]
    pub fn on_line(&self, along_m: f64) -> (f64, f64) {
        let from_middle = along_m - self.line_m / 2.0;
        (from_middle * self.along_line.0, from_middle * self.along_line.1)
    }

    /// Length of the start line.
    #[must_use]
    pub const fn line_m(&self) -> f64 {
        self.line_m
    }

    /// Latitude and longitude in degrees of a point on the plane.
    #[must_use]
    pub fn degrees(&self, east_m: f64, north_m: f64) -> (f64, f64) {
        self.plane.degrees(east_m, north_m)
    }

    fn stretch(&self, s: f64) -> (f64, &Stretch) {
        let u = s - (s / self.lap_m).floor() * self.lap_m;
        let [.., last] = &self.stretches;
        (u, self.stretches.iter().find(|stretch| u < stretch.end).unwrap_or(last))
    }
}

/// The five stretches of a lap that begins on the line: straight, turn, straight, turn, straight.
fn stretches(straight: f64, behind: f64, radius: f64, offset: f64) -> [Stretch; 5] {
    let (before_turn, bend) = (straight - behind, PI * radius);
    let far_side = 2.0 * radius - offset;
    let begin = Stretch {
        start: 0.0,
        end: before_turn,
        from: (0.0, -offset),
        turned: 0.0,
        bearing: (0.0, 1.0),
        curvature: 0.0,
    };
    let next = |last: Stretch, length: f64, from: (f64, f64), turned: f64, curvature: f64| Stretch {
        start: last.end,
        end: last.end + length,
        from,
        turned,
        bearing: sin_cos(turned),
        curvature,
    };
    let turn_1 = next(begin, bend, (before_turn, -offset), 0.0, 1.0 / radius);
    let back = next(turn_1, straight, (before_turn, far_side), PI, 0.0);
    let turn_2 = next(back, bend, (-behind, far_side), PI, 1.0 / radius);
    let home = next(turn_2, behind, (-behind, -offset), 2.0 * PI, 0.0);
    [begin, turn_1, back, turn_2, home]
}

/// Semi-major axis and flattening of the WGS 84 ellipsoid.
const SEMI_MAJOR_M: f64 = 6_378_137.0;
const FLATTENING: f64 = 1.0 / 298.257_223_563;

/// Metres on the water round one point of the globe.
///
/// The radii are taken in the middle between the point and the origin; out to 5 km between 30 and 50 degrees
/// of latitude that is within 0.25 mm of the exact geodesic.
#[derive(Clone, Copy, Debug)]
struct Plane {
    lat_deg: f64,
    lon_deg: f64,
    /// Metres per radian of latitude at the origin, good enough to find the middle.
    meridian_m: f64,
}

impl Plane {
    fn at(lat_deg: f64, lon_deg: f64) -> Self {
        Self { lat_deg, lon_deg, meridian_m: radii(lat_deg.to_radians()).0 }
    }

    fn degrees(&self, east_m: f64, north_m: f64) -> (f64, f64) {
        let middle = self.lat_deg.to_radians() + 0.5 * north_m / self.meridian_m;
        let (meridian, parallel) = radii(middle);
        (self.lat_deg + (north_m / meridian).to_degrees(), self.lon_deg + (east_m / parallel).to_degrees())
    }

    fn metres(&self, lat_deg: f64, lon_deg: f64) -> (f64, f64) {
        let (meridian, parallel) = radii(((self.lat_deg + lat_deg) / 2.0).to_radians());
        ((lon_deg - self.lon_deg).to_radians() * parallel, (lat_deg - self.lat_deg).to_radians() * meridian)
    }
}

/// Metres per radian of latitude and of longitude at a latitude (radians): M, and N times its cosine.
///
/// M = a (1 - e^2) / (1 - e^2 sin^2)^1.5 and N = a / (1 - e^2 sin^2)^0.5.
fn radii(lat: f64) -> (f64, f64) {
    let e2 = FLATTENING * (2.0 - FLATTENING);
    let (sin, cos) = sin_cos(lat);
    let w2 = 1.0 - e2 * sin * sin;
    let normal = SEMI_MAJOR_M / w2.sqrt();
    (normal * (1.0 - e2) / w2, normal * cos)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() < within, "{a} is not {b}");
    }

    /// Radii and metres per degree from GeographicLib 2.1 with the WGS 84 figures.
    #[test]
    fn the_radii_are_those_of_wgs_84() {
        for (lat, m, per_lat, per_lon) in [
            (30.0, 6_351_377.104, 110_852.442_5, 96_486.280_3),
            (40.0, 6_361_815.826, 111_034.632_6, 85_393.857_0),
            (47.6, 6_370_290.109, 111_182.536_7, 75_200.385_5),
            (50.0, 6_372_955.926, 111_229.064_0, 71_695.753_6),
        ] {
            let (meridian, parallel) = radii(f64::to_radians(lat));
            close(meridian, m, 1e-3);
            close(meridian.to_radians(), per_lat, 1e-4);
            close(parallel.to_radians(), per_lon, 1e-4);
        }
    }

    #[test]
    fn degrees_and_metres_are_each_others_inverse_within_a_tenth_of_a_millimetre() {
        let plane = Plane::at(47.6, -122.25);
        for (east, north) in [(5_000.0, 0.0), (0.0, -5_000.0), (3_000.0, 4_000.0), (-1.0, 2.0)] {
            let (lat, lon) = plane.degrees(east, north);
            let (e, n) = plane.metres(lat, lon);
            close(e, east, 1e-4);
            close(n, north, 1e-4);
        }
    }

    /// The demonstration line lies along a parallel, left end in the west: racing direction is north.
    #[test]
    fn the_path_starts_north_through_the_middle_of_the_line_and_turns_left() {
        let course = Course::new(&CourseSettings::default());
        let start = course.place(0.0);
        close(start.heading_rad.cos(), 1.0, 1e-12);
        close(course.from_line(start.east_m, start.north_m).0, 0.0, 1e-6);
        close(course.from_line(start.east_m, start.north_m).1, course.line_m() / 2.0, 1e-6);
        let quarter = course.place(course.stretches[0].end + course.stretches[1].end / 2.0 - 1.0);
        assert!(quarter.east_m < -100.0, "left of a boat heading north is west");
        assert!(quarter.curvature_per_m < 0.0);
    }

    #[test]
    fn a_lap_closes_is_as_long_as_stated_and_an_outer_lane_is_two_pi_offsets_longer() {
        for (turns, lane_offset_m) in [(Turns::Left, 0.0), (Turns::Right, 0.0), (Turns::Left, 30.0)] {
            let settings =
                CourseSettings { turns, lane_offset_m, skew_deg: 3.0, ..CourseSettings::default() };
            let course = Course::new(&settings);
            close(course.lap_m(), 4_023.36 + 2.0 * PI * lane_offset_m, 1e-9);
            let steps = 200_000;
            let at = |k: i32| course.place(course.lap_m() * f64::from(k) / f64::from(steps));
            let length: f64 = (0..steps)
                .map(|k| {
                    let (a, b) = (at(k), at(k + 1));
                    (b.east_m - a.east_m).hypot(b.north_m - a.north_m)
                })
                .sum();
            close(length, course.lap_m(), 1e-4);
            close(at(0).east_m, at(steps).east_m, 1e-9);
            close(at(0).north_m, at(steps).north_m, 1e-9);
        }
    }

    #[test]
    fn the_nearest_place_of_a_point_beside_the_path_is_where_it_was_put() {
        for turns in [Turns::Left, Turns::Right] {
            let settings = CourseSettings { turns, skew_deg: 3.0, lane_offset_m: 12.0, ..Default::default() };
            let course = Course::new(&settings);
            for k in 0..400 {
                let (s, aside) =
                    (course.lap_m() * f64::from(k) / 400.0 + 0.3, f64::from(k % 9) * 10.0 - 40.0);
                let place = course.place(s);
                let out = course.outside() * aside;
                let (sin, cos) = place.heading_rad.sin_cos();
                let (found, beside) = course.nearest(place.east_m + out * cos, place.north_m - out * sin);
                close(found, s, 1e-6);
                close(beside, aside, 1e-6);
            }
        }
    }

    #[test]
    fn the_way_to_the_next_turn_runs_over_the_line() {
        for turn_radius_m in [200.0, 123.4, 98.7, 301.3] {
            let course =
                Course::new(&CourseSettings { turn_radius_m, turn_to_line_m: 456.7, ..Default::default() });
            let after_line = course.until_turn(0.0);
            close(course.until_turn(-100.0), after_line + 100.0, 1e-9);
            close(course.until_turn(after_line + 1.0), 0.0, 1e-9);
        }
    }
}
