//! The proof itself: that it finds nothing as far as it goes here, repeats, and that its ways play as heats.

use std::fs;

use indicatif::ProgressBar;

use super::command::{FINISH, RULES};
use super::counter;
use super::moments::next;
use super::search::{Bounds, Counter, Found, Step, search};
use super::stage::{Breach, Event, Scene};
use crate::{play, scenario};
use firmware::output::{Call, Output};

fn found(depth: u32) -> Found {
    search(&Scene::new(), Bounds { depth, first: false }, &ProgressBar::hidden())
}

/// The whole proof is `gunline prove`; `tests/all prove` runs it.
#[test]
fn no_rule_is_broken_in_the_first_happenings() {
    let found = found(12);
    assert!(found.broken.is_empty(), "{:?}", found.broken);
    assert!(found.states > 1_000, "{}", found.states);
}

#[test]
fn the_search_is_the_same_on_one_thread_and_on_many() {
    let on = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let (one, many) = (on(1).install(|| found(9)), on(4).install(|| found(9)));
    assert_eq!((one.states, one.transitions, one.demanded), (many.states, many.transitions, many.demanded));
}

#[test]
fn every_rule_that_demands_has_words() {
    let known: Vec<_> = RULES.iter().chain(&FINISH).map(|(rule, _)| *rule).collect();
    assert!(found(12).demanded.keys().all(|rule| known.contains(rule)));
}

/// A jumped gun as the search makes it, written as a heat and played: the call is the same.
#[test]
fn a_way_of_the_search_plays_as_a_heat_to_the_same_call() {
    let scene = Scene::new();
    let [mut stage, _] = scene.beginnings();
    let mut steps = Vec::new();
    let mut crossed = false;
    // A press for the five-minute gun, and the crossing three seconds before zero.
    for _ in 0..60 {
        let (at, _) = next(&stage, &scene.figures);
        let zero = stage.book.clock.as_ref().map(|armed| armed.zero);
        let event = match zero {
            None => Event::Press,
            Some(zero) if at == zero - 3_350_000 => Event::Forward,
            Some(_) => Event::Quiet,
        };
        crossed |= event == Event::Forward;
        steps.push(Step { at, event });
        stage = stage.after(&scene, at, event).0;
        if crossed {
            break;
        }
    }
    assert_eq!(stage.book.heat.map(|heat| heat.call), Some(Call::Early));
    let breach = Breach { rule: "S5", says: "nothing: a way to try the writing".to_owned() };
    let dir = std::env::temp_dir().join(format!("gunline-prove-{}", std::process::id()));
    let path = counter::write(&Counter { breach, scheduled: false, steps }, &dir).unwrap();
    let heat = scenario::load(&path).map_err(|report| report.render(false)).unwrap();
    let log = play::play(&heat);
    fs::remove_dir_all(&dir).unwrap();
    let call = log.decisions.iter().find_map(|decided| match decided.output {
        Output::Call { call, margin, .. } => Some((call, margin.as_micros())),
        _ => None,
    });
    let (call, margin) = call.expect("a start was called");
    assert_eq!(call, Call::Early);
    // Millimetres of a sentence and milliseconds of a heat file.
    assert!((margin + 3_000_000).abs() < 2_000, "{margin}");
}

/// Pulses that go, come back and go again are two faults of a heat file; the last lasts to the end.
#[test]
fn pulses_that_go_stand_in_the_heat_file_as_faults() {
    let at = |s: i64, event| Step { at: s * 1_000_000, event };
    let steps = vec![
        at(30, Event::Pulses),
        at(40, Event::Pulses),
        at(50, Event::Press),
        at(60, Event::Pulses),
        at(90, Event::Contact),
    ];
    let breach = Breach { rule: "C11", says: "nothing: a way to try the writing".to_owned() };
    let dir = std::env::temp_dir().join(format!("gunline-prove-pulses-{}", std::process::id()));
    let path = counter::write(&Counter { breach, scheduled: true, steps }, &dir).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    let loaded = scenario::load(&path).map_err(|report| report.render(false));
    fs::remove_dir_all(&dir).unwrap();
    loaded.unwrap();
    let lasts: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("for_s = ")).collect();
    assert_eq!((text.matches("pps-lost").count(), lasts), (2, vec!["10.000", "30.000"]));
}
