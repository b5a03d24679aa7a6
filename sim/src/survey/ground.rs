//! Places on the ground in metres: a plane about the course, true to the ellipsoid from its middle.
//!
//! A place becomes its geodesic distance and azimuth from the middle (azimuthal equidistant projection). Between two
//! places that are each within 10 km of it, distances are true to a part in a million.
//!
//! Knows the geodesic library. Degrees in, metres east and north out, and back.

use firmware::gnss::Position;
use firmware::units::NanoDegrees;
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

/// Metres east and north.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// East.
    pub east: f64,
    /// North.
    pub north: f64,
}

impl Point {
    /// From the one to the other.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { east: other.east - self.east, north: other.north - self.north }
    }

    /// So much of a vector added.
    #[must_use]
    pub fn plus(self, way: Self, times: f64) -> Self {
        Self { east: self.east + way.east * times, north: self.north + way.north * times }
    }

    /// Its length as a vector.
    #[must_use]
    pub fn length(self) -> f64 {
        self.east.hypot(self.north)
    }

    /// The scalar product: along which, times how long.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.east * other.east + self.north * other.north
    }

    /// The cross product: positive when `other` points to the left of this.
    #[must_use]
    pub fn cross(self, other: Self) -> f64 {
        self.east * other.north - self.north * other.east
    }

    /// A quarter turn to the left.
    #[must_use]
    pub const fn left(self) -> Self {
        Self { east: -self.north, north: self.east }
    }

    /// The same direction with length one; nothing for a vector without length.
    #[must_use]
    pub fn unit(self) -> Option<Self> {
        let length = self.length();
        (length > 0.0).then(|| Self { east: self.east / length, north: self.north / length })
    }
}

/// The plane.
#[derive(Debug)]
pub struct Ground {
    earth: Geodesic,
    middle: (f64, f64),
}

impl Ground {
    /// The plane about a middle.
    #[must_use]
    pub fn about(middle: Position) -> Self {
        Self { earth: Geodesic::wgs84(), middle: degrees(middle) }
    }

    /// A position in the plane.
    #[must_use]
    pub fn point(&self, position: Position) -> Point {
        let ((lat, lon), (lat2, lon2)) = (self.middle, degrees(position));
        let (distance, azimuth, _, _): (f64, f64, f64, f64) = self.earth.inverse(lat, lon, lat2, lon2);
        let (sin, cos) = azimuth.to_radians().sin_cos();
        Point { east: distance * sin, north: distance * cos }
    }

    /// A point of the plane as a position.
    #[must_use]
    pub fn position(&self, point: Point) -> Position {
        let azimuth = point.east.atan2(point.north).to_degrees();
        let (lat, lon): (f64, f64) = self.earth.direct(self.middle.0, self.middle.1, azimuth, point.length());
        position(lat, lon)
    }
}

/// Where one comes to on the ellipsoid: so far in a true direction.
#[must_use]
pub fn from_here(here: Position, true_deg: f64, metres: f64) -> Position {
    let (lat, lon) = degrees(here);
    let (lat, lon): (f64, f64) = Geodesic::wgs84().direct(lat, lon, true_deg, metres);
    position(lat, lon)
}

/// The distance between two positions on the ellipsoid, metres.
#[must_use]
pub fn distance(a: Position, b: Position) -> f64 {
    let ((lat, lon), (lat2, lon2)) = (degrees(a), degrees(b));
    Geodesic::wgs84().inverse(lat, lon, lat2, lon2)
}

/// To the nearest of the core's own units, a tenth of a millimetre.
#[must_use]
pub fn position(lat: f64, lon: f64) -> Position {
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(lat), lon: nano(lon) }
}

/// Latitude and longitude in degrees.
#[must_use]
pub fn degrees(position: Position) -> (f64, f64) {
    (position.lat.as_nano() as f64 / 1e9, position.lon.as_nano() as f64 / 1e9)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Source: C. F. F. Karney, GeographicLib's documentation of its Python module, the worked example of the inverse
    /// problem: from Wellington, 41.32 S 174.81 E, to Salamanca, 40.96 N 5.50 W, are 19,959,679.267 m, and the line
    /// begins at 161.067670 degrees.
    #[test]
    fn wellington_to_salamanca_is_as_far_as_the_library_s_handbook_says() {
        let (wellington, salamanca) = (position(-41.32, 174.81), position(40.96, -5.50));
        assert!((distance(wellington, salamanca) - 19_959_679.267).abs() < 0.001);
        let (lat, lon) = degrees(from_here(wellington, 161.067_669_986, 19_959_679.267));
        assert!((lat - 40.96).abs() < 2e-8 && (lon + 5.50).abs() < 2e-8, "{lat} {lon}");
    }

    /// Source: the Geoscience Australia worked example of Vincenty's formulae, Flinders Peak to Buninyong on GRS 80:
    /// 54,972.271 m at 306 52 05.37 (from memory). WGS 84 and GRS 80 differ by a tenth of a millimetre here.
    #[test]
    fn flinders_peak_to_buninyong_is_as_far_as_the_surveyors_example_says() {
        let dms = |d: f64, m: f64, s: f64| d + m / 60.0 + s / 3600.0;
        let peak = position(-dms(37.0, 57.0, 3.720_3), dms(144.0, 25.0, 29.524_4));
        let hill = position(-dms(37.0, 39.0, 10.156_1), dms(143.0, 55.0, 35.383_9));
        assert!((distance(peak, hill) - 54_972.271).abs() < 0.002, "{}", distance(peak, hill));
        let there = from_here(peak, dms(306.0, 52.0, 5.37), 54_972.271);
        assert!(distance(there, hill) < 0.01, "{}", distance(there, hill));
    }

    proptest! {
        #[test]
        fn a_place_in_the_plane_is_the_place_on_the_ellipsoid_again(
            lat in -70.0_f64..70.0, lon in -179.0_f64..179.0, east in -9e3_f64..9e3, north in -9e3_f64..9e3,
        ) {
            let ground = Ground::about(position(lat, lon));
            let back = ground.point(ground.position(Point { east, north }));
            prop_assert!((back.east - east).abs() < 1e-3 && (back.north - north).abs() < 1e-3, "{back:?}");
        }

        #[test]
        fn distances_in_the_plane_are_those_of_the_ellipsoid(
            lat in -70.0_f64..70.0, a in -5e3_f64..5e3, b in -5e3_f64..5e3, c in -5e3_f64..5e3, d in -5e3_f64..5e3,
        ) {
            let ground = Ground::about(position(lat, 12.5));
            let (p, q) = (Point { east: a, north: b }, Point { east: c, north: d });
            let exact = distance(ground.position(p), ground.position(q));
            prop_assert!((p.to(q).length() - exact).abs() < 1e-3 + exact * 1e-6);
        }
    }
}
