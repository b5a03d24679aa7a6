//! The plane of the start line against exact geodesics on the WGS 84 ellipsoid.
//!
//! Sources: `geodesic.csv`, 40 pairs of points with distances by the Python library geographiclib 2.1
//! (Geodesic.WGS84.Inverse), and the Rust library geographiclib-rs, both after C. F. F. Karney, "Algorithms for
//! geodesics", Journal of Geodesy 87 (2013).

use firmware::course::{CourseSettings, Plane, StartLine};
use firmware::gnss::Position;
use firmware::units::{Millimetres, NanoDegrees};
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use proptest::prelude::*;

fn position(lat: f64, lon: f64) -> Position {
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(lat), lon: nano(lon) }
}

fn distance_mm(from: Position, to: Position) -> f64 {
    let place = Plane::at(from).place(to);
    (place.east.as_mm() as f64).hypot(place.north.as_mm() as f64)
}

/// All 40 rows, 10 m to 5 km, latitudes 30 to 50: within a millimetre, and never worse than the best plane's
/// 0.22 mm by more than rounding to a millimetre in both directions.
#[test]
fn every_row_of_the_table_to_a_millimetre() {
    let table = include_str!("geodesic.csv");
    let mut rows = 0;
    for row in table.lines().filter(|line| !line.starts_with('#') && !line.starts_with("id")) {
        let number: Vec<f64> = row.split(',').map(|field| field.parse().unwrap()).collect();
        let [_, lat1, lon1, lat2, lon2, exact_m, ..] = number[..] else { panic!("{row}") };
        let ours = distance_mm(position(lat1, lon1), position(lat2, lon2));
        assert!((ours - exact_m * 1e3).abs() < 1.0, "row {row}: {ours}");
        rows += 1;
    }
    assert_eq!(rows, 40);
}

proptest! {
    /// Lines anywhere between 70 south and 70 north: their length as the core sees it, and a point that lies a
    /// known way past the line's middle, square to it.
    #[test]
    fn random_lines_agree_with_the_geodesic_library(
        lat in -70.0_f64..70.0, lon in -180.0_f64..180.0, bearing in 0.0_f64..360.0,
        length in 20.0_f64..400.0, past in -500.0_f64..500.0,
    ) {
        let earth = Geodesic::wgs84();
        let (lat2, lon2): (f64, f64) = earth.direct(lat, lon, bearing, length);
        let (mid_lat, mid_lon): (f64, f64) = earth.direct(lat, lon, bearing, length / 2.0);
        let (boat_lat, boat_lon): (f64, f64) = earth.direct(mid_lat, mid_lon, bearing - 90.0, past);
        let course = CourseSettings {
            line_left: position(lat, lon),
            line_right: position(lat2, lon2),
            line_sd: Millimetres::ZERO,
            end_tolerance: Millimetres::ZERO,
            lap_length: Millimetres::from_mm(4_023_360),
        };
        let line = StartLine::new(&course).unwrap();
        let exact: f64 = earth.inverse(lat, lon, lat2, lon2);
        prop_assert!((line.length().as_mm() as f64 - exact * 1e3).abs() < 1.5);
        let beside = line.beside(position(boat_lat, boat_lon));
        // The meridians converge: a way of d due east bends off the plane's east by d^2 tan(latitude) / 2 R, 5 mm at
        // 173 m and latitude 63, 8 cm at the far corner of this test.
        let reach = past * past + length * length;
        // The line's ends are held to a millimetre, which turns a short line by a millimetre over its length.
        let turned = past.abs() / length;
        let allowed = 2.0 + turned + 1.2 * 1e3 * reach * lat.to_radians().tan().abs() / (2.0 * 6_356_752.0);
        prop_assert!((beside.past.as_mm() as f64 - past * 1e3).abs() < allowed, "{beside:?} for {past}");
        prop_assert!((beside.along.as_mm() as f64 - length / 2.0 * 1e3).abs() < allowed, "{beside:?} for {past}, allowed {allowed}");
    }
}

/// The same crossing in degrees: 60.000 m of line, a boat at 71.526 and at 44.704 m/s. Computed with geographiclib
/// 2.1: f = 0.279619 and 0.671081 of a tenth of a second.
#[test]
fn the_published_crossing_in_degrees() {
    let course = CourseSettings {
        line_left: position(47.58, -122.25),
        line_right: position(47.580539655, -122.25),
        line_sd: Millimetres::ZERO,
        end_tolerance: Millimetres::ZERO,
        lap_length: Millimetres::from_mm(4_023_360),
    };
    let line = StartLine::new(&course).unwrap();
    for (from, to, fraction) in
        [(-122.250026586, -122.249931507, 0.279_619), (-122.250039878, -122.249980454, 0.671_081)]
    {
        let past = |lon: f64| line.beside(position(47.580269827, lon)).past.as_mm() as f64;
        let (before, after) = (past(from), past(to));
        // This boat goes east, against the racing direction of the line as its ends are named here.
        assert!(before > 0.0 && after < 0.0);
        assert!((before / (before - after) - fraction).abs() < 2e-4, "{before} {after}");
    }
}
