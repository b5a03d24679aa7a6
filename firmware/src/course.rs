//! The start line on the water, in millimetres.
//!
//! Positions on the ellipsoid become places in a plane that touches the earth at the left end of the line.
//! The plane uses the radii of curvature at the mean latitude of origin and place, to first order, so that
//! distances from the origin are good to a millimetre within 5 km.
//!
//! Knows units, angles and positions. Position in, place beside the line out.

use serde::{Deserialize, Serialize};

use crate::angle::{ONE, radians, scaled, sin_cos};
use crate::gnss::Position;
use crate::units::{Millimetres, NanoDegrees, mul_div, root};

/// What the course is, as the race office gives it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CourseSettings {
    /// The line's left end as seen by a boat that crosses in racing direction.
    pub line_left: Position,
    /// The line's right end.
    pub line_right: Position,
    /// How well the ends are known: one standard deviation, across the line.
    pub line_sd: Millimetres,
    /// How far beyond an end the bow may pass and still have crossed.
    pub end_tolerance: Millimetres,
    /// The official length of a lap; lap speeds are made with it.
    pub lap_length: Millimetres,
}

/// Why a course cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CourseFault {
    /// A latitude beyond 85 degrees or a longitude beyond 180.
    OffTheGlobe,
    /// The ends are less than 5 m or more than 5 km apart.
    LineLength(Millimetres),
    /// The lap is shorter than 100 m or longer than 100 km.
    LapLength(Millimetres),
}

/// A place in the plane: east and north of the origin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// East of the origin.
    pub east: Millimetres,
    /// North of the origin.
    pub north: Millimetres,
}

/// The plane that touches the ellipsoid at its origin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plane {
    origin: Position,
    /// Meridian radius of curvature.
    meridian_mm: i64,
    /// Radius of the circle of latitude.
    parallel_mm: i64,
    /// How the meridian radius grows with latitude: 3 e^2 sin cos / w, in units of 2^-30 per radian.
    meridian_growth: i64,
    /// How the circle of latitude shrinks with latitude: M sin(latitude), millimetres per radian.
    parallel_loss_mm: i64,
}

impl Plane {
    /// The plane at `origin` on the WGS 84 ellipsoid (a = 6,378,137 m, 1/f = 298.257223563).
    ///
    /// With w = 1 - e^2 sin^2: N = a / sqrt(w), M = a (1 - e^2) / w^1.5 (any handbook of geodesy).
    #[must_use]
    pub fn at(origin: Position) -> Self {
        const A_MM: i64 = 6_378_137_000;
        // e^2 = f (2 - f) = 0.00669437999014, in units of 2^-30.
        const E2: i64 = 7_188_036;
        let angle = sin_cos(origin.lat.as_nano());
        let w = ONE - scaled(E2, scaled(angle.sin, angle.sin));
        let root_w = root(u128::from(w.unsigned_abs()) << 30);
        let normal_mm = mul_div(A_MM, ONE, root_w);
        let meridian_mm = mul_div(scaled(normal_mm, ONE - E2), ONE, w);
        Self {
            origin,
            meridian_mm,
            parallel_mm: scaled(normal_mm, angle.cos),
            meridian_growth: mul_div(3 * scaled(E2, scaled(angle.sin, angle.cos)), ONE, w),
            parallel_loss_mm: scaled(meridian_mm, angle.sin),
        }
    }

    /// Where `position` lies in the plane.
    #[must_use]
    pub fn place(&self, position: Position) -> Place {
        let lat = (position.lat - self.origin.lat).as_nano();
        let lon = shortest_way_round((position.lon - self.origin.lon).as_nano());
        let half_lat = radians(lat) / 2;
        let meridian = self.meridian_mm + scaled(self.meridian_mm, scaled(self.meridian_growth, half_lat));
        let parallel = self.parallel_mm - scaled(self.parallel_loss_mm, half_lat);
        Place { east: arc(lon, parallel), north: arc(lat, meridian) }
    }
}

/// The length of an arc of `nano_degrees` on a circle of `radius_mm`.
fn arc(nano_degrees: i64, radius_mm: i64) -> Millimetres {
    // In two steps, so that neither leaves 64 bits; the first keeps a third of a nano-degree.
    Millimetres::from_mm(mul_div(
        mul_div(nano_degrees, 3_141_592_654, 1_000_000_000),
        radius_mm,
        180_000_000_000,
    ))
}

/// A difference of longitude, the short way across the 180th meridian.
pub(crate) fn shortest_way_round(nano_degrees: i64) -> i64 {
    const HALF: i64 = 180_000_000_000;
    (nano_degrees + HALF).rem_euclid(2 * HALF) - HALF
}

/// A place told by the line: how far past it, and how far along it from the left end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Beside {
    /// Beyond the line in racing direction; negative before it.
    pub past: Millimetres,
    /// Along the line from its left end.
    pub along: Millimetres,
}

/// The start line in its plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StartLine {
    plane: Plane,
    length: Millimetres,
    /// The direction from the left end to the right, in units of 2^-30.
    right_east: i64,
    right_north: i64,
}

impl StartLine {
    /// The line of a checked course.
    ///
    /// # Errors
    /// [`CourseFault`] says what makes the course unusable.
    pub fn new(course: &CourseSettings) -> Result<Self, CourseFault> {
        check_on_globe(course.line_left)?;
        check_on_globe(course.line_right)?;
        let lap = course.lap_length;
        if lap < Millimetres::from_mm(100_000) || lap > Millimetres::from_mm(100_000_000) {
            return Err(CourseFault::LapLength(lap));
        }
        let plane = Plane::at(course.line_left);
        let right = plane.place(course.line_right);
        let length = right.distance();
        if length < Millimetres::from_mm(5_000) || length > Millimetres::from_mm(5_000_000) {
            return Err(CourseFault::LineLength(length));
        }
        Ok(Self {
            plane,
            length,
            right_east: mul_div(right.east.as_mm(), ONE, length.as_mm()),
            right_north: mul_div(right.north.as_mm(), ONE, length.as_mm()),
        })
    }

    /// From end to end.
    #[must_use]
    pub const fn length(&self) -> Millimetres {
        self.length
    }

    /// Where `position` lies beside the line.
    #[must_use]
    pub fn beside(&self, position: Position) -> Beside {
        let place = self.plane.place(position);
        let (past, along) = self.turned(place.east.as_mm(), place.north.as_mm());
        Beside { past: Millimetres::from_mm(past), along: Millimetres::from_mm(along) }
    }

    /// A vector (east, north) in any unit, as (across the line in racing direction, along it to the right).
    ///
    /// Racing direction is a quarter turn left of the way from the left end to the right.
    #[must_use]
    pub const fn turned(&self, east: i64, north: i64) -> (i64, i64) {
        (
            scaled(north, self.right_east) - scaled(east, self.right_north),
            scaled(east, self.right_east) + scaled(north, self.right_north),
        )
    }
}

impl Place {
    /// From the origin, in a straight line.
    #[must_use]
    pub fn distance(self) -> Millimetres {
        let (east, north) = (self.east.as_mm().unsigned_abs(), self.north.as_mm().unsigned_abs());
        let square = u128::from(east) * u128::from(east) + u128::from(north) * u128::from(north);
        // The root of four times the square, halved: to the nearest millimetre instead of down.
        Millimetres::from_mm(root(square.saturating_mul(4)).saturating_add(1) / 2)
    }
}

/// Latitudes beyond 85 degrees are refused: the plane's east would shrink to nothing.
fn check_on_globe(position: Position) -> Result<(), CourseFault> {
    let lat_ok = position.lat.abs() <= NanoDegrees::from_nano(85_000_000_000);
    let lon_ok = position.lon.abs() <= NanoDegrees::from_nano(180_000_000_000);
    if lat_ok && lon_ok { Ok(()) } else { Err(CourseFault::OffTheGlobe) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn position(lat: f64, lon: f64) -> Position {
        let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
        Position { lat: nano(lat), lon: nano(lon) }
    }

    fn line() -> StartLine {
        // 60.000 m due north of the left end; computed with the geographiclib library, version 2.1.
        StartLine::new(&CourseSettings {
            line_left: position(47.58, -122.25),
            line_right: position(47.580539655, -122.25),
            line_sd: Millimetres::ZERO,
            end_tolerance: Millimetres::ZERO,
            lap_length: Millimetres::from_mm(4_023_360),
        })
        .unwrap()
    }

    #[test]
    fn sixty_metres_north_is_sixty_metres() {
        assert!((line().length().as_mm() - 60_000).abs() <= 1);
    }

    #[test]
    fn racing_direction_is_left_of_the_way_from_left_end_to_right_end() {
        // The line runs north, so a boat that has its left end on the left goes west.
        let west = line().beside(position(47.5802, -122.2501));
        assert!(west.past.as_mm() > 7_000, "{west:?}");
        let east = line().beside(position(47.5802, -122.2499));
        assert!(east.past.as_mm() < -7_000, "{east:?}");
    }

    #[test]
    fn the_180th_meridian_is_no_gap() {
        // 0.0002 degrees at N cos 17 = 6,101,190 m: 21.297 m by hand.
        let plane = Plane::at(position(-17.0, 179.9999));
        let place = plane.place(position(-17.0, -179.9999));
        assert!((place.east.as_mm() - 21_297).abs() <= 1, "{place:?}");
    }

    #[test]
    fn courses_that_make_no_sense_are_refused() {
        let mut course = CourseSettings {
            line_left: position(45.0, -30.0),
            line_right: position(45.0, -30.0),
            line_sd: Millimetres::ZERO,
            end_tolerance: Millimetres::ZERO,
            lap_length: Millimetres::from_mm(4_023_360),
        };
        assert!(matches!(StartLine::new(&course), Err(CourseFault::LineLength(_))));
        course.line_right = position(45.0, -29.998);
        assert!(StartLine::new(&course).is_ok());
        course.lap_length = Millimetres::from_mm(12);
        assert!(matches!(StartLine::new(&course), Err(CourseFault::LapLength(_))));
        course.line_left = position(95.0, -30.0);
        assert_eq!(StartLine::new(&course), Err(CourseFault::OffTheGlobe));
    }
}
