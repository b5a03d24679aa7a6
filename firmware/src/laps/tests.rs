//! Heats as lists of crossings. Times are milliseconds of race time.

use super::*;
use crate::output::ZeroSource;
use proptest::prelude::*;
use std::vec::Vec;

const ZERO_S: i64 = 1_000;

fn settings() -> RaceSettings {
    RaceSettings {
        early_window: Span::from_secs(60),
        early_costs: EarlyCost::Lap,
        laps: 3,
        lap_shortest: Span::from_secs(30),
        lap_missed_percent: 140,
        approach: Span::from_secs(5),
        too_close_sigmas: 2,
    }
}

fn race() -> Race {
    Race::new(&settings(), Millimetres::from_mm(4_023_360))
}

fn zero() -> Zero {
    Zero {
        at: Instant::BOOT.plus(Span::from_secs(ZERO_S)),
        sigma: Span::from_millis(10),
        scheduled: None,
        source: ZeroSource::Utc,
    }
}

fn at(ms: i64) -> Crossed {
    Crossed {
        at: zero().at.plus(Span::from_millis(ms)),
        running: Utc::from_unix_micros(ms * 1_000),
        sigma: Span::from_millis(12),
        tie_sigma: Span::ZERO,
        forward: true,
        place: Millimetres::from_mm(50_000),
    }
}

fn run(race: &mut Race, crossings_ms: &[i64]) -> Outputs {
    let mut out = Outputs::default();
    crossings_ms.iter().for_each(|&ms| race.crossing(&at(ms), Some(&zero()), &mut out));
    out
}

fn counted(out: &Outputs) -> Vec<Counted> {
    let counted = |o: &Output| if let Output::Crossing { counted, .. } = o { Some(*counted) } else { None };
    out.as_slice().iter().filter_map(counted).collect()
}

fn calls(out: &Outputs) -> Vec<Call> {
    let call = |o: &Output| if let Output::Call { call, .. } = o { Some(*call) } else { None };
    out.as_slice().iter().filter_map(call).collect()
}

#[test]
fn milling_crossings_are_nothing_and_the_first_after_zero_is_the_start() {
    let mut race = race();
    let out = run(&mut race, &[-200_000, -100_000, 300, 60_300, 120_300, 180_300, 250_000]);
    use Counted::{AfterFinish, Lap, Milling, Start};
    assert_eq!(counted(&out), [Milling, Milling, Start, Lap, Lap, Lap, AfterFinish]);
    assert_eq!(calls(&out), [Call::Legal]);
    assert_eq!(race.laps_done(), 3);
    let finish = Output::Finish { laps: 3, time: Span::from_millis(180_300), penalty: Span::ZERO };
    assert!(out.as_slice().contains(&finish), "heat time runs from zero");
}

#[test]
fn exactly_zero_is_legal_and_an_error_bar_across_zero_is_too_close() {
    assert_eq!(call(Span::ZERO, Span::ZERO, 2), Call::Legal);
    assert_eq!(call(Span::from_micros(-1), Span::ZERO, 2), Call::Early);
    assert_eq!(call(Span::from_millis(-30), Span::from_millis(16), 2), Call::TooClose);
    assert_eq!(call(Span::from_millis(30), Span::from_millis(16), 2), Call::TooClose);
    assert_eq!(call(Span::from_millis(-32), Span::from_millis(16), 2), Call::Early);
}

#[test]
fn an_early_start_owes_a_lap() {
    let mut race = race();
    let out = run(&mut race, &[-400, 59_600, 119_600, 179_600, 239_600]);
    assert_eq!(calls(&out), [Call::Early]);
    assert_eq!(race.laps_owed(), 4);
    let finish = Output::Finish { laps: 4, time: Span::from_millis(239_600), penalty: Span::ZERO };
    assert!(out.as_slice().contains(&finish));
}

#[test]
fn or_time_or_nothing_by_the_rules() {
    for (early_costs, owed, penalty_s) in
        [(EarlyCost::Time(Span::from_secs(30)), 3, 30), (EarlyCost::Nothing, 3, 0)]
    {
        let mut race =
            Race::new(&RaceSettings { early_costs, ..settings() }, Millimetres::from_mm(4_023_360));
        let out = run(&mut race, &[-400, 59_600, 119_600, 179_600]);
        assert_eq!(race.laps_owed(), owed);
        let finish =
            Output::Finish { laps: 3, time: Span::from_millis(179_600), penalty: Span::from_secs(penalty_s) };
        assert!(out.as_slice().contains(&finish));
    }
}

#[test]
fn the_window_is_closed_at_its_far_end() {
    assert_eq!(counted(&run(&mut race(), &[-60_001])), [Counted::Milling]);
    assert_eq!(counted(&run(&mut race(), &[-60_000])), [Counted::Start]);
}

#[test]
fn a_crossing_sooner_than_any_boat_can_lap_is_not_a_lap() {
    let out = run(&mut race(), &[300, 5_000, 60_300]);
    assert_eq!(counted(&out), [Counted::Start, Counted::TooSoon, Counted::Lap]);
}

#[test]
fn a_start_is_called_anew_when_zero_moves() {
    let mut race = race();
    run(&mut race, &[-300]);
    let moved = Zero { at: zero().at.plus(Span::from_millis(-800)), ..zero() };
    let mut out = Outputs::default();
    race.zero_moved(&moved, &mut out);
    assert_eq!(calls(&out), [Call::Legal]);
    assert_eq!(race.laps_owed(), 3);
    let withdrawn = Output::Penalty { cause: Cause::EarlyStart, laps: 0, time: Span::ZERO };
    assert!(out.as_slice().contains(&withdrawn));
}

#[test]
fn more_water_than_a_lap_holds_is_a_missed_crossing_said_once() {
    let mut race = race();
    run(&mut race, &[300]);
    let mut out = Outputs::default();
    (0..80).for_each(|_| race.run_on(Millimetres::from_mm(100_000), &mut out));
    let said = out.as_slice().iter().filter(|o| matches!(o, Output::LapMissed { .. })).count();
    assert_eq!(said, 1, "8 km since a crossing, a lap is 4,023 m");
}

#[test]
fn a_scheduled_zero_is_free_of_the_tie_to_the_board() {
    let blurred = Crossed { tie_sigma: Span::from_millis(20), ..at(100) };
    let scheduled = Zero { scheduled: Some(Utc::from_unix_micros(0)), ..zero() };
    assert_eq!(blurred.margin(&scheduled), (Span::from_millis(100), Span::from_millis(12)));
    assert!(blurred.margin(&zero()).1 > Span::from_millis(25));
}

/// Source: newspaper report of September 1995 on record laps of a 2.5 mile course (4,023.36 m), speeds to
/// 0.001 mph, with times worked back: 52.584 s is 171.155 mph, and so on. And the heat speed of three laps.
#[test]
fn published_record_laps() {
    let table =
        [(52_584, 171_155), (52_914, 170_087), (52_945, 169_988), (53_556, 168_048), (60_000, 150_000)];
    for (ms, milli_mph) in table {
        let speed = lap_speed(Millimetres::from_mm(4_023_360), Span::from_millis(ms));
        // One mph is 0.44704 m/s; a millimetre per second is 0.0022 mph.
        let ours = f64::from(speed.as_mm_s()) / 0.44704;
        assert!((ours - f64::from(milli_mph)).abs() < 1.7, "{ms}: {ours}");
    }
    let heat = lap_speed(Millimetres::from_mm(3 * 4_023_360), Span::from_millis(159_797));
    assert!((f64::from(heat.as_mm_s()) / 0.44704 - 168_964.0).abs() < 1.7, "not the mean of the lap speeds");
}

proptest! {
    #[test]
    fn laps_increase_by_one_and_never_while_milling(steps in proptest::collection::vec(1_i64..90_000, 1..30)) {
        let mut race = race();
        let mut now = -400_000;
        for step in steps {
            now += step;
            let before = race.laps_done();
            let out = run(&mut race, &[now]);
            let lapped = counted(&out).contains(&Counted::Lap);
            prop_assert_eq!(race.laps_done(), before + u16::from(lapped));
            prop_assert!(!lapped || now >= -60_000, "a lap while milling");
            prop_assert!(race.laps_done() <= race.laps_owed());
        }
    }

    #[test]
    fn no_crossings_make_two_starts(steps in proptest::collection::vec(1_i64..90_000, 1..30)) {
        let mut race = race();
        let mut now = -400_000;
        let mut starts = 0;
        for step in steps {
            now += step;
            starts += counted(&run(&mut race, &[now])).iter().filter(|c| **c == Counted::Start).count();
        }
        prop_assert!(starts <= 1);
    }
}
