//! What the dash shows of the run-in in the shipped heats: what the comment at the head of each heat says.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that fails panics")]

use std::path::Path;

use firmware::output::{Call, Output, Tone};
use firmware::run_in::Advice;
use firmware::units::Span;
use gunline::log::Log;
use gunline::play::play;
use gunline::scenario::load;

fn played(heat: &str) -> Log {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats").join(heat).with_extension("toml");
    play(&load(&path).unwrap_or_else(|report| panic!("{report}")))
}

/// The words between two race times, each as often as it came anew.
fn words(log: &Log, from_s: i64, to_s: i64) -> Vec<Advice> {
    let during = Span::from_secs(from_s)..Span::from_secs(to_s);
    let samples = log.samples.iter().filter(|sample| during.contains(&sample.t));
    let mut words: Vec<_> = samples.filter_map(|sample| Some(sample.view.run_in?.advice)).collect();
    words.dedup();
    words
}

/// The margins shown between two race times, the least and the largest.
fn margins(log: &Log, from_s: i64, to_s: i64) -> Option<(Span, Span)> {
    let during = Span::from_secs(from_s)..Span::from_secs(to_s);
    let samples = log.samples.iter().filter(|sample| during.contains(&sample.t));
    let shown: Vec<_> = samples.filter_map(|sample| sample.view.run_in?.margin).collect();
    Some((*shown.iter().min()?, *shown.iter().max()?))
}

/// The last call of the start, and its margin.
fn call(log: &Log) -> (Call, Span) {
    let calls = log.decisions.iter().rev();
    let call = |output: &Output| match *output {
        Output::Call { call, margin, .. } => Some((call, margin)),
        _ => None,
    };
    calls.map(|decided| &decided.output).find_map(call).unwrap()
}

/// In the last 8 s he is flat out, and the number hardly changes: it is what the call will say.
#[track_caller]
fn the_number_is_the_call(log: &Log) {
    let (least, most) = margins(log, -8, 0).unwrap();
    let called = call(log).1;
    let near = Span::from_millis(50);
    assert!(called - near < least && most < called + near, "{least:?} to {most:?}, called {called:?}");
}

#[test]
fn who_goes_at_go_is_legal() {
    let log = played("go");
    assert_eq!(words(&log, -40, 1), [Advice::Hold, Advice::Go]);
    assert_eq!(call(&log).0, Call::Legal);
    the_number_is_the_call(&log);
}

#[test]
fn who_goes_at_hold_jumps_the_gun() {
    let log = played("hold");
    assert_eq!(words(&log, -40, 1), [Advice::Hold]);
    assert_eq!(call(&log).0, Call::Early);
    the_number_is_the_call(&log);
}

#[test]
fn who_waits_too_long_is_told_late() {
    let log = played("late");
    assert_eq!(words(&log, -30, 3), [Advice::Hold, Advice::Go, Advice::Late]);
    assert_eq!(call(&log).0, Call::Legal);
    the_number_is_the_call(&log);
}

#[test]
fn off_its_lane_a_boat_has_no_number_and_is_called_all_the_same() {
    let log = played("off-course");
    assert_eq!(words(&log, -40, 0), [Advice::OffCourse]);
    assert_eq!(margins(&log, -40, 0), None);
    assert_eq!(call(&log).0, Call::Legal);
}

#[test]
fn without_fixes_there_is_no_number_until_they_are_back() {
    let log = played("lost-fix");
    assert_eq!(words(&log, -40, 0), [Advice::Hold, Advice::NoFix, Advice::Hold, Advice::Go]);
    assert_eq!(margins(&log, -18, -14), None);
    assert_eq!(call(&log).0, Call::Legal);
    the_number_is_the_call(&log);
}

/// What the beeper says of the run-in from a race time on, each as often as it came anew.
fn spoken(log: &Log, from_s: i64) -> Vec<Tone> {
    let known =
        [Tone::Warning, Tone::Caution, Tone::Advisory, Tone::Taken, Tone::NotTaken, Tone::Count, Tone::Zero];
    let from = Span::from_secs(from_s);
    let tone = |output: &Output| match output {
        Output::Cue(tone) if !known.contains(tone) => Some(*tone),
        _ => None,
    };
    let mut tones: Vec<_> = log
        .decisions
        .iter()
        .filter(|decided| decided.t >= from)
        .filter_map(|decided| tone(&decided.output))
        .collect();
    tones.dedup();
    tones
}

#[test]
fn the_beeper_says_go_late_and_that_a_number_is_gone_and_never_go_to_a_boat_that_would_jump() {
    assert_eq!(spoken(&played("go"), -40).last(), Some(&Tone::Go));
    assert!(!spoken(&played("hold"), -40).contains(&Tone::Go));
    assert!(spoken(&played("late"), -40).ends_with(&[Tone::Go, Tone::Late]));
    assert_eq!(spoken(&played("off-course"), -400), []);
}

#[test]
fn hot_laps_are_learned_and_accepted_and_their_boat_comes_back_from_a_settings_file() {
    let log = played("learn");
    let learned: Vec<_> = log
        .decisions
        .iter()
        .filter_map(|decided| match decided.output {
            Output::Learned { accepted, .. } => Some((accepted, decided.t)),
            _ => None,
        })
        .collect();
    assert_eq!(learned.iter().map(|(accepted, _)| *accepted).collect::<Vec<_>>(), [false, true]);
    // Pressed at 5:00, held for 2 s.
    assert!((learned[1].1 - Span::from_secs(302)).abs() < Span::from_millis(50), "{learned:?}");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/reach.toml");
    let settings = std::fs::read_to_string(path).unwrap() + &gunline::learned::accepted(&log).unwrap();
    let read = gunline::scenario::parse_settings("reach.toml", &settings)
        .unwrap_or_else(|report| panic!("{report}"));
    assert_eq!(read.run_in, log.settings.run_in);
    assert!(!read.run_in.unwrap().boat.demonstration);
}
