//! Both sides of the figures that the law book names: whole heats on the round course of the dash's own tests.

use std::vec::Vec;

use super::tests::{Heat, ZERO_UTC, call, settings, with_a_floor};
use super::*;
use crate::output::{AlertState, Call, Tone};
use crate::resume::{ClockCarried, Resume};

fn penalties(heat: &Heat) -> Vec<i64> {
    let at = |(ms, output): &(i64, Output)| matches!(output, Output::Penalty { .. }).then_some(*ms);
    heat.decided.iter().filter_map(at).collect()
}

fn raised(heat: &Heat, which: AlertId) -> Vec<i64> {
    let at = |(ms, output): &(i64, Output)| match output {
        Output::Alert { id, state: AlertState::Raised, .. } if *id == which => Some(*ms),
        _ => None,
    };
    heat.decided.iter().filter_map(at).collect()
}

/// Rule F1. The boat is below the floor of 80 m/s all the time; from the fix of 300.0 s before zero on that counts, and
/// 5 s later, with the next fix of ten a second, it costs.
#[test]
fn slowness_before_the_last_five_minutes_costs_nothing() {
    let mut heat = Heat::new(&with_a_floor(), 400);
    heat.run(-395, -393);
    heat.feed(-392_950, Input::Schedule { zero: ZERO_UTC });
    heat.run(-392, -300);
    assert_eq!(penalties(&heat), []);
    heat.run(-300, -294);
    assert_eq!(penalties(&heat), [-294_900 + 65]);
}

/// Rules F1, T1: a fix of 300.05 s before zero comes in 65 ms later, when it is 299.985 s before. It counts for nothing.
#[test]
fn the_floor_goes_by_the_moment_of_a_fix_not_by_its_arrival() {
    let mut heat = Heat::new(&with_a_floor(), 400);
    heat.run(-395, -393);
    heat.feed(-392_950, Input::Schedule { zero: ZERO_UTC });
    for ms in (-320_050..-294_940).step_by(100) {
        heat.fix(ms);
    }
    assert_eq!(penalties(&heat), [], "4.9 s from the fix of -299.95 to that of -294.95");
    heat.fix(-294_850);
    assert_eq!(penalties(&heat), [-294_850 + 65], "5.1 s");
}

/// Rule F1. Seen from 3 s before zero on, the boat starts at 0.4 s: 3.4 s of slowness are within the grace, and the
/// minute after it is not looked at.
#[test]
fn slowness_after_the_start_costs_nothing() {
    let mut heat = Heat::new(&with_a_floor(), 400);
    heat.press(-299_810, 120);
    heat.run(-3, 55);
    assert_eq!(heat.found(call).len(), 1);
    assert_eq!(penalties(&heat), []);
}

/// A thumb's zero, and a contact of the one-minute gun that closes `late_ms` after it: beyond the gate of four times 44
/// ms, so zero moves by just that [C5].
fn overruled_by(late_ms: i64) -> Heat {
    let mut heat = Heat::new(&settings(), 400);
    heat.press(-299_810, 120);
    assert_eq!(heat.dash.view(heat.t(-60_000)).race, Some(Span::from_secs(-60)));
    heat.feed(-60_000 + late_ms, Input::Edge { line: Line::GunContact, active: true });
    heat
}

/// Rule C11.
#[test]
fn a_move_of_a_quarter_of_a_second_is_a_caution_and_shown_for_six_seconds() {
    for late_ms in [250, -250, 249, -249] {
        let mut heat = overruled_by(late_ms);
        let moves = heat.found(|o| if let Output::Zero { moved, .. } = o { *moved } else { None });
        assert_eq!(moves, [Span::from_millis(late_ms)], "said, whatever its size");
        let (at, told) = (-60_000 + late_ms, late_ms.abs() >= 250);
        assert_eq!(raised(&heat, AlertId::ZeroMoved).len(), usize::from(told), "{late_ms}");
        for (after_ms, shown) in [(0, told), (6_000, told), (6_001, false)] {
            heat.feed(at + after_ms, Input::Tick);
            let moved = heat.dash.view(heat.t(at + after_ms)).zero_moved;
            assert_eq!(moved, shown.then_some(Span::from_millis(late_ms)), "{after_ms} ms after");
        }
    }
}

/// Rule C12. The board was busy: it looks at its clock for the first time so long after a count was due.
#[test]
fn a_count_missed_by_more_than_a_fifth_of_a_second_stays_silent() {
    for (due_ms, tone) in [(-60_000, Tone::Count), (-10_000, Tone::Count), (0, Tone::Zero)] {
        for (late_ms, sounds) in [(0, true), (200, true), (201, false)] {
            let mut heat = Heat::new(&settings(), 400);
            heat.press(-299_810, 120);
            heat.feed(due_ms - 2_500, Input::Tick);
            heat.decided.clear();
            heat.feed(due_ms + late_ms, Input::Tick);
            heat.feed(due_ms + late_ms + 1, Input::Tick);
            let cues = heat.found(|o| (*o == Output::Cue(tone)).then_some(()));
            assert_eq!(cues.len(), usize::from(sounds), "{due_ms}, {late_ms} ms late");
        }
    }
}

/// Rule T9. An edge stamped by an interrupt waits behind a message: it counts from its own stamp, or not at all.
#[test]
fn a_stamp_up_to_a_tenth_of_a_second_late_is_used_as_it_stands() {
    for (late_ms, used) in [(1, true), (100, true), (101, false)] {
        let mut heat = Heat::new(&settings(), 400);
        heat.feed(-299_810 + late_ms, Input::Tick);
        heat.feed(-299_810, Input::Edge { line: Line::Button, active: true });
        let race = heat.dash.view(heat.t(-100_000)).race;
        assert_eq!(race, used.then_some(Span::from_secs(-100)), "{late_ms} ms late");
        let refused = heat.found(|o| (*o == Output::Refused(Refused::Late)).then_some(()));
        assert_eq!(refused.len(), usize::from(!used));
    }
}

/// Rule T9. Every pulse comes to the dash 90 ms late, with its own stamp: the call errs no more than with punctual ones.
#[test]
fn pulses_that_wait_behind_a_message_place_fixes_as_well() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-320_000, Input::Tick);
    for ms in (-320_000..2_000).step_by(100) {
        if ms == -299_800 {
            heat.press(-299_810, 120);
        }
        if ms % 1_000 == 0 {
            heat.feed(ms + 60, Input::Tick);
            heat.feed(ms, Input::Pps);
        }
        heat.fix(ms);
    }
    let calls = heat.found(call);
    assert_eq!(calls.first().map(|call| call.0), Some(Call::Legal));
    assert!((calls[0].1 - 400_000).abs() < 300, "{calls:?}");
    assert_eq!(heat.dash.view(heat.t(2_000)).tie, Tie::Pps);
}

/// Rule A1. The boat bends with the course, so what counts is where it heads at the moment: on a circle of 640 m about
/// the course's middle, at an angle a before the line, the straight on meets it at 640 m / cos a. The right end lies at
/// 690 m and may be passed by 2 m: cos a = 640 / 692, a = 0.390, which is 0.390 x 640 m / 70 m/s = 3.57 s before the
/// line, for the antenna; the bow, some metres ahead, comes a little sooner. Time alone would allow 4.6 s.
#[test]
fn the_line_is_announced_once_the_boat_heads_between_its_ends() {
    let mut heat = Heat::new(&settings(), 400);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, 118);
    let told = raised(&heat, AlertId::Approach);
    // Laps of 57.446 s from the start at 0.4 s; a fix every 0.1 s comes 0.065 s after its moment.
    for (told_ms, line_ms) in told.iter().zip([57_846, 115_292]) {
        let before_ms = line_ms - told_ms;
        assert!((3_300..3_600).contains(&before_ms), "{before_ms} ms before the line");
    }
    assert_eq!(told.len(), 2, "once a lap: {told:?}");
}

/// A heat armed by thumb goes on, after ten seconds without power, by what its record carried.
fn without_power(leap: bool) -> Heat {
    let mut heat = Heat::new(&settings(), 400);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, -200);
    let carried = heat.dash.carried(heat.t(-200_000)).unwrap();
    heat.leap_ms = leap.then_some(-195_000);
    heat.dash = Dash::new(&settings());
    heat.clock = Span::from_secs(1_234);
    heat.feed(-190_000, Input::Resume(Resume { carried, clock: ClockCarried::Unknown }));
    heat
}

fn zero_off(heat: &Heat) -> Option<Span> {
    Some(-heat.dash.view(heat.t(0)).race?)
}

/// Rule P3. Labels are a second behind after the leap second, so the label of zero comes a second late; the dash, which
/// was off, cannot know.
#[test]
fn a_leap_second_during_a_cold_restart_puts_zero_a_second_late() {
    let [mut plain, mut leapt] = [false, true].map(without_power);
    plain.run(-190, -170);
    leapt.run(-190, -170);
    let (plain, leapt) = (zero_off(&plain).unwrap(), zero_off(&leapt).unwrap());
    assert!(plain.abs() < Span::from_millis(2), "{plain:?}");
    assert!((leapt - Span::from_secs(1)).abs() < Span::from_millis(2), "{leapt:?}");
}

/// Rule P3. A receiver falls back by 1024 weeks (7 x 86,400 s x 1,024) meanwhile: such labels come before the record.
/// Or it was back there already when the record was written, and comes right: then the record is of an old heat.
#[test]
fn a_week_rollover_during_a_cold_restart_invents_no_zero() {
    let rollover = Span::from_secs(7 * 86_400 * 1_024);
    for (by, refused) in [(-rollover, None), (rollover, Some(Refused::ZeroTooOld))] {
        let mut heat = without_power(false);
        heat.decided.clear();
        // A dash of its own makes the fixes, so that only their labels differ.
        let mut fixes = Heat::new(&settings(), 400);
        for ms in (-189_900..-180_000).step_by(100) {
            fixes.fix(ms);
            let mut fix = fixes.dash.last_fix.map(|last| last.fix).unwrap();
            fix.utc = fix.utc.plus(by);
            heat.feed(ms + 65, Input::Fix(fix));
        }
        assert_eq!(zero_off(&heat), None);
        assert_eq!(heat.dash.view(heat.t(-180_000)).finding_zero, refused.is_none());
        let said = heat.found(|o| if let Output::Refused(why) = o { Some(*why) } else { None });
        assert_eq!(said.first().copied(), refused, "{said:?}");
    }
}
