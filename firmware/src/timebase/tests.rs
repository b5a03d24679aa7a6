//! A board whose crystal is off, a receiver whose messages are late, and labels that jump.

use super::*;
use proptest::prelude::*;

/// 2016-12-31T23:59:00Z, a minute before the last leap second so far.
const BEFORE_LEAP: i64 = 1_483_228_740;

/// A board that booted 1,000 s before `BEFORE_LEAP`, with a crystal fast by `ppb`.
struct Board {
    ppb: i64,
}

impl Board {
    /// The board's clock `us` microseconds after `BEFORE_LEAP`.
    fn at(&self, us: i64) -> Instant {
        Instant::BOOT
            .plus(Span::from_micros(1_000_000_000 + us).stretched(PartsPerBillion::from_ppb(self.ppb)))
    }
}

fn label(us: i64) -> Utc {
    Utc::from_unix_micros(BEFORE_LEAP * 1_000_000 + us)
}

fn timebase() -> Timebase {
    Timebase::new(&TimebaseSettings {
        latency: Span::from_millis(60),
        latency_sd: Span::from_millis(20),
        crystal: PartsPerBillion::ZERO,
        crystal_sd: PartsPerBillion::from_ppb(30_000),
    })
}

/// One second of pulse and ten fixes, each 70 ms late.
fn second(timebase: &mut Timebase, board: &Board, second: i64, pulse: bool) {
    if pulse {
        timebase.pulse(board.at(second * 1_000_000)).unwrap();
    }
    for tenth in 0..10 {
        let us = second * 1_000_000 + tenth * 100_000;
        timebase.label(board.at(us + 70_000), label(us)).unwrap();
    }
}

/// Source: the definition of a part per million; 1 us over 60 s resolves 0.017 ppm.
#[test]
fn pulses_measure_the_crystal_and_place_a_fix_to_microseconds() {
    for ppb in [-60_000, -30_000, 0, 26_800, 64_000] {
        let (mut timebase, board) = (timebase(), Board { ppb });
        (0..61).for_each(|s| second(&mut timebase, &board, s, true));
        assert!((timebase.drift().as_ppb() - ppb).abs() <= 20, "{ppb}: {:?}", timebase.drift());
        let placed = timebase.instant(label(60_300_000)).unwrap();
        assert!(placed.since(board.at(60_300_000)).abs() <= Span::from_micros(2), "{ppb}");
        assert_eq!(timebase.tie(board.at(60_500_000)), Tie::Pps);
    }
}

/// 30 ppm are 9 ms in 300 s.
#[test]
fn a_crystal_counts_as_fast_as_its_calibration_says_until_pulses_measure_it() {
    let crystal = PartsPerBillion::from_ppb(30_000);
    let mut timebase = Timebase::new(&TimebaseSettings { crystal, ..timebase().settings });
    assert_eq!(timebase.drift(), crystal);
    assert_eq!(Span::from_secs(300).stretched(timebase.drift()), Span::from_micros(300_009_000));
    let board = Board { ppb: -4_000 };
    (0..61).for_each(|s| second(&mut timebase, &board, s, true));
    assert!((timebase.drift().as_ppb() + 4_000).abs() <= 20, "{:?}", timebase.drift());
}

#[test]
fn without_pulses_a_fix_is_placed_by_the_quickest_arrival() {
    let (mut timebase, board) = (timebase(), Board { ppb: 0 });
    (0..30).for_each(|s| second(&mut timebase, &board, s, false));
    // All fixes were 70 ms late, 60 ms were expected: 10 ms of error, within the 20 ms it admits.
    let placed = timebase.instant(label(10_000_000)).unwrap();
    assert_eq!(placed.since(board.at(10_000_000)), Span::from_millis(10));
    assert_eq!(timebase.tie(board.at(30_000_000)), Tie::Arrivals);
    assert_eq!(timebase.sigma(board.at(30_000_000)), Span::from_millis(20));
}

/// Figures: a crystal known to 0.1 ppm is 0.03 ms off after 300 s; a 1 ppm shift by temperature is 0.3 ms.
#[test]
fn holdover_admits_a_growing_error() {
    let (mut timebase, board) = (timebase(), Board { ppb: 12_000 });
    (0..61).for_each(|s| second(&mut timebase, &board, s, true));
    let soon = board.at(63_000_000);
    assert_eq!(timebase.tie(soon), Tie::Holdover);
    assert!(timebase.sigma(soon) < Span::from_micros(10));
    let late = timebase.sigma(board.at(360_000_000));
    assert!(late > Span::from_micros(100) && late < Span::from_micros(300), "{late:?}");
    let placed = timebase.instant(label(360_000_000)).unwrap();
    assert!(placed.since(board.at(360_000_000)).abs() < Span::from_micros(30));
}

/// The last leap second: 23:59:59, 23:59:60, 00:00:00. Its label counts like the 00:00:00 that follows it, so
/// the labels stand still for a second while the running scale goes on.
#[test]
fn a_leap_second_does_not_move_a_running_clock() {
    let (mut timebase, board) = (timebase(), Board { ppb: 0 });
    (0..60).for_each(|s| second(&mut timebase, &board, s, true));
    let race_zero = timebase.instant(label(100_000_000)).unwrap();
    let mut refused = 0;
    for tenth in 600..1_200 {
        let us = tenth * 100_000;
        if tenth % 10 == 0 {
            timebase.pulse(board.at(us)).unwrap();
        }
        // Second 60 has the label of the next minute's 00 and so do the fixes a second after it.
        let printed = if us < 61_000_000 { us } else { us - 1_000_000 };
        if timebase.label(board.at(us + 70_000), label(printed)).is_err() {
            refused += 1;
        }
    }
    assert_eq!(refused, 2, "the third label alike is believed");
    assert_eq!(timebase.instant(label(100_000_000)).unwrap(), race_zero);
    assert_eq!(timebase.running_of_label(label(110_000_000)), label(111_000_000));
}

/// A receiver that falls back by 1024 weeks (7 * 86400 * 1024 s) keeps its pulses; the clock goes on.
#[test]
fn a_week_rollover_does_not_move_a_running_clock() {
    let (mut timebase, board) = (timebase(), Board { ppb: 0 });
    (0..20).for_each(|s| second(&mut timebase, &board, s, true));
    let race_zero = timebase.instant(label(100_000_000)).unwrap();
    let rollover = 7 * 86_400 * 1_024 * 1_000_000_i64;
    for tenth in 200..300 {
        let us = tenth * 100_000;
        let _ = timebase.label(board.at(us + 70_000), label(us - rollover));
    }
    assert_eq!(timebase.running_of_label(label(30_000_000 - rollover)), label(30_000_000));
    assert_eq!(timebase.instant(label(100_000_000)).unwrap(), race_zero);
}

/// Without pulses the running clock is that of arrivals, 60 ms behind each fix that came as usual, 70 ms late.
#[test]
fn without_pulses_a_fix_counts_from_50_ms_before_its_moment_to_950_ms_after_it() {
    let (mut timebase, board) = (timebase(), Board { ppb: 0 });
    (0..30).for_each(|s| second(&mut timebase, &board, s, false));
    let (soon, behind) = (Err(Refused::FromTheFuture), Err(Refused::LabelOutOfStep));
    let good = Ok(label(30_000_000));
    // How long after its moment it comes; 10 ms of that the arrivals hide.
    for (after_us, expected) in
        [(-41_000, soon), (-40_000, good), (70_000, good), (959_000, good), (960_000, behind)]
    {
        let arrived = board.at(30_000_000 + after_us);
        assert_eq!(timebase.clone().label(arrived, label(30_000_000)), expected, "{after_us} us");
    }
}

/// The same leap second and the same rollover with no pulse to hold on to.
#[test]
fn without_pulses_labels_that_jump_do_not_move_a_running_clock() {
    for by in [-1_000_000, 5_000_000, -7 * 86_400 * 1_024 * 1_000_000] {
        let (mut timebase, board) = (timebase(), Board { ppb: 0 });
        (0..20).for_each(|s| second(&mut timebase, &board, s, false));
        let race_zero = timebase.instant(label(100_000_000)).unwrap();
        let placed = (200..300_i64).map(|tenth| {
            let us = tenth * 100_000;
            timebase.label(board.at(us + 70_000), label(us + by))
        });
        let refused = placed.collect::<std::vec::Vec<_>>().iter().filter(|it| it.is_err()).count();
        assert_eq!(refused, 2, "{by}: the third label alike is believed");
        assert_eq!(timebase.instant(label(100_000_000)).unwrap(), race_zero, "{by}");
        assert_eq!(timebase.running_of_label(label(40_000_000 + by)), label(40_000_000), "{by}");
    }
}

#[test]
fn one_late_burst_is_not_a_jump_of_the_labels() {
    let (mut timebase, board) = (timebase(), Board { ppb: 0 });
    (0..20).for_each(|s| second(&mut timebase, &board, s, true));
    for n in 0..10 {
        // One second's worth, all delivered within 10 ms, 1.5 s late.
        let arrived = board.at(22_500_000 + n * 1_000);
        let _ = timebase.label(arrived, label(20_000_000 + n * 100_000));
    }
    assert_eq!(timebase.running_of_label(label(0)), label(0));
}

#[test]
fn a_stray_pulse_is_refused_and_three_in_step_are_believed() {
    let (mut timebase, board) = (timebase(), Board { ppb: 0 });
    (0..20).for_each(|s| second(&mut timebase, &board, s, true));
    assert_eq!(timebase.pulse(board.at(20_400_000)), Err(Refused::PulseOutOfStep));
    timebase.pulse(board.at(21_000_000)).unwrap();
    assert_eq!(timebase.pulse(board.at(22_300_000)), Err(Refused::PulseOutOfStep));
    assert_eq!(timebase.pulse(board.at(23_300_000)), Err(Refused::PulseOutOfStep));
    assert_eq!(timebase.pulse(board.at(24_300_000)), Ok(()));
}

proptest! {
    #[test]
    fn there_and_back_is_the_same_microsecond(ppb in -60_000_i64..60_000, us in 0_i64..600_000_000) {
        let (mut timebase, board) = (timebase(), Board { ppb });
        (0..20).for_each(|s| second(&mut timebase, &board, s, true));
        let instant = timebase.instant(label(us)).unwrap();
        let back = timebase.running(instant).unwrap();
        // The way back uses 1 - d for 1 / (1 + d): 4e-9 of 600 s is 2.2 us at 60 ppm.
        prop_assert!(back.since(label(us)).abs() <= Span::from_micros(3));
    }

    #[test]
    fn any_pulses_and_labels_leave_the_next_wake_later_than_now(
        events in proptest::collection::vec((any::<bool>(), 0_u64..3_000_000, -3_000_000_i64..3_000_000), 0..200)
    ) {
        let mut timebase = timebase();
        let mut now = Instant::BOOT;
        for (pulse, step, jitter) in events {
            now = now.plus(Span::from_micros(step as i64));
            if pulse {
                let _ = timebase.pulse(now);
            } else {
                let _ = timebase.label(now, label(now.as_micros() as i64 + jitter));
            }
            prop_assert!(timebase.next_wake(now).is_none_or(|wake| wake > now));
        }
    }
}
