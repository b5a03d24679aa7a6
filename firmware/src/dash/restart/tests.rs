//! Heats that are cut short and go on, on the round course of the dash's own tests.

use std::vec::Vec;

use super::super::tests::{Heat, ZERO_UTC, call, settings, with_a_floor};
use super::*;
use crate::input::{Input, Line};
use crate::output::{Call, Counted, ZeroSource};
use crate::resume::{Basis, CarriedRace, RESTART_SD};
use crate::view::Phase;

/// The power was on: the clock carried on, and is ahead by 2 ms that nobody knows of.
const SOFT: (ClockCarried, Span) = (ClockCarried::CarriedOn { sd: RESTART_SD }, Span::from_millis(2));

/// The power was off: the clock goes on somewhere else.
const COLD: (ClockCarried, Span) = (ClockCarried::Unknown, Span::from_secs(1_234));

/// A fresh dash goes on at `ms` with what the old one knew.
fn restart(heat: &mut Heat, ms: i64, (clock, ahead): (ClockCarried, Span)) {
    let carried = heat.dash.carried(heat.t(ms)).unwrap();
    heat.dash = Dash::new(&heat.dash.settings().clone());
    heat.clock = heat.clock + ahead;
    heat.decided.clear();
    heat.feed(ms, Input::Resume(Resume { carried, clock }));
}

/// A heat with a gun at five minutes, run up to `until_s`.
fn armed(start_ms: i64, until_s: i64) -> Heat {
    let mut heat = Heat::new(&settings(), start_ms);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, until_s);
    heat
}

/// Zero by race time, as the dash has it: how late.
fn zero(heat: &Heat) -> Option<Span> {
    let race = heat.dash.view(heat.t(0)).race?;
    Some(-race)
}

fn sigma(heat: &Heat) -> Span {
    heat.dash.view(heat.t(0)).zero_sigma.unwrap()
}

fn refused(heat: &Heat) -> Vec<Refused> {
    heat.found(|o| if let Output::Refused(why) = o { Some(*why) } else { None })
}

fn zeros(heat: &Heat) -> Vec<(ZeroSource, Option<Span>)> {
    heat.found(|o| if let Output::Zero { source, moved, .. } = o { Some((*source, *moved)) } else { None })
}

fn ms(span: Span) -> f64 {
    span.as_micros() as f64 / 1e3
}

#[test]
fn a_soft_restart_arms_at_once_with_the_restarts_error_on_top() {
    let mut heat = armed(400, -200);
    let (zero_before, sigma_before) = (zero(&heat).unwrap(), sigma(&heat));
    restart(&mut heat, -199_900, SOFT);
    assert_eq!(zeros(&heat), [(ZeroSource::Resumed, None)]);
    assert_eq!(zero(&heat), Some(zero_before - Span::from_millis(2)), "the clock is ahead: zero comes early");
    // Root of the sum of squares, by hand.
    let expected = (ms(sigma_before).powi(2) + 3.0_f64.powi(2)).sqrt();
    assert!((ms(sigma(&heat)) - expected).abs() < 0.002, "{:?}", sigma(&heat));
    let view = heat.dash.view(heat.t(-199_800));
    assert!(view.resumed && !view.finding_zero && view.phase == Phase::Milling);
}

#[test]
fn utc_puts_a_softly_resumed_zero_back_and_says_so() {
    let mut heat = armed(400, -200);
    let (zero_before, sigma_before) = (zero(&heat).unwrap(), sigma(&heat));
    restart(&mut heat, -199_900, SOFT);
    // The crystal is measured anew first, over four seconds: until then UTC would be worse.
    heat.run(-199, -190);
    let moves = zeros(&heat);
    assert_eq!(moves.len(), 2, "{moves:?}");
    assert!((ms(moves[1].1.unwrap()) - 2.0).abs() < 0.3, "{moves:?}");
    assert_eq!(moves[1].0, ZeroSource::Resumed);
    let off = zero(&heat).unwrap() - zero_before;
    assert!(ms(off).abs() < 0.3 && ms(sigma(&heat) - sigma_before).abs() < 0.1, "{off:?}");
}

/// A leap second inserted during the restart: the labels are a second behind what was carried.
#[test]
fn labels_that_jumped_meanwhile_do_not_move_a_zero_whose_clock_carried_on() {
    let mut heat = armed(400, -200);
    let before = zero(&heat).unwrap();
    heat.leap_ms = Some(-199_950);
    restart(&mut heat, -199_900, SOFT);
    heat.run(-199, 10);
    assert_eq!(zeros(&heat).len(), 1);
    assert_eq!(zero(&heat), Some(before - Span::from_millis(2)));
}

#[test]
fn a_cold_start_waits_for_utc_and_finds_zero_with_the_first_fix() {
    let mut heat = armed(400, -200);
    let (zero_before, sigma_before) = (zero(&heat).unwrap(), sigma(&heat));
    restart(&mut heat, -190_000, COLD);
    assert_eq!(refused(&heat), [Refused::ZeroWaitsForUtc]);
    let view = heat.dash.view(heat.t(-189_900));
    assert!(view.finding_zero && !view.resumed && view.phase == Phase::Waiting);
    heat.fix(-189_800);
    assert_eq!(zeros(&heat), [(ZeroSource::Resumed, None)]);
    let off = zero(&heat).unwrap() - zero_before;
    assert!(ms(off).abs() < 4.0 * ms(sigma(&heat)));
    // The tie by arrivals is good to 20 ms, and the crystal to 30 ppm of 190 s: 5.7 ms.
    let expected = (ms(sigma_before).powi(2) + 20.0_f64.powi(2) + 5.7_f64.powi(2)).sqrt();
    assert!((ms(sigma(&heat)) - expected).abs() < 0.1, "{:?}", sigma(&heat));
    heat.run(-189, -170);
    let off = zero(&heat).unwrap() - zero_before;
    assert!(ms(off).abs() < 1.1 && ms(sigma(&heat) - sigma_before).abs() < 0.1, "by pulses: {off:?}");
}

/// The watchdog bites while a cold start still waits for UTC: the zero it carries is on no clock that runs.
#[test]
fn a_soft_restart_while_zero_waits_for_utc_waits_on() {
    let mut heat = armed(400, -200);
    let before = zero(&heat).unwrap();
    restart(&mut heat, -190_000, COLD);
    let carried = heat.dash.carried(heat.t(-189_000)).unwrap();
    assert!(carried.is_adrift && carried.zero().is_none());
    restart(&mut heat, -189_000, SOFT);
    assert_eq!((refused(&heat), zero(&heat)), (std::vec![Refused::ZeroWaitsForUtc], None));
    heat.run(-188, -170);
    assert!(ms(zero(&heat).unwrap() - before).abs() < 1.1);
}

#[test]
fn a_zero_whose_utc_was_never_known_is_lost_and_not_invented() {
    let mut heat = Heat::new(&settings(), 400);
    heat.press(-299_810, 120);
    restart(&mut heat, -290_000, COLD);
    assert_eq!(refused(&heat), [Refused::ZeroLost]);
    heat.run(-289, -61);
    assert_eq!(zero(&heat), None);
    assert_eq!(heat.dash.carried(heat.t(-61_000)), None);
    heat.feed(-60_000, Input::Edge { line: Line::Page, active: true });
    heat.press(-59_810, 120);
    assert!(ms(zero(&heat).unwrap()).abs() < 20.0, "the page button and the one-minute gun bring it back");
}

#[test]
fn labels_from_before_the_record_find_nothing_and_an_old_heat_is_let_go() {
    for (later_s, told) in [(-3_600, Vec::new()), (2_400, std::vec![Refused::ZeroTooOld])] {
        let mut heat = armed(400, -200);
        let mut carried = heat.dash.carried(heat.t(-200_000)).unwrap();
        let label = carried.known_zero.as_mut().unwrap().utc.as_mut().unwrap();
        // Zero's label is moved instead of all labels to come: a record of an hour later, or of forty minutes before.
        label.utc = label.utc.plus(Span::from_secs(-later_s));
        heat.dash = Dash::new(&settings());
        heat.decided.clear();
        heat.feed(-199_000, Input::Resume(Resume { carried, clock: ClockCarried::Unknown }));
        heat.run(-198, -190);
        assert_eq!(refused(&heat)[1..], told);
        assert_eq!(zero(&heat), None);
        assert_eq!(heat.dash.view(heat.t(-190_000)).finding_zero, told.is_empty());
    }
}

#[test]
fn a_resume_to_a_clock_that_runs_or_waits_is_refused() {
    for kind in [SOFT, COLD] {
        let mut heat = armed(400, -200);
        let carried = heat.dash.carried(heat.t(-200_000)).unwrap();
        heat.feed(-199_900, Input::Resume(Resume { carried, clock: kind.0 }));
        assert_eq!(refused(&heat), [Refused::NotFresh]);
        restart(&mut heat, -199_800, kind);
        let before = heat.decided.len();
        heat.feed(-199_700, Input::Resume(Resume { carried, clock: kind.0 }));
        assert_eq!(heat.decided[before..], [(-199_700, Output::Refused(Refused::NotFresh))]);
    }
}

#[test]
fn a_press_while_zero_waits_for_utc_is_the_next_signal_and_begins_a_new_clock() {
    let mut heat = armed(400, -200);
    restart(&mut heat, -190_000, COLD);
    heat.press(-59_810, 120);
    assert_eq!(zeros(&heat), [(ZeroSource::Press { before_s: 60 }, None)]);
    heat.run(-58, -40);
    assert!(!heat.dash.view(heat.t(-40_000)).resumed, "what was carried is let go");
    assert!(ms(zero(&heat).unwrap()).abs() < 20.0);
}

#[test]
fn a_press_in_a_race_whose_zero_waits_for_utc_is_a_stray() {
    let mut heat = armed(400, 70);
    restart(&mut heat, 71_000, COLD);
    heat.press(72_000, 120);
    let strays = heat.found(|o| if let Output::Stray { why, .. } = o { Some(*why) } else { None });
    assert_eq!(strays, [Stray::RaceOn]);
    heat.run(73, 80);
    assert_eq!(heat.dash.view(heat.t(80_000)).laps_done, 1);
}

#[test]
fn holding_the_button_lets_go_of_what_waits_for_utc() {
    let mut heat = armed(400, 70);
    restart(&mut heat, 71_000, COLD);
    heat.press(72_000, 2_500);
    assert_eq!(heat.found(|o| (*o == Output::Cleared).then_some(())).len(), 1);
    heat.run(75, 80);
    assert_eq!((zero(&heat), heat.dash.carried(heat.t(80_000))), (None, None));
}

/// What the heat of the round course comes to without any restart is in the dash's own tests.
#[test]
fn call_laps_and_finish_are_as_if_nothing_had_been() {
    for kind in [SOFT, COLD] {
        let mut heat = armed(400, 20);
        assert_eq!(heat.found(call).len(), 1);
        restart(&mut heat, 20_300, kind);
        heat.run(21, 90);
        restart(&mut heat, 90_300, kind);
        let again = heat.dash.carried(heat.t(90_300)).unwrap();
        assert_eq!((again.race.laps_done, again.race.call.map(|view| view.call)), (1, Some(Call::Legal)));
        heat.run(91, 180);
        assert_eq!(heat.found(call), [], "the start is not called anew");
        let laps =
            heat.found(|o| if let Output::Lap { lap, time, .. } = o { Some((*lap, *time)) } else { None });
        assert_eq!(laps.iter().map(|lap| lap.0).collect::<Vec<_>>(), [2, 3]);
        assert!(laps.iter().all(|(_, time)| (time.as_micros() - 57_446_272).abs() < 400), "{laps:?}");
        let finish = heat.found(|o| if let Output::Finish { time, .. } = o { Some(*time) } else { None });
        // Three laps of 57.446 s after a start 0.4 s late; zero is the same to what the restarts leave.
        assert!((ms(finish[0]) - 172_738.8).abs() < 20.0, "{finish:?}");
    }
}

#[test]
fn an_early_start_owes_its_lap_after_a_restart_too() {
    for kind in [SOFT, COLD] {
        let mut heat = armed(-500, 20);
        restart(&mut heat, 20_300, kind);
        heat.run(21, 250);
        assert_eq!(heat.dash.view(heat.t(250_000)).laps_owed, 4);
        let finish = heat.found(|o| if let Output::Finish { laps, .. } = o { Some(*laps) } else { None });
        assert_eq!(finish, [4]);
    }
}

/// A contact closed at the gun puts zero 0.5 s later: the early start of before the restart is called anew.
#[test]
fn a_signal_after_the_restart_still_calls_the_start_anew() {
    let mut heat = armed(-500, 0);
    restart(&mut heat, -300, SOFT);
    heat.feed(500, Input::Edge { line: Line::GunContact, active: true });
    let calls = heat.found(call);
    assert_eq!(calls.len(), 1, "{calls:?}");
    assert!((calls[0].1 + 1_002_000).abs() < 1_500, "half a second earlier still: {calls:?}");
}

#[test]
fn what_a_thumb_may_not_overrule_it_may_not_overrule_after_a_restart() {
    for kind in [SOFT, COLD] {
        let mut heat = Heat::new(&settings(), 400);
        heat.run(-320, -300);
        heat.feed(-300_000, Input::Edge { line: Line::GunContact, active: true });
        heat.run(-299, -200);
        restart(&mut heat, -199_900, kind);
        heat.run(-199, -60);
        heat.press(-58_000, 120);
        heat.feed(-57_000, Input::Edge { line: Line::GunContact, active: false });
        let strays = heat.found(|o| if let Output::Stray { why, .. } = o { Some(*why) } else { None });
        assert_eq!(strays, [Stray::Overruled]);
        assert!(ms(zero(&heat).unwrap()).abs() < 2.0);
    }
}

#[test]
fn a_signal_taken_before_the_restart_is_taken() {
    let mut heat = armed(400, -60);
    heat.press(-59_810, 120);
    restart(&mut heat, -59_000, SOFT);
    heat.press(-57_500, 120);
    let strays = heat.found(|o| if let Output::Stray { why, .. } = o { Some(*why) } else { None });
    assert_eq!(strays, [Stray::AlreadyTaken]);
}

/// Two presses of one thumb, one on either side of a restart: what they share is counted once, so the error is that
/// of two presses and the restart's own.
#[test]
fn a_press_after_the_restart_is_averaged_with_what_was_carried() {
    let mut heat = armed(400, -200);
    let one = sigma(&heat);
    restart(&mut heat, -199_900, SOFT);
    heat.run(-199, -60);
    heat.press(-59_810, 120);
    let shared = ms(heat.dash.settings().gun.reaction_mean_sd);
    let expected = ((ms(one).powi(2) - shared.powi(2)) / 2.0 + shared.powi(2)).sqrt();
    assert!((ms(sigma(&heat)) - expected).abs() < 0.1, "{:?} {expected}", sigma(&heat));
}

#[test]
fn a_schedule_is_one_again_once_utc_is_known() {
    for kind in [SOFT, COLD] {
        let mut heat = Heat::new(&settings(), 400);
        heat.run(-320, -300);
        heat.feed(-299_500, Input::Schedule { zero: ZERO_UTC });
        heat.run(-299, -20);
        restart(&mut heat, -19_900, kind);
        heat.run(-19, 20);
        let sigmas = heat.found(|o| {
            if let Output::Call { margin, sigma, .. } = o { Some((*margin, *sigma)) } else { None }
        });
        assert!((ms(sigmas[0].0) - 400.0).abs() < 0.5, "on the fixes' own scale: {sigmas:?}");
        // 1 m of position and 0.05 m of lever arm at 70 m/s: 14.3 ms, and nothing of the restart or the tie.
        assert!((ms(sigmas[0].1) - 14.3).abs() < 0.3, "{sigmas:?}");
        let carried = heat.dash.carried(heat.t(20_000)).unwrap().zero().unwrap();
        assert_eq!(carried.rests_on, Basis::Schedule);
        assert_eq!(carried.utc, Some(Labelled { utc: ZERO_UTC, sigma: Span::ZERO }));
    }
}

#[test]
fn a_schedule_that_waits_for_utc_is_carried() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-350_000, Input::Schedule { zero: ZERO_UTC });
    restart(&mut heat, -340_000, COLD);
    heat.run(-320, -310);
    assert!(ms(zero(&heat).unwrap()).abs() < 1.0);
}

#[test]
fn time_owed_for_the_speed_floor_is_owed_after_a_restart() {
    let mut heat = Heat::new(&with_a_floor(), 400);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, 10);
    restart(&mut heat, 10_300, SOFT);
    heat.run(11, 180);
    let penalties =
        heat.found(|o| if let Output::Finish { penalty, .. } = o { Some(*penalty) } else { None });
    assert_eq!(penalties, [Span::from_secs(60)]);
}

#[test]
fn counts_sound_on_after_a_restart() {
    let mut heat = armed(400, -40);
    restart(&mut heat, -39_900, SOFT);
    heat.run(-39, 1);
    let counts = heat.found(|o| matches!(o, Output::Cue(Tone::Count | Tone::Zero)).then_some(()));
    assert_eq!(counts.len(), 9, "at 30, 20, 10, 5 to 1 and 0 s");
}

/// Ten blips in one countdown, soft and cold by turns: zero does not wander off.
#[test]
fn zero_does_not_wander_from_restart_to_restart() {
    let mut heat = armed(400, -290);
    let (before, sigma_before) = (zero(&heat).unwrap(), sigma(&heat));
    for turn in 0..10_i64 {
        let from_s = -290 + turn * 20;
        restart(&mut heat, from_s * 1_000, if turn % 2 == 0 { SOFT } else { COLD });
        heat.run(from_s + 1, from_s + 20);
    }
    let off = zero(&heat).unwrap() - before;
    assert!(ms(off).abs() < 1.5, "{off:?}");
    let grown = ms(sigma(&heat) - sigma_before);
    assert!((0.0..0.5).contains(&grown), "{grown}");
}

#[test]
fn what_is_carried_changes_with_decisions_and_hardly_else() {
    let mut heat = Heat::new(&settings(), 400);
    let mut last = None;
    let mut changes = 0;
    for s in -320..120 {
        if s == -300 {
            heat.press(-299_810, 120);
        }
        heat.run(s, s + 1);
        let now = heat.dash.carried(Instant::BOOT);
        changes += i32::from(now != last);
        last = now;
    }
    // Armed; the crystal and the tie better known in some steps; the start, the first lap, and no more.
    assert!((3..=8).contains(&changes), "{changes}");
    assert_ne!(last.unwrap().race, CarriedRace::default());
}

#[test]
fn a_crossing_missed_while_the_dash_was_off_is_not_invented() {
    let mut heat = armed(400, 50);
    restart(&mut heat, 70_000, COLD);
    heat.run(71, 120);
    let counted =
        heat.found(|o| if let Output::Crossing { counted, .. } = o { Some(*counted) } else { None });
    assert_eq!(counted, [Counted::Lap], "the lap that ended at 57.8 s was not seen");
    assert_eq!(heat.dash.view(heat.t(120_000)).laps_done, 1);
}
