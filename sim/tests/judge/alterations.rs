//! Altered records: whatever is changed is found, and the first bad place is named.
//!
//! A few hundred cases each in the debug profile, thousands in release, over a told heat with a restart and signed seals,
//! and over a short run of the simulator.

use std::ops::Range;
use std::sync::LazyLock;

use firmware::journal::{Chain, Entry, FRAME_ADDS, Reader, Record};
use firmware::output::Output;
use firmware::units::Span;
use gunline::judge::integrity::{Ending, Fault, Integrity, Note, check};
use gunline::judge::{Answer, Asked, judge};
use gunline::scenario;
use gunline::sensors::Part;
use proptest::prelude::*;

use super::story::{Story, settings};

const CASES: u32 = if cfg!(debug_assertions) { 300 } else { 6_000 };

/// A key for tests; RFC 8032's first, which everybody knows.
pub const SECRET: [u8; 32] = [
    0x9d, 0x61, 0xb1, 0x9d, 0xef, 0xfd, 0x5a, 0x60, 0xba, 0x84, 0x4a, 0xf4, 0x92, 0xec, 0x2c, 0xc4, 0x44,
    0x49, 0xc5, 0x69, 0x7b, 0x32, 0x69, 0x19, 0x70, 0x3b, 0xac, 0x03, 0x1c, 0xae, 0x7f, 0x60,
];

/// A journal and where its frames stand.
struct Sample {
    bytes: Vec<u8>,
    frames: Vec<Range<usize>>,
    /// Where the stretch begins that each frame is in.
    stretches: Vec<usize>,
}

impl Sample {
    fn of(bytes: Vec<u8>) -> Self {
        let (mut frames, mut stretches, mut stretch) = (Vec::new(), Vec::new(), 0);
        for entry in Reader::new(&bytes) {
            let Entry::Record { offset, record, .. } = entry else { panic!("{entry:?}") };
            frames.push(offset..offset + usize::from(bytes[offset]) + FRAME_ADDS);
            stretches.push(stretch);
            if record.is_link() {
                stretch = offset;
            }
        }
        Self { bytes, frames, stretches }
    }

    fn frame(&self, number: usize) -> &[u8] {
        &self.bytes[self.frames[number].clone()]
    }

    /// The frames, each as it is.
    fn pieces(&self) -> Vec<Vec<u8>> {
        (0..self.frames.len()).map(|number| self.frame(number).to_vec()).collect()
    }
}

/// A told heat, restarted in mid-countdown and signed; and a part of a simulated one.
static SAMPLES: LazyLock<[Sample; 2]> = LazyLock::new(|| {
    let story = Story::default().pulses(-40, 70).milling(-39, -3).schedule(-35.0, 0.0).crossing(0.1).lap(0.1);
    let mut settings = settings();
    settings.race.laps = 1;
    let told = story.told(&settings, Some(-10.5), Some(SECRET));
    let heat = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/first.toml");
    let heat = scenario::load(&heat).unwrap();
    let (from, until) = ("-5:01.000", "-4:40.000");
    let part =
        Part { from: scenario::race_time::parse(from).ok(), until: scenario::race_time::parse(until).ok() };
    let played = gunline::play::play_signed(&heat, part, Some(SECRET)).journal;
    [Sample::of(told), Sample::of(played)]
});

/// Something is found, at or before the altered place (or what was put in there), and no earlier than its stretch.
fn is_found(sample: &Sample, altered: &[u8], record: usize, put_in: usize) -> Result<(), TestCaseError> {
    let found = check(altered, None);
    let at = sample.frames.get(record).map_or(sample.bytes.len(), |frame| frame.start);
    let stretch = sample.stretches.get(record).or(sample.stretches.last()).copied().unwrap_or(0);
    let (first, what) = first_bad(&found);
    prop_assert!(first.is_some(), "nothing is found: {found:?}");
    let first = first.unwrap_or(0);
    prop_assert!(
        first <= at + put_in && first + 1 > stretch,
        "{what}: named {first}, changed at {at} in the stretch from {stretch}"
    );
    Ok(())
}

/// The first bad place; a record whose beginning is gone is bad from its first byte.
fn first_bad(found: &Integrity) -> (Option<usize>, String) {
    if found.notes.iter().any(|(place, note)| *note == Note::BeginsInTheMiddle && place.offset == 0) {
        return (Some(0), "begins in the middle".into());
    }
    let fault = found.first_fault();
    (fault.map(|(place, _)| place.offset), format!("{fault:?}"))
}

#[test]
fn what_was_not_altered_is_found_untouched_closed_and_signed() {
    for sample in &*SAMPLES {
        let found = check(&sample.bytes, None);
        assert!(found.is_untouched(), "{found:?}");
        assert_eq!(found.ending, Ending::Closed);
        assert!(found.signed_by().is_some());
        assert_eq!(found.records, sample.frames.len() as u64);
    }
}

#[test]
fn every_truncation_at_every_byte_is_found_and_a_torn_tail_is_no_alteration() {
    for sample in &*SAMPLES {
        let step = if cfg!(debug_assertions) { 7 } else { 1 };
        for cut in (1..sample.bytes.len()).step_by(step) {
            let found = check(&sample.bytes[..cut], None);
            assert_ne!(found.ending, Ending::Closed, "cut at {cut}");
            let is_torn = !sample.frames.iter().any(|frame| frame.end == cut);
            if is_torn && cut > sample.frames[0].end {
                assert_eq!(found.ending, Ending::Torn, "cut at {cut}");
                assert!(found.is_untouched(), "cut at {cut}: {:?}", found.faults);
            }
            if !is_torn {
                let at_the_end = found.faults.iter().all(|(place, _)| place.offset == cut);
                assert!(!found.faults.is_empty() && at_the_end, "cut at {cut}: {:?}", found.faults);
            }
        }
    }
}

/// Whoever has no key can make a chain that holds, and cannot sign it.
#[test]
fn a_signature_by_another_key_or_over_another_seal_is_found() {
    let sample = &SAMPLES[0];
    let other = firmware::journal::signature::public_key(&[7; 32]);
    let found = check(&sample.bytes, Some(&other));
    assert!(
        found.faults.iter().all(|(_, fault)| *fault == Fault::SignatureForeign) && !found.faults.is_empty()
    );
    let own = firmware::journal::signature::public_key(&SECRET);
    assert!(check(&sample.bytes, Some(&own)).is_untouched());
    // A signature put under another seal.
    let signatures: Vec<usize> = Reader::new(&sample.bytes)
        .enumerate()
        .filter_map(|(number, entry)| match entry {
            Entry::Record { record: Record::Signature { .. }, .. } => Some(number),
            _ => None,
        })
        .collect();
    let mut pieces = sample.pieces();
    let (first, last) = (signatures[0], signatures[signatures.len() - 1]);
    assert_ne!(first, last, "heat and record are both signed");
    let sequence = pieces[last][1];
    pieces[last] = mended(&pieces[first], sequence);
    let found = check(&pieces.concat(), None);
    assert_eq!(found.first_fault().map(|(_, fault)| *fault), Some(Fault::SignatureBad));
}

/// A journal with its records changed and its whole chain computed anew: what a forger does who has no key.
fn forged(journal: &[u8], change: impl Fn(&mut Record)) -> Vec<u8> {
    let (mut chain, mut forged) = (Chain::default(), Vec::new());
    for entry in Reader::new(journal) {
        let Entry::Record { sequence, mut record, .. } = entry else { panic!("{entry:?}") };
        change(&mut record);
        match &mut record {
            Record::Mark { chain: said, .. } => *said = chain.value(),
            Record::Seal(seal) => seal.chain = chain.value(),
            Record::Opening { before: Some(before), .. } => before.chain = chain.value(),
            _ => {}
        }
        let frame = super::cases::frame(sequence, &record);
        chain.add(&frame, record.is_link());
        forged.extend(frame);
    }
    forged
}

/// The start's margin is made 50 ms better in the decisions.
fn better_margin(record: &mut Record) {
    if let Record::Decision(Output::Call { margin, .. }) = record {
        *margin = *margin + Span::from_millis(50);
    }
}

/// The chain alone does not show it. What was decided on these inputs does, and so does a signature.
#[test]
fn a_forger_who_computes_the_chain_anew_is_found_by_the_replay_and_by_a_signature() {
    let unsigned = super::cases::legal();
    let untouched = forged(&unsigned, |_| {});
    assert!(untouched == unsigned, "the forger knows the format");
    let judged = judge(&forged(&unsigned, better_margin), Asked::default()).unwrap();
    assert!(judged.integrity.is_untouched(), "no chain can show this");
    assert_eq!(judged.answer(), Answer::ReplaysOtherwise);
    let signed = &SAMPLES[0].bytes;
    let found = check(&forged(signed, better_margin), None);
    assert_eq!(found.first_fault().map(|(_, fault)| *fault), Some(Fault::SignatureBad));
}

/// A frame with another sequence, its check sum put right.
fn mended(frame: &[u8], sequence: u8) -> Vec<u8> {
    let mut frame = frame[..frame.len() - 2].to_vec();
    frame[1] = sequence;
    let sum = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC).checksum(&frame);
    frame.extend(sum.to_le_bytes());
    frame
}

/// All frames numbered anew, their check sums put right: what a hand would do that knows frames and no chain.
fn renumbered(pieces: &[Vec<u8>]) -> Vec<u8> {
    pieces.iter().enumerate().flat_map(|(number, frame)| mended(frame, number as u8)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(CASES))]

    #[test]
    fn any_changed_bit_is_found(which in 0_usize..2, place in any::<prop::sample::Index>(), bit in 0_u8..8) {
        let sample = &SAMPLES[which];
        let mut altered = sample.bytes.clone();
        let place = place.index(altered.len());
        altered[place] ^= 1 << bit;
        let record = sample.frames.iter().position(|frame| frame.contains(&place)).unwrap();
        is_found(sample, &altered, record, 0)?;
    }

    #[test]
    fn any_byte_changed_within_a_record_and_its_check_sum_put_right_is_found(
        which in 0_usize..2, record in any::<prop::sample::Index>(), place in any::<prop::sample::Index>(), by in 1_u8..,
    ) {
        let sample = &SAMPLES[which];
        // The closing seal and its signature stand behind the last link: a signature vouches for that one.
        let record = record.index(sample.frames.len() - 2);
        let mut pieces = sample.pieces();
        let frame = &mut pieces[record];
        let inside = 2 + place.index(frame.len() - FRAME_ADDS);
        frame[inside] ^= by;
        let sequence = frame[1];
        pieces[record] = mended(frame, sequence);
        is_found(sample, &pieces.concat(), record, 0)?;
    }

    #[test]
    fn any_dropped_record_is_found(which in 0_usize..2, record in any::<prop::sample::Index>(), renumber in any::<bool>()) {
        let sample = &SAMPLES[which];
        let record = record.index(sample.frames.len());
        let mut pieces = sample.pieces();
        pieces.remove(record);
        let altered = if renumber { renumbered(&pieces) } else { pieces.concat() };
        is_found(sample, &altered, record, 0)?;
    }

    #[test]
    fn any_two_swapped_records_are_found(
        which in 0_usize..2, one in any::<prop::sample::Index>(), other in any::<prop::sample::Index>(),
        renumber in any::<bool>(),
    ) {
        let sample = &SAMPLES[which];
        let (one, other) = (one.index(sample.frames.len()), other.index(sample.frames.len()));
        let (one, other) = (one.min(other), one.max(other));
        let mut pieces = sample.pieces();
        pieces.swap(one, other);
        let altered = if renumber { renumbered(&pieces) } else { pieces.concat() };
        prop_assume!(altered != sample.bytes && sample.frame(one)[2..] != sample.frame(other)[2..]);
        // A record in the place of a seal may be seen only by the signature that follows it.
        is_found(sample, &altered, one, sample.frame(other).len())?;
    }

    #[test]
    fn any_repeated_record_is_found(
        which in 0_usize..2, record in any::<prop::sample::Index>(), to in any::<prop::sample::Index>(),
        renumber in any::<bool>(),
    ) {
        let sample = &SAMPLES[which];
        let record = record.index(sample.frames.len());
        let to = to.index(sample.frames.len() + 1);
        let mut pieces = sample.pieces();
        let again = pieces[record].clone();
        let long = again.len();
        pieces.insert(to, again);
        let altered = if renumber { renumbered(&pieces) } else { pieces.concat() };
        is_found(sample, &altered, to, long)?;
    }

    #[test]
    fn any_inserted_record_of_another_journal_is_found(
        which in 0_usize..2, record in any::<prop::sample::Index>(), to in any::<prop::sample::Index>(),
        numbered in any::<bool>(),
    ) {
        let (sample, other) = (&SAMPLES[which], &SAMPLES[1 - which]);
        let to = to.index(sample.frames.len() + 1);
        let mut pieces = sample.pieces();
        let foreign = other.frame(record.index(other.frames.len()));
        let foreign = if numbered { mended(foreign, to as u8) } else { foreign.to_vec() };
        let long = foreign.len();
        pieces.insert(to, foreign);
        is_found(sample, &pieces.concat(), to, long)?;
    }
}
