//! Rules that hold for any signal.

use std::vec::Vec;

use proptest::prelude::*;

use super::bench::{Bench, ms, pulses, reads};
use crate::engine::{Engine, EngineSettings, START_CONDITIONS, Wired};
use crate::input::{Line, ProbeReading, Pulses};
use crate::output::{AlertId, Output, Outputs};

#[derive(Clone, Copy, Debug)]
enum Step {
    Probe(f64),
    Open,
    Shaft(f64),
    Switch(Line, bool),
    Tick,
}

const LINES: [Line; 5] =
    [Line::Igniter, Line::StarterLow, Line::StarterHigh, Line::StartFuel, Line::ExternalPower];

/// Runs of inputs: values that wander as a start's do, with gaps.
fn steps() -> impl Strategy<Value = Vec<(i64, Step)>> {
    let step = prop_oneof![
        6 => prop_oneof![0.0..1_300.0, 850.0..950.0, 180.0..320.0].prop_map(Step::Probe),
        1 => Just(Step::Open),
        6 => prop_oneof![0.0..110.0, 3.0..16.0, 40.0..50.0].prop_map(Step::Shaft),
        2 => (proptest::sample::select(LINES.to_vec()), any::<bool>()).prop_map(|(line, on)| Step::Switch(line, on)),
        1 => Just(Step::Tick),
    ];
    let pause = prop_oneof![8 => 0_i64..200, 2 => 200_i64..1_500, 1 => 1_500_i64..90_000];
    prop::collection::vec((pause, step), 1..250)
}

fn wired() -> EngineSettings {
    let mut settings = EngineSettings::demonstration();
    settings.start.wired = Wired {
        igniter: true,
        starter_low: true,
        starter_high: true,
        start_fuel: true,
        external_power: true,
    };
    settings
}

fn feed(engine: &mut Engine, at: i64, step: Step, decided: &mut Vec<Output>) {
    let mut out = Outputs::default();
    match step {
        Step::Probe(degrees) => engine.probe(ms(at), 0, reads(degrees), &mut out),
        Step::Open => engine.probe(ms(at), 0, ProbeReading::NoAnswer, &mut out),
        Step::Shaft(n1) => engine.shafts(ms(at), pulses(n1), Pulses::default(), &mut out),
        Step::Switch(line, on) => engine.switch(ms(at), line, on, &mut out),
        Step::Tick => engine.tick(ms(at), &mut out),
    }
    assert_eq!(out.lost(), 0);
    decided.extend_from_slice(out.as_slice());
}

fn tick(engine: &mut Engine, due: crate::units::Instant, decided: &mut Vec<Output>) {
    let mut out = Outputs::default();
    engine.tick(due, &mut out);
    decided.extend_from_slice(out.as_slice());
}

/// A start that heats from 25 degrees along `rise`, times `faster`: when the hot start is said.
fn said(rise: &[f64], faster: f64) -> Option<i64> {
    let mut bench = Bench::new(&EngineSettings::demonstration());
    bench.go(0, 3_000, (15.0, 25.0), (15.0, 25.0));
    let (mut at, mut egt) = (3_000, 25.0);
    for step in rise {
        egt = f64::min(egt + step * faster, 1_300.0);
        bench.shafts(at, 20.0);
        bench.probe(at, egt);
        at += 100;
    }
    bench.first(AlertId::HotStart)
}

proptest! {
    #[test]
    fn a_start_caller_who_never_ticks_gets_the_same_decisions_as_a_punctual_one(steps in steps()) {
        let (mut punctual, mut lazy) = (Engine::new(&wired()), Engine::new(&wired()));
        let (mut promptly, mut late, mut now) = (Vec::new(), Vec::new(), 0);
        for (later, step) in steps {
            now += later;
            while let Some(due) = punctual.next_wake().filter(|due| *due < ms(now)) {
                tick(&mut punctual, due, &mut promptly);
            }
            feed(&mut punctual, now, step, &mut promptly);
            feed(&mut lazy, now, step, &mut late);
            prop_assert_eq!(punctual.start_conditions(), lazy.start_conditions());
            prop_assert_eq!(punctual.start_view(ms(now)), lazy.start_view(ms(now)));
            prop_assert!(punctual.next_wake().is_none_or(|due| due > ms(now)));
        }
        prop_assert_eq!(promptly, late);
    }

    #[test]
    fn no_start_warning_changes_twice_within_a_second(steps in steps()) {
        let (mut engine, mut decided, mut now) = (Engine::new(&wired()), Vec::new(), 0);
        let mut last = engine.start_conditions();
        let mut changed = [-1_000_000_i64; START_CONDITIONS];
        for (later, step) in steps {
            let until = now + later;
            loop {
                let due = engine.next_wake().filter(|due| *due <= ms(until));
                match due {
                    Some(due) => {
                        tick(&mut engine, due, &mut decided);
                        now = due.since(ms(0)).as_micros() / 1_000;
                    }
                    None => {
                        now = until;
                        feed(&mut engine, now, step, &mut decided);
                    }
                }
                let new = engine.start_conditions();
                for ((old, new), changed) in last.iter().zip(&new).zip(&mut changed) {
                    if old.1 != new.1 {
                        prop_assert!(now - *changed >= 999, "{:?} after {} ms", new.0, now - *changed);
                        *changed = now;
                    }
                }
                last = new;
                if due.is_none() {
                    break;
                }
            }
        }
    }

    #[test]
    fn an_unknown_egt_never_makes_a_warning_of_heat(
        shafts in prop::collection::vec((0.0..110.0_f64, 0_i64..1_500, any::<bool>()), 1..150),
    ) {
        let (mut engine, mut decided, mut now) = (Engine::new(&wired()), Vec::new(), 0);
        for (n1, later, on) in shafts {
            now += later;
            feed(&mut engine, now, Step::Shaft(n1), &mut decided);
            feed(&mut engine, now, Step::Open, &mut decided);
            feed(&mut engine, now, Step::Switch(Line::StartFuel, on), &mut decided);
            for (id, holds) in engine.start_conditions() {
                let heat = [AlertId::HotStart, AlertId::HungStart, AlertId::NotCooling, AlertId::FlameOut];
                prop_assert!(!(holds && heat.contains(&id)), "{id:?}");
            }
        }
    }

    #[test]
    fn a_start_that_heats_faster_is_never_warned_later(
        rise in prop::collection::vec(0.0..40.0_f64, 20..100),
        faster in 1.0..2.0_f64,
    ) {
        // A read more for what the chip's steps of temperature round away.
        if let Some(slow) = said(&rise, 1.0) {
            prop_assert!(said(&rise, faster).is_some_and(|fast| fast <= slow + 100));
        }
    }
}
