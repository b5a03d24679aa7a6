//! Inputs ahead of their time, and what is told of them.

extern crate std;

use std::vec::Vec;

use proptest::prelude::*;

use super::*;
use crate::input::Line;
use crate::output::{Output, Tone};

fn at(ms: i64) -> Instant {
    Instant::BOOT.plus(Span::from_millis(ms))
}

/// A batch as a host writes it, from the stamps of its inputs.
fn batch(base: Instant, inputs: &[(Instant, Input)]) -> Vec<u8> {
    let (mut bytes, mut before) = (Vec::new(), base);
    for (at, input) in inputs {
        let mut buffer = [0; RECORD_MAX];
        bytes.extend_from_slice(postcard::to_slice(&(at.since(before), *input), &mut buffer).unwrap());
        before = *at;
    }
    bytes
}

fn edge(active: bool) -> Input {
    Input::Edge { line: Line::Button, active }
}

/// Everything that the bench tells.
fn told(bench: &mut Bench) -> Vec<Told> {
    let (mut all, mut buffer) = (Vec::new(), [0; TELL_MAX]);
    loop {
        let mut rest = bench.told(&mut buffer);
        if rest.is_empty() {
            return all;
        }
        while !rest.is_empty() {
            let one;
            (one, rest) = postcard::take_from_bytes(rest).unwrap();
            all.push(one);
        }
    }
}

#[test]
fn inputs_come_out_at_their_moments_in_their_order_and_not_before() {
    let mut bench = Bench::new();
    bench.begin(at(0));
    let inputs = [(at(1_000), edge(true)), (at(950), Input::Pps), (at(1_200), edge(false))];
    bench.take(at(900), &batch(at(900), &inputs)).unwrap();
    assert_eq!((bench.waiting(), bench.next_wake(at(0))), (3, Some(at(1_000))));
    assert_eq!(bench.due(at(999)), None);
    assert_eq!(bench.due(at(1_000)), Some(inputs[0]));
    assert_eq!(bench.due(at(1_000)), Some(inputs[1]), "a stamp a little older is as it came");
    assert_eq!((bench.due(at(1_100)), bench.next_wake(at(1_100))), (None, Some(at(1_200))));
    assert_eq!(bench.due(at(5_000)), Some(inputs[2]));
    assert_eq!((bench.waiting(), bench.room()), (0, AHEAD_MAX));
}

#[test]
fn a_batch_is_taken_whole_or_not_at_all() {
    let mut bench = Bench::new();
    bench.begin(at(0));
    let good = batch(at(0), &[(at(10), edge(true)), (at(20), edge(false))]);
    assert_eq!(bench.take(at(0), &good[..good.len() - 1]), Err(BenchFault::Unreadable));
    let backwards = batch(at(0), &[(at(500), Input::Pps), (at(399), Input::Pps)]);
    assert_eq!(bench.take(at(0), &backwards), Err(BenchFault::OutOfOrder));
    assert_eq!((bench.waiting(), bench.room()), (0, AHEAD_MAX));
    let many = batch(at(0), &[(at(10), Input::Pps); 250]);
    while bench.take(at(0), &many).is_ok() {}
    let before = (bench.waiting(), bench.room());
    assert_eq!(bench.take(at(0), &many), Err(BenchFault::NoRoom));
    assert_eq!((bench.waiting(), bench.room()), before);
}

#[test]
fn the_bench_is_over_when_the_host_is_silent_the_button_is_held_or_a_shaft_turns() {
    let begun = || {
        let mut bench = Bench::new();
        bench.begin(at(1_000));
        bench
    };
    let mut bench = begun();
    assert!(!bench.is_over(at(6_000)) && bench.is_over(at(6_001)));
    bench.hear(at(6_000));
    assert!(!bench.is_over(at(11_000)));

    let mut bench = begun();
    bench.button(at(2_000), true);
    assert!(!bench.is_over(at(3_999)) && bench.is_over(at(4_000)));
    bench.button(at(3_000), false);
    assert!(!bench.is_over(at(5_000)));

    let mut bench = begun();
    // A wire picks something up now and then; an engine turns on and on.
    (0..20).for_each(|n| bench.turned(at(1_500 + n * 300)));
    bench.hear(at(7_400));
    assert!(!bench.is_over(at(7_400)));
    (0..10).for_each(|n| bench.turned(at(7_500 + n * 50)));
    assert!(bench.is_over(at(8_000)));
    bench.end();
    assert!(!bench.is_over(at(8_000)) && !bench.is_on());
}

#[test]
fn a_cue_forgets_the_edges_before_it_and_keeps_the_first_eight_after_it() {
    let mut bench = Bench::new();
    bench.begin(at(0));
    bench.button(at(100), true);
    bench.button(at(150), false);
    bench.cue();
    assert!(bench.is_cue_due() && bench.seen() == Cued::NONE);
    bench.cued(at(200));
    assert!(bench.is_cue_on(at(399)) && !bench.is_cue_on(at(400)));
    (0..10).for_each(|n| bench.button(at(420 + n), n % 2 == 0));
    let seen = bench.seen();
    assert_eq!((seen.at, seen.more), (Some(at(200)), 2));
    assert_eq!(seen.edges[0], Some(SeenEdge { at: at(420), active: true }));
    assert_eq!(seen.edges[7], Some(SeenEdge { at: at(427), active: false }));
}

proptest! {
    #[test]
    fn whatever_bytes_a_host_sends_nothing_panics_and_the_room_comes_back(
        batches in prop::collection::vec((prop::collection::vec(any::<u8>(), 0..300), 0_i64..10_000), 0..40),
    ) {
        let mut bench = Bench::new();
        bench.begin(at(0));
        for (bytes, ms) in batches {
            let _ = bench.take(at(ms), &bytes);
            while bench.due(at(ms)).is_some() {}
        }
        let end = Instant::from_micros(u64::MAX);
        while bench.next_wake(at(0)).is_some() {
            let _ = bench.due(end);
        }
        prop_assert_eq!((bench.waiting(), bench.room()), (0, AHEAD_MAX));
    }

    #[test]
    fn everything_told_is_heard_in_order_and_what_found_no_room_is_counted(
        steps in prop::collection::vec((any::<bool>(), 0_i64..1_000_000, 0_usize..50), 0..200),
    ) {
        let (mut bench, mut heard, mut said) = (Bench::new(), Vec::new(), 0_u32);
        bench.begin(at(0));
        for (number, (fetch, late, tells)) in steps.into_iter().enumerate() {
            for _ in 0..tells {
                bench.decided(Instant::from_micros(number as u64), Span::from_micros(late), Output::Cue(Tone::Count));
                said += 1;
            }
            if fetch {
                heard.extend(told(&mut bench));
            }
        }
        heard.extend(told(&mut bench));
        prop_assert_eq!(heard.len() as u32 + bench.lost(), said);
        let stamps: Vec<_> = heard.iter().map(|told| match told {
            Told::Decided { at, .. } => *at,
            Told::Fed { .. } => Instant::BOOT,
        }).collect();
        prop_assert!(stamps.is_sorted());
    }
}
