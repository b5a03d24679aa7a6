//! A host that never stops talking, beside a start: the clock must not notice.
//!
//! The same heat is played twice to the flashed program, once with nothing at its USB socket and once with a host that
//! asks for everything there is, thirty times a second, with noise in between.

use firmware::input::Input;
use firmware::journal::Digest;
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::talk::{self, FRAME_MAX, Head, Request};
use firmware::units::{Instant, Span};
use gunline::sensors::Part;
use gunline::stimulus::Stimulus;
use gunline::world::draw::{Draw, Purpose};

use crate::bench::{self, Run};
use crate::played;
use crate::record::{Life, lives};

/// So much of both records is held against each other: nearly all, for the last page is in RAM when the emulation ends.
const UNTIL: Span = Span::from_millis(34_500);

/// A turn of the loop, with a picture drawn in it and all that a host may ask at once.
const LOOP_TURN: Span = Span::from_millis(20);

/// The USB line's own handler.
const HANDLER: Span = Span::from_micros(2);

/// Frame after frame in the first session of a board whose record is blank.
fn script(settings: &Settings, until_ms: u64, armed_ms: u64) -> String {
    let mut buffer = [0; Settings::ENCODED_MAX];
    let bytes = settings.encode(&mut buffer);
    let (mut text, mut draw) = (String::new(), Draw::new(8, Purpose::Restart));
    let mut say = |ms: u64, number: u32, request: &Request<'_>| {
        let session = u32::from(*request != Request::Hello);
        let mut frame = [0; FRAME_MAX];
        let len = talk::write(Head { session, number }, request, &mut frame).unwrap();
        // Noise, and a zero that ends it; then the frame.
        let noise: Vec<u8> =
            (0..(draw.uniform() * 60.0) as usize).map(|_| (draw.uniform() * 256.0) as u8).collect();
        let hex: String =
            noise.iter().chain(&[0]).chain(&frame[..len]).map(|byte| format!("{byte:02x}")).collect();
        text += &format!("{ms}000 send {hex}\n");
    };
    say(800, 1 << 31, &Request::Hello);
    let harmless = |k: u64| match k % 7 {
        0 => Request::Readings,
        1 | 2 => Request::ReadJournal { from: k * 100, most: 1_024 },
        3 => Request::Suffered,
        4 => Request::Learned,
        5 => Request::Picture,
        _ => Request::ReadSettings,
    };
    // Refused while a clock runs, all of them.
    let harmful = |k: u64| match k % 6 {
        0 => Request::KeepSettings(bytes),
        1 => Request::EnterBench(bytes),
        2 => Request::EnterBench(&[]),
        3 => Request::ForgetSuffered,
        4 => Request::Offer { accept: true },
        _ => Request::Feed { base: Instant::BOOT, inputs: &[] },
    };
    for (k, ms) in (1_000..until_ms).step_by(33).enumerate() {
        let k = k as u64;
        let request = if ms > armed_ms && k.is_multiple_of(4) { harmful(k / 4) } else { harmless(k) };
        say(ms, k as u32 + 1, &request);
    }
    text
}

/// What the engine's readings lead to: the loop reads them when it comes to it, and stamps them then.
fn is_of_the_engine(output: &Output) -> bool {
    matches!(
        output,
        Output::StartStep { .. } | Output::Suffered { .. } | Output::Exceedance { .. } | Output::Alert { .. }
    )
}

fn decisions(life: &Life, engine: bool) -> Vec<(Instant, Output)> {
    let all = life.decisions().map(|(at, output)| (at, *output));
    all.filter(|(_, output)| is_of_the_engine(output) == engine).collect()
}

fn digest(decisions: &[(Instant, Output)]) -> [u8; 32] {
    let mut digest = Digest::default();
    decisions.iter().for_each(|(at, output)| digest.add(*at, output));
    digest.value()
}

/// Stamped by the handler of the pins.
fn is_of_a_pin(input: &Input) -> bool {
    matches!(input, Input::Edge { .. } | Input::Pps)
}

/// Stamped by the handler of the receiver's bytes.
fn is_of_the_receiver(input: &Input) -> bool {
    matches!(input, Input::Fix(_) | Input::Rejected(_))
}

/// The one life of a run, but for what may still have been on its way to the chip.
fn one_life(run: &Run) -> Life {
    let mut lives = lives(&run.journal);
    assert_eq!(lives.len(), 1, "nothing began the dash anew");
    let life = lives.remove(0);
    let until = Instant::BOOT.plus(UNTIL);
    Life { steps: life.steps.into_iter().filter(|step| step.at < until).collect(), ..life }
}

#[test]
fn a_talkative_host_changes_no_decision_and_no_stamp_of_a_pin() {
    let heat = played::heat("presses");
    let part = Part { from: Some(Span::from_secs(-33)), until: Some(Span::from_secs(4)) };
    let stimulus = Stimulus::new(&heat, part, &[]).unwrap();
    // The first press comes 3 s in.
    let script = script(&heat.settings, 36_500, 4_000);
    let (alone, beside) = rayon::join(
        || bench::play("talkative-alone", &stimulus, &heat.settings),
        || bench::play_beside_a_host("talkative", &stimulus, &heat.settings, &script),
    );
    let (quiet, talked) = (one_life(&alone), one_life(&beside));
    let [alone_s, beside_s] = [&quiet, &talked].map(|life| decisions(life, false));
    assert!(alone_s.len() >= 8, "{alone_s:?}");
    assert_eq!(alone_s, beside_s);
    assert_eq!(digest(&alone_s), digest(&beside_s));
    // The engine's are the same, some milliseconds apart at the most: a turn of the loop.
    let [alone_s, beside_s] = [&quiet, &talked].map(|life| decisions(life, true));
    assert_eq!(alone_s.len(), beside_s.len());
    for ((at, output), (then, other)) in alone_s.iter().zip(&beside_s) {
        assert_eq!(std::mem::discriminant(output), std::mem::discriminant(other));
        assert!(then.since(*at).abs() <= LOOP_TURN, "{output:?} {at:?} {then:?}");
    }

    let came = |life: &Life, pick: fn(&Input) -> bool| -> Vec<_> {
        life.steps.iter().filter(|step| pick(&step.input)).map(|step| (step.at, step.input)).collect()
    };
    assert_eq!(came(&quiet, is_of_a_pin), came(&talked, is_of_a_pin));
    // A byte that comes while the handler of the USB line runs waits for that.
    let (ours, theirs) = (came(&quiet, is_of_the_receiver), came(&talked, is_of_the_receiver));
    assert_eq!(ours.len(), theirs.len());
    assert!(ours.len() > 300, "{}", ours.len());
    for ((at, input), (then, other)) in ours.iter().zip(&theirs) {
        assert_eq!(input, other);
        assert!(then.since(*at).abs() <= HANDLER, "{at:?} {then:?}");
    }
    assert_eq!(beside.stats.overflows, 0);
    println!(
        "talkative: awake {:.1} % alone, {:.1} % with the host; stack {} and {}",
        alone.stats.awake_share * 100.0,
        beside.stats.awake_share * 100.0,
        alone.stats.stack_high_water_bytes,
        beside.stats.stack_high_water_bytes
    );
    assert!(
        beside.stats.stack_high_water_bytes <= crate::budgets()["stack_bytes"].as_integer().unwrap() as u64
    );
    assert!(heard("talkative") > 1_000, "{} frames were answered", heard("talkative"));
}

/// Zeros that came from the board: ends of frames.
fn heard(name: &str) -> usize {
    let file = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("board").join(name).join("usb.json");
    let pieces: Vec<serde_json::Value> = bench::json(&file);
    let hex: String = pieces.iter().filter_map(|piece| piece["hex"].as_str()).collect();
    hex.as_bytes().chunks(2).filter(|byte| *byte == b"00").count()
}
