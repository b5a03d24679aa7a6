//! How long a heat takes: ten minutes of racing in virtual time, on one core.
//!
//! Three measurements, from the whole to its parts: the heat with its world and its log, the dash alone on the
//! inputs of that heat, the decoder alone on the receiver's bytes of that heat. A whole heat is meant to take less
//! than 20 ms. `cargo bench` measures; with `-- --test` each runs once, and its result is checked.
//!
//! A heat file in, times out.

#![allow(missing_docs, reason = "criterion's macros write a public function")]
#![allow(clippy::panic, reason = "a benchmark that cannot load its heat has nothing to measure")]

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use firmware::dash::Dash;
use firmware::gnss::{Decoder, Heard};
use firmware::input::Input;
use firmware::journal::{Entry, Reader, Record};
use firmware::units::Instant;
use gunline::play::play;
use gunline::scenario::{Heat, load};
use gunline::world::{SensorEvent, World};

/// The shipped heat whose start is legal.
fn heat() -> Heat {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/first.toml");
    load(&path).unwrap_or_else(|report| panic!("{report}"))
}

/// World, receiver's bytes, decoder, dash, journal and log.
fn whole(c: &mut Criterion) {
    let heat = heat();
    let log = play(&heat);
    assert!(log.receiver.fixes > 6_000, "{:?}", log.receiver);
    c.bench_function("a whole heat with its log", |b| b.iter(|| play(black_box(&heat))));
}

/// The stamped inputs that the dash of a heat was fed, as its journal tells them.
fn inputs(journal: &[u8]) -> Vec<(Instant, Input)> {
    let mut at = Instant::BOOT;
    let mut stamped = |entry| match entry {
        Entry::Record { record: Record::Input { after, input }, .. } => {
            at = at.plus(after);
            Some((at, input))
        }
        _ => None,
    };
    Reader::new(journal).filter_map(&mut stamped).collect()
}

/// How many decisions a new dash takes on these inputs; it is asked for its next wake after each, as a board asks.
fn decisions(heat: &Heat, inputs: &[(Instant, Input)]) -> usize {
    let mut dash = Dash::new(&heat.settings);
    let fed = inputs.iter().map(|(at, input)| {
        let outputs = dash.feed(*at, *input);
        black_box(dash.next_wake());
        outputs.as_slice().len()
    });
    fed.sum()
}

fn dash(c: &mut Criterion) {
    let heat = heat();
    let log = play(&heat);
    let inputs = inputs(&log.journal);
    assert_eq!(decisions(&heat, &inputs), log.decisions.len());
    let mut group = c.benchmark_group("the parts of a heat");
    group.throughput(Throughput::Elements(inputs.len() as u64));
    group.bench_function("dash: its inputs", |b| b.iter(|| decisions(&heat, black_box(&inputs))));
    group.finish();
}

/// Everything that the receiver of a heat sends.
fn receiver(heat: &Heat) -> Vec<u8> {
    let bytes = |(_, event)| if let SensorEvent::ReceiverBytes(bytes) = event { Some(bytes) } else { None };
    World::new(&heat.world, heat.seed).filter_map(bytes).flatten().collect()
}

fn fixes(bytes: &[u8]) -> usize {
    let mut decoder = Decoder::default();
    let mut bytes = bytes;
    std::iter::from_fn(|| decoder.hear(&mut bytes)).filter(|heard| matches!(heard, Heard::Fix(_))).count()
}

fn decoder(c: &mut Criterion) {
    let heat = heat();
    let bytes = receiver(&heat);
    assert_eq!(fixes(&bytes), play(&heat).receiver.fixes as usize);
    let mut group = c.benchmark_group("the parts of a heat");
    group.throughput(Throughput::Bytes(bytes.len() as u64));
    group.bench_function("decoder: the receiver's bytes", |b| b.iter(|| fixes(black_box(&bytes))));
    group.finish();
}

criterion_group!(benches, whole, dash, decoder);
criterion_main!(benches);
