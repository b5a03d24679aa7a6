//! Whole heats: when the run-in is recorded and what is said of it.

use proptest::prelude::*;
use std::vec::Vec;

use crate::alerts::cues::sounding;
use crate::dash::tests::{Heat, ZERO_UTC, t, with_run_in};
use crate::input::Input;
use crate::output::{Output, Tone};
use crate::run_in::risk::Advice;
use crate::settings::Settings;

fn armed(settings: &Settings, start_ms: i64) -> Heat {
    let mut heat = Heat::new(settings, start_ms);
    heat.run(-320, -300);
    heat.feed(-299_810, Input::Schedule { zero: ZERO_UTC });
    heat
}

/// The wakes that the dash asks for are fed, as a board does.
fn run(heat: &mut Heat, from_s: i64, to_s: i64) {
    for tenth in from_s * 10..to_s * 10 {
        wake(heat, tenth * 100);
        if tenth % 10 == 0 {
            heat.feed(tenth * 100, Input::Pps);
        }
        wake(heat, tenth * 100 + 65);
        heat.fix(tenth * 100);
    }
}

fn wake(heat: &mut Heat, until_ms: i64) {
    while let Some(due) = heat.dash.next_wake().filter(|due| *due < t(until_ms)) {
        // Microseconds are rounded up: a tick is never early.
        heat.feed((due.since(t(0)).as_micros() + 999).div_euclid(1_000), Input::Tick);
    }
}

fn is_spoken(tone: Tone) -> bool {
    !matches!(
        tone,
        Tone::Warning
            | Tone::Caution
            | Tone::Advisory
            | Tone::Taken
            | Tone::NotTaken
            | Tone::Count
            | Tone::Zero
    )
}

fn spoken(heat: &Heat) -> Vec<(i64, Tone)> {
    let cue = |(ms, output): &(i64, Output)| match output {
        Output::Cue(tone) if is_spoken(*tone) => Some((*ms, *tone)),
        _ => None,
    };
    heat.decided.iter().filter_map(cue).collect()
}

/// 0.4 s late by holding 70 m/s: flat out he would be early until the last seconds, and then he may go.
#[test]
fn the_run_in_is_recorded_once_a_second_and_when_its_word_changes() {
    let mut heat = armed(&with_run_in(), 400);
    run(&mut heat, -299, 2);
    let advice: Vec<_> = heat
        .decided
        .iter()
        .filter_map(|(ms, output)| match output {
            Output::Advice { word, margin, .. } => Some((*ms, *word, margin.as_micros())),
            _ => None,
        })
        .collect();
    let mut words: Vec<_> = advice.iter().map(|(_, word, _)| *word).collect();
    words.dedup();
    assert_eq!(words.last_chunk(), Some(&[Advice::Hold, Advice::Go]));
    let last_minute = advice.iter().filter(|(ms, ..)| (-60_000..0).contains(ms)).count();
    assert!((54..=62).contains(&last_minute), "{last_minute}");
    assert!(advice.iter().all(|(ms, ..)| *ms < 400 + 100), "none once the start is made");
    // What is recorded is what the screen shows: the margin comes down to the call.
    let (_, _, margin) = advice.last().unwrap();
    assert!((margin - 400_000).abs() < 60_000, "{margin}");
}

#[test]
fn the_beeper_counts_down_to_go_between_the_counts() {
    let mut heat = armed(&with_run_in(), 400);
    run(&mut heat, -299, 2);
    let spoken = spoken(&heat);
    let mut tones: Vec<_> = spoken.iter().map(|(_, tone)| *tone).collect();
    tones.dedup();
    assert_eq!(tones, [Tone::HoldThree, Tone::HoldTwo, Tone::HoldOne, Tone::Go], "{spoken:?}");
    for (ms, tone) in &spoken {
        let length = sounding(*tone).as_micros() / 1_000;
        for count in [30, 20, 10, 5, 4, 3, 2, 1, 0].map(|s| -1_000 * s) {
            // A count sounds for 60 ms.
            assert!(ms + length < count || *ms > count + 60, "{ms} {tone:?}");
        }
    }
}

#[test]
fn the_owner_may_have_it_silent_and_recorded_all_the_same() {
    let mut settings = with_run_in();
    if let Some(run_in) = settings.run_in.as_mut() {
        run_in.speaks = false;
    }
    let mut heat = armed(&settings, 400);
    run(&mut heat, -299, 2);
    assert_eq!(spoken(&heat), []);
    assert!(heat.found(|output| matches!(output, Output::Advice { .. }).then_some(())).len() > 100);
}

#[test]
fn nothing_is_said_before_a_gun_or_after_the_start() {
    let mut heat = Heat::new(&with_run_in(), 400);
    run(&mut heat, -320, -250);
    assert_eq!(spoken(&heat), []);
    let mut heat = armed(&with_run_in(), -2_000);
    run(&mut heat, -299, 20);
    assert!(spoken(&heat).iter().all(|(ms, _)| *ms < -1_900));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Fixes stop, for good: a second later the number is gone, that is said at most once, and nothing more.
    #[test]
    fn the_beeper_falls_silent_without_fixes(start_ms in -3_000_i64..6_000, stop_s in 2_i64..40) {
        let mut heat = armed(&with_run_in(), start_ms);
        run(&mut heat, -60, -stop_s);
        let before = spoken(&heat).len();
        wake(&mut heat, 2_000);
        let after = spoken(&heat);
        // The last fix arrived 35 ms before; a second without is a lost fix, and a rhythm may just have begun.
        let late: Vec<_> =
            after.iter().skip(before).filter(|(ms, _)| *ms > -stop_s * 1_000 + 1_000).collect();
        prop_assert!(late.len() <= 1, "{late:?}");
        prop_assert!(late.iter().all(|(_, tone)| *tone == Tone::NumberGone), "{late:?}");
    }
}
