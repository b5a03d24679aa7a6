//! Crossings of a line that runs 100 m from its left end due "right", by boats placed in metres beside it.
//!
//! The cases are plane geometry: anyone can check them with a pencil. x is metres past the line, y along it.

use super::*;
use crate::gnss::Position;
use crate::units::NanoDegrees;

/// A line whose racing direction is due east: its left end is north.
fn watch(end_tolerance_m: i64, lever_m: i64) -> (CrossingWatch, StartLine) {
    let origin = position(0.0, 0.0);
    let course = CourseSettings {
        line_left: origin,
        line_right: position(0.0, 100.0),
        line_sd: Millimetres::ZERO,
        end_tolerance: Millimetres::from_mm(end_tolerance_m * 1_000),
        lap_length: Millimetres::from_mm(4_000_000),
    };
    let settings = CrossingSettings {
        antenna_to_bow: Millimetres::from_mm(lever_m * 1_000),
        antenna_to_bow_sd: Millimetres::ZERO,
        position_sd: Millimetres::from_mm(1_000),
        speed_sd: MmPerSecond::from_mm_s(50),
        hysteresis: Millimetres::from_mm(2_000),
        unknown_acceleration_mm_s2: 5_000,
        bridge_max: Span::from_secs(10),
    };
    let line = StartLine::new(&course).unwrap();
    (CrossingWatch::new(&settings, &course, line), line)
}

/// A position `x` metres east and `y` metres south of the line's left end, near latitude 40.
fn position(x: f64, y: f64) -> Position {
    // Metres per degree at latitude 40 on WGS 84, computed with the geographiclib library: 111,034.6326 north,
    // 85,393.8570 east.
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(40.0 - y / 111_034.632_6), lon: nano(-30.0 + x / 85_393.857) }
}

/// A fix at (x, y) metres moving (vx, vy) metres per second.
fn fix(x: f64, y: f64, vx: f64, vy: f64) -> Fix {
    let course = vx.atan2(-vy).to_degrees().rem_euclid(360.0);
    Fix {
        utc: Utc::ZERO,
        position: position(x, y),
        speed: MmPerSecond::from_mm_s((vx.hypot(vy) * 1e3).round() as i32),
        course: CentiDegrees::from_centi((course * 100.0).round() as i32 % 36_000),
        position_sd: None,
        speed_sd: None,
        hdop_centi: None,
        valid: true,
    }
}

/// Plays points 0.1 s apart, each with the speed of the step that follows it; gives the crossings.
fn play(watch: &mut CrossingWatch, points: &[(f64, f64)]) -> std::vec::Vec<Crossing> {
    let mut crossings = std::vec::Vec::new();
    for (number, &(x, y)) in points.iter().enumerate() {
        let (from, to) = match points.get(number + 1) {
            Some(&next) => ((x, y), next),
            None => (points[number - 1], (x, y)),
        };
        let at = Utc::from_unix_micros(number as i64 * 100_000);
        let speed = ((to.0 - from.0) * 10.0, (to.1 - from.1) * 10.0);
        crossings.extend(watch.fix(at, &fix(x, y, speed.0, speed.1)));
    }
    crossings
}

/// Source: plane geometry; each case can be checked with a pencil.
#[test]
fn two_points_and_a_line() {
    // ((from), (to), crossing after the first point in microseconds and metres along, or none)
    let cases = [
        ("perpendicular", (-5.0, 50.0), (5.0, 50.0), Some((50_000, 50.0))),
        ("70 m/s at 10 Hz", (-3.0, 40.0), (4.0, 40.0), Some((42_857, 40.0))),
        ("30 degrees oblique", (-6.062_178, 40.0), (6.062_178, 47.0), Some((50_000, 43.5))),
        ("past the end pin", (-5.0, 101.0), (5.0, 101.0), None),
        ("inside the far pin", (-5.0, 99.9), (5.0, 99.9), Some((50_000, 99.9))),
        ("wrong side of the near pin", (-5.0, -1.0), (5.0, -1.0), None),
        ("parallel", (-1.0, 20.0), (-1.0, 27.0), None),
        ("ends on the line", (-7.0, 50.0), (0.001, 50.0), Some((99_986, 50.0))),
        ("starts past the line", (0.001, 50.0), (7.0, 50.0), None),
    ];
    for (name, from, to, expected) in cases {
        let (mut watch, _) = watch(0, 0);
        let crossings = play(&mut watch, &[from, to]);
        match expected {
            None => assert!(crossings.is_empty(), "{name}: {crossings:?}"),
            Some((us, along)) => {
                let [crossing] = crossings[..] else { panic!("{name}: {crossings:?}") };
                assert!(crossing.forward, "{name}");
                // A millimetre of the plane is up to 14 us here.
                assert!((crossing.at.as_unix_micros() - us).abs() <= 40, "{name}: {crossing:?}");
                assert!((crossing.place.as_mm() as f64 / 1e3 - along).abs() < 0.003, "{name}: {crossing:?}");
            }
        }
    }
}

/// 8 m of lever at 71.526 m/s: the bow crosses 111.8 ms before the antenna (8 / 71.526).
#[test]
fn the_bow_crosses_before_the_antenna() {
    let points: std::vec::Vec<_> = (0..10).map(|n| (-30.0 + 7.152_6 * f64::from(n), 50.0)).collect();
    let (mut bare, _) = watch(0, 0);
    let (mut with_bow, _) = watch(0, 8);
    let antenna = play(&mut bare, &points)[0].at;
    let bow = play(&mut with_bow, &points)[0].at;
    assert!((antenna.since(bow).as_micros() - 111_847).abs() < 60, "{}", antenna.since(bow).as_micros());
}

#[test]
fn wrong_way_is_told_from_right_way() {
    let (mut watch, _) = watch(0, 0);
    let crossings = play(&mut watch, &[(5.0, 50.0), (-5.0, 50.0)]);
    assert_eq!(crossings.len(), 1);
    assert!(!crossings[0].forward);
}

/// A boat that lies on the line while its fixes jump a metre to and fro crosses once.
#[test]
fn noise_on_the_line_is_one_crossing() {
    let (mut watch, _) = watch(0, 0);
    let crossings =
        play(&mut watch, &[(-7.0, 50.0), (0.5, 50.0), (-0.7, 50.0), (0.9, 50.0), (-1.1, 50.0), (6.0, 50.0)]);
    assert_eq!(crossings.iter().filter(|crossing| crossing.forward).count(), 1, "{crossings:?}");
}

/// Fixes lost across the line: the crossing is claimed, with an error bar that has grown.
#[test]
fn a_lost_fix_is_bridged_and_costs_certainty() {
    let gap = |step_s: f64| {
        let (mut watch, _) = watch(0, 0);
        let reach = 80.0 * step_s / 2.0;
        watch.fix(Utc::ZERO, &fix(-reach, 50.0, 80.0, 0.0));
        let after = Utc::from_unix_micros((step_s * 1e6) as i64);
        watch.fix(after, &fix(reach, 50.0, 80.0, 0.0))
    };
    let short = gap(0.1).unwrap();
    let long = gap(4.0).unwrap();
    assert!((long.at.as_unix_micros() - 2_000_000).abs() < 100);
    // 1 m at 80 m/s is 12.5 ms; 5 m/s^2 over 4 s is 2.5 m more, 33.7 ms together.
    assert!((short.sigma.as_micros() - 12_500).abs() < 50, "{short:?}");
    assert!((long.sigma.as_micros() - 33_700).abs() < 300, "{long:?}");
    assert!(gap(11.0).is_none(), "longer than is bridged");
}

/// With constant acceleration the cubic is exact; a straight line would err by a h^2 / 8 = 1.25 m over 1 s.
#[test]
fn constant_acceleration_is_interpolated_exactly() {
    let (mut watch, _) = watch(0, 0);
    // x = -40 + 35 t + 5 t^2 crosses zero at t = (-35 + sqrt(35^2 + 800)) / 10 = 0.99993...
    // Shifted so that the root falls inside one second: x = -20 + 35 t + 5 t^2, t = 0.532_270.
    watch.fix(Utc::ZERO, &fix(-20.0, 50.0, 35.0, 0.0));
    let crossing = watch.fix(Utc::from_unix_micros(1_000_000), &fix(20.0, 50.0, 45.0, 0.0)).unwrap();
    let exact = (-35.0 + (35.0_f64 * 35.0 + 4.0 * 5.0 * 20.0).sqrt()) / 10.0;
    assert!((crossing.at.as_unix_micros() as f64 / 1e6 - exact).abs() < 1e-4, "{crossing:?} {exact}");
}
