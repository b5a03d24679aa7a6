//! Hot laps through `feed`, and a hand on the acknowledge button.

use crate::dash::tests::{Heat, ZERO_UTC, position, t, with_run_in};
use crate::gnss::Fix;
use crate::input::{Input, Line};
use crate::output::{Output, Refused, Tone};
use crate::run_in::learn::Offer;
use crate::units::{CentiDegrees, MmPerSecond, Span};
use std::vec::Vec;

/// A boat that pulls 20 % more than the demonstration's formula, four times from 40 m/s to its top on the round course.
fn hot_laps() -> Heat {
    let mut heat = Heat::new(&with_run_in(), 400);
    heat.run(-380, -370);
    for run in 0..4 {
        for ms in (-360_000 + (run - 1) * 40_000 + 20_000..-360_000 + run * 40_000).step_by(1_000) {
            heat.feed(ms.max(-369_000), Input::Pps);
        }
        let (mut v, mut x, from) = (40.0_f64, 0.0_f64, -360_000 + run * 40_000);
        for step in 0..20_000 {
            if step % 100 == 0 {
                fix(&mut heat, from + step, x, v);
            }
            let t = f64::from(i32::try_from(step).unwrap()) / 1e3;
            let pull = 1.2 * 9.0 * (1.0 - (v / 96.0).powi(2)) * (1.0 - f64::exp(-t / 1.3));
            (x, v) = (x + v * 1e-3, v + pull * 1e-3);
        }
    }
    for ms in (-220_000..-200_000).step_by(1_000) {
        heat.feed(ms, Input::Pps);
    }
    heat
}

fn fix(heat: &mut Heat, ms: i64, x: f64, v: f64) {
    if ms % 1_000 == 0 {
        heat.feed(ms, Input::Pps);
    }
    let angle = x / 640.0;
    let course = (-angle.to_degrees() * 100.0).round().rem_euclid(36_000.0) as i32;
    let fix = Fix {
        utc: ZERO_UTC.plus(Span::from_millis(ms)),
        position: position(640.0 * angle.cos(), 640.0 * angle.sin()),
        speed: MmPerSecond::from_mm_s((v * 1e3) as i32),
        course: CentiDegrees::from_centi(course % 36_000),
        position_sd: None,
        speed_sd: None,
        hdop_centi: None,
        valid: true,
    };
    heat.feed(ms + 65, Input::Fix(fix));
}

/// At rest, with fixes: the alert about missing ones is gone.
fn at_rest(heat: &mut Heat, from_ms: i64, to_ms: i64) {
    for ms in (from_ms..to_ms).step_by(100) {
        fix(heat, ms, 0.0, 0.0);
    }
}

fn acknowledge(heat: &mut Heat, ms: i64, active: bool) {
    heat.feed(ms, Input::Edge { line: Line::Acknowledge, active });
}

fn learned(heat: &Heat) -> Vec<(bool, Offer)> {
    heat.found(|output| match output {
        Output::Learned { accepted, offer } => Some((*accepted, *offer)),
        _ => None,
    })
}

#[test]
fn a_held_acknowledge_button_takes_over_what_hot_laps_have_taught() {
    let mut heat = hot_laps();
    at_rest(&mut heat, -200_000, -180_000);
    let offered = learned(&heat);
    assert_eq!(offered.iter().map(|(accepted, _)| *accepted).collect::<Vec<_>>(), [false]);
    assert_eq!(heat.dash.view(t(-180_000)).alert, None);
    let offer = heat.dash.view(t(-180_000)).offer.unwrap();
    let grown = f64::from(offer.pull_learned_mm_s2) / f64::from(offer.pull_now_mm_s2);
    assert!((1.15..1.25).contains(&grown), "{offer:?}");

    acknowledge(&mut heat, -180_000, true);
    at_rest(&mut heat, -180_000, -178_100);
    assert_eq!(learned(&heat).len(), 1, "not before two seconds");
    assert_eq!(heat.dash.next_wake().map(|due| due <= t(-178_000)), Some(true));
    heat.feed(-178_000, Input::Tick);
    assert_eq!(learned(&heat).last().map(|(accepted, _)| *accepted), Some(true));
    assert!(heat.decided.iter().any(|(ms, output)| (*ms, output) == (-178_000, &Output::Cue(Tone::Taken))));
    acknowledge(&mut heat, -177_900, false);
    at_rest(&mut heat, -177_900, -175_000);

    let settings = heat.dash.settings();
    assert_eq!(settings.check(), Ok(()));
    let boat = &settings.run_in.as_ref().unwrap().boat;
    assert!(!boat.demonstration);
    for v in [60.0, 68.0, 76.0, 84.0_f64] {
        let truth = 1.2 * 9_000.0 * (1.0 - (v / 96.0).powi(2));
        let seen = f64::from(boat.acceleration_mm_s2(MmPerSecond::from_mm_s((v * 1e3) as i32)));
        assert!((seen / truth - 1.0).abs() < 0.05, "{v}: {seen} {truth}");
    }
    assert_eq!(heat.dash.view(t(-175_000)).offer, None, "it is used up");
}

#[test]
fn a_short_press_puts_the_offer_away_and_takes_nothing_over() {
    let mut heat = hot_laps();
    at_rest(&mut heat, -200_000, -180_000);
    let before = heat.dash.settings().clone();
    acknowledge(&mut heat, -179_000, true);
    acknowledge(&mut heat, -178_800, false);
    heat.feed(-170_000, Input::Tick);
    assert_eq!((learned(&heat).len(), heat.dash.settings()), (1, &before));
    at_rest(&mut heat, -169_000, -165_000);
    assert_eq!(heat.dash.view(t(-165_000)).offer, None);
}

#[test]
fn nothing_is_offered_or_taken_over_while_a_clock_runs() {
    let mut heat = hot_laps();
    at_rest(&mut heat, -200_000, -180_000);
    acknowledge(&mut heat, -180_000, true);
    // The first gun comes while he holds the button.
    heat.press(-179_900, 30);
    at_rest(&mut heat, -179_800, -170_000);
    acknowledge(&mut heat, -169_900, false);
    assert_eq!(learned(&heat).len(), 1);
    assert_eq!(heat.dash.view(t(-170_000)).offer, None);
}

#[test]
fn a_hand_that_silences_an_alert_takes_nothing_over() {
    let mut heat = hot_laps();
    at_rest(&mut heat, -200_000, -180_000);
    // No fix for a second is a caution; it stands in the offer's place.
    heat.feed(-178_500, Input::Tick);
    assert_eq!(heat.dash.view(t(-178_500)).offer, None);
    acknowledge(&mut heat, -178_000, true);
    heat.feed(-170_000, Input::Tick);
    acknowledge(&mut heat, -169_000, false);
    assert_eq!(learned(&heat).len(), 1);
}

#[test]
fn the_same_inputs_take_over_the_same_boat() {
    let run = || {
        let mut heat = hot_laps();
        at_rest(&mut heat, -200_000, -180_000);
        acknowledge(&mut heat, -180_000, true);
        at_rest(&mut heat, -180_000, -177_000);
        assert_eq!(learned(&heat).len(), 2);
        (heat.decided.clone(), heat.dash.settings().clone())
    };
    assert_eq!(run(), run());
}

#[test]
fn a_host_takes_the_offer_over_as_the_driver_would_or_puts_it_away_and_never_while_a_clock_runs() {
    let refused = |heat: &Heat| {
        heat.found(|output| (*output == Output::Refused(Refused::NothingOffered)).then_some(()))
    };
    let mut by_hand = hot_laps();
    at_rest(&mut by_hand, -200_000, -180_000);
    acknowledge(&mut by_hand, -180_000, true);
    at_rest(&mut by_hand, -180_000, -177_000);

    let mut fresh = Heat::new(&with_run_in(), 400);
    fresh.feed(-380_000, Input::Offer { accept: true });
    assert_eq!(refused(&fresh).len(), 1, "nothing was learned yet");
    let mut heat = hot_laps();
    at_rest(&mut heat, -200_000, -180_000);
    assert_eq!(heat.dash.offered(t(-180_000)), heat.dash.view(t(-180_000)).offer);
    heat.feed(-180_000, Input::Offer { accept: false });
    assert_eq!(heat.dash.view(t(-180_000)).offer, None, "put away");
    heat.feed(-179_900, Input::Offer { accept: true });
    assert_eq!(learned(&heat).iter().map(|(accepted, _)| *accepted).collect::<Vec<_>>(), [false, true]);
    assert_eq!(heat.dash.settings(), by_hand.dash.settings());

    let mut armed = hot_laps();
    at_rest(&mut armed, -200_000, -180_000);
    armed.press(-180_000, 30);
    armed.feed(-179_000, Input::Offer { accept: true });
    assert_eq!((refused(&armed).len(), learned(&armed).len()), (1, 1));
}
