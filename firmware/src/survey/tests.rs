//! What an average promises, by arithmetic and for any fixes.

use proptest::prelude::*;
use std::vec::Vec;

use super::*;
use crate::units::CentiDegrees;

/// A fix so many nano-degrees from a place in the open ocean.
fn fix(lat: i64, lon: i64, speed_mm_s: i32) -> Fix {
    let position = Position {
        lat: NanoDegrees::from_nano(45_000_000_000 + lat),
        lon: NanoDegrees::from_nano(-30_000_000_000 + lon),
    };
    Fix {
        utc: Utc::from_unix_micros(0),
        position,
        speed: MmPerSecond::from_mm_s(speed_mm_s),
        course: CentiDegrees::from_centi(0),
        position_sd: None,
        speed_sd: None,
        hdop_centi: None,
        valid: true,
    }
}

fn at(ms: i64) -> Utc {
    Utc::from_unix_micros(ms * 1_000)
}

const METRE: Millimetres = Millimetres::from_mm(1_000);
/// No average is ever known so well: none ends by its accuracy.
const NEVER: Millimetres = Millimetres::ZERO;

fn after(fixes: impl Iterator<Item = (i64, Fix)>) -> Averaging {
    let mut fixes = fixes;
    let (ms, first) = fixes.next().unwrap();
    let mut mark = Averaging::begin(at(ms), &first, METRE).unwrap();
    for (ms, fix) in fixes {
        assert_eq!(mark.fix(at(ms), &fix, METRE, NEVER), Step::On, "{ms}");
    }
    mark
}

/// Ten times a second, at one place: 1 m for each fix. Over 480 s the mean has sqrt(240 / 480) of it by hand, 0.707 m; over
/// 120 s all of it; over 1,199 s half of it, which is the floor, before 0.447 m.
#[test]
fn the_error_falls_with_the_root_of_the_time_and_stops_at_its_floor() {
    let still =
        |seconds: i64| after((0..=seconds * 10).map(|tenth| (tenth * 100, fix(0, 0, 50)))).sd().as_mm();
    assert!((still(480) - 707).abs() <= 1, "{}", still(480));
    assert!((still(120) - 1_000).abs() <= 1);
    assert!((still(1_199) - 500).abs() <= 1);
}

/// Fixes that stray by 3 m and 5 m, to and fro, are worth no more than that, whatever they say of themselves.
#[test]
fn fixes_that_scatter_more_than_they_say_are_believed_less() {
    // 3 m of latitude are 26,996 nano-degrees at 45 degrees: M is 6,367,382 m.
    let to_and_fro = |k: i64| if k % 2 == 0 { 26_996 } else { -26_996 };
    let mark = after((0..=2_400).map(|tenth| (tenth * 100, fix(to_and_fro(tenth), 0, 50))));
    assert!((mark.sd().as_mm() - 3_000).abs() <= 5, "{:?}", mark.sd());
}

#[test]
fn the_mean_of_two_places_is_in_their_middle() {
    let mark = after([(0, fix(0, 100, 0)), (1_000, fix(20, 300, 0))].into_iter());
    assert_eq!(mark.position(), fix(10, 200, 0).position);
    assert_eq!((mark.fixes(), mark.time()), (2, Span::from_secs(1)));
}

#[test]
fn a_boat_under_way_or_adrift_makes_no_mark() {
    assert_eq!(Averaging::begin(at(0), &fix(0, 0, 1_001), METRE).map(|_| ()), Err(GivenUp::Moving));
    let mut mark = Averaging::begin(at(0), &fix(0, 0, 0), METRE).unwrap();
    assert_eq!(mark.fix(at(100), &fix(0, 0, 2_000), METRE, NEVER), Step::GivenUp(GivenUp::Moving));
    // 0.9 m/s northwards: 8,100 nano-degrees a second. The k-th fix is 0.45 (k + 1) m off the
    // mean of those before it: more than 7 m from the fifteenth on.
    let mut mark = Averaging::begin(at(0), &fix(0, 0, 900), METRE).unwrap();
    let steps: Vec<_> =
        (1..20).map(|s| mark.fix(at(s * 1_000), &fix(8_100 * s, 0, 900), METRE, NEVER)).collect();
    let given_up = steps.iter().position(|step| *step == Step::GivenUp(GivenUp::Adrift));
    assert_eq!(given_up, Some(14), "{steps:?}");
}

#[test]
fn a_mark_is_taken_when_it_is_known_well_enough_or_after_the_longest_time() {
    let seconds_until = |accuracy: Millimetres| {
        let mut mark = Averaging::begin(at(0), &fix(0, 0, 0), METRE).unwrap();
        (1..3_000).find(|s| mark.fix(at(s * 1_000), &fix(0, 0, 0), METRE, accuracy) == Step::Taken)
    };
    assert_eq!(seconds_until(Millimetres::from_mm(10_000)), Some(30), "never sooner");
    // (1 / 0.7) squared times 240 s are 489.8 s.
    let well = seconds_until(Millimetres::from_mm(700)).unwrap();
    assert!((490..=493).contains(&well), "{well}");
    assert_eq!(seconds_until(NEVER), Some(1_200));
}

#[test]
fn time_without_fixes_counts_for_nothing() {
    let mark = after(
        [(0, fix(0, 0, 0)), (1_000, fix(0, 0, 0)), (100_000, fix(0, 0, 0)), (101_000, fix(0, 0, 0))]
            .into_iter(),
    );
    assert_eq!(mark.time(), Span::from_secs(2));
}

#[test]
fn a_mark_on_the_180th_meridian_lies_there() {
    let east = |lon: i64| Fix {
        position: Position { lat: NanoDegrees::from_nano(0), lon: NanoDegrees::from_nano(lon) },
        ..fix(0, 0, 0)
    };
    let mark = after([(0, east(179_999_999_000)), (1_000, east(-179_999_997_000))].into_iter());
    assert_eq!(mark.position().lon, NanoDegrees::from_nano(-179_999_999_000));
}

fn wandering() -> impl Strategy<Value = Vec<(i64, i64, i64, i64)>> {
    // Gap in milliseconds, latitude and longitude within some metres, the fix's own error in millimetres.
    proptest::collection::vec((40_i64..2_500, -30_000_i64..30_000, -40_000_i64..40_000, 0_i64..5_000), 1..120)
}

proptest! {
    #[test]
    fn averaging_never_reports_a_smaller_error_than_its_floor_and_lies_in_the_hull_of_its_fixes(
        fixes in wandering(), accuracy in 0_i64..5_000,
    ) {
        let mut mark: Option<Averaging> = None;
        let (mut now, mut lats, mut lons) = (0, Vec::new(), Vec::new());
        for (gap, lat, lon, sd) in fixes {
            now += gap;
            let (fix, sd) = (fix(lat, lon, 0), Millimetres::from_mm(sd));
            let step = match &mut mark {
                Some(mark) => mark.fix(at(now), &fix, sd, Millimetres::from_mm(accuracy)),
                None => {
                    mark = Averaging::begin(at(now), &fix, sd).ok();
                    Step::On
                }
            };
            if step != Step::GivenUp(GivenUp::Adrift) {
                lats.push(fix.position.lat);
                lons.push(fix.position.lon);
            }
            let Some(mark) = &mark else { continue };
            prop_assert!(mark.sd() >= FLOOR);
            let position = mark.position();
            prop_assert!(lats.iter().min() <= Some(&position.lat) && Some(&position.lat) <= lats.iter().max());
            prop_assert!(lons.iter().min() <= Some(&position.lon) && Some(&position.lon) <= lons.iter().max());
            if step == Step::Taken {
                prop_assert!(mark.time() >= SHORTEST);
                prop_assert!(mark.sd() <= Millimetres::from_mm(accuracy) || mark.time() >= LONGEST);
            }
        }
    }

    #[test]
    fn no_fix_makes_the_average_panic(
        fixes in proptest::collection::vec((any::<i64>(), -200_000_000_000_i64..200_000_000_000, -400_000_000_000_i64..400_000_000_000, any::<i64>(), any::<i32>()), 1..20),
    ) {
        let mut mark: Option<Averaging> = None;
        for (utc, lat, lon, sd, speed) in fixes {
            let position = Position { lat: NanoDegrees::from_nano(lat), lon: NanoDegrees::from_nano(lon) };
            let (fix, sd) = (Fix { position, ..fix(0, 0, speed) }, Millimetres::from_mm(sd));
            let utc = Utc::from_unix_micros(utc);
            match &mut mark {
                Some(mark) => { let _ = mark.fix(utc, &fix, sd, METRE); }
                None => mark = Averaging::begin(utc, &fix, sd).ok(),
            }
            if let Some(mark) = &mark {
                let _ = (mark.position(), mark.sd());
            }
        }
    }
}
