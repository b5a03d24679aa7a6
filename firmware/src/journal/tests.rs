//! Journals whole, broken and cut short.

use super::*;
use crate::input::Line;
use crate::output::{Outputs, Tone};
use crate::settings::Settings;
use proptest::prelude::*;
use std::vec::Vec as StdVec;

struct Memory(StdVec<u8>);

impl Sink for Memory {
    fn frame(&mut self, frame: &[u8]) -> bool {
        self.0.extend_from_slice(frame);
        true
    }
}

fn sample(inputs: usize) -> StdVec<u8> {
    let mut writer = Writer::new(Memory(StdVec::new()));
    writer.open(&Settings::bare());
    for number in 0..inputs {
        let at = Instant::from_micros(1_000_000 + number as u64 * 50_000);
        let input = Input::Edge { line: Line::Button, active: number % 2 == 0 };
        let mut outputs = Outputs::default();
        if number % 3 == 0 {
            outputs.push(Output::Cue(Tone::Count));
        }
        writer.fed(at, &input, &outputs);
    }
    writer.into_sink().0
}

/// Source: catalogue of parametrised CRC algorithms, CRC-16/IBM-SDLC, check value for "123456789".
#[test]
fn the_checksum_is_the_catalogued_one() {
    assert_eq!(checksum(b"123456789"), 0x906E);
}

#[test]
fn erased_flash_is_no_record() {
    for byte in [0xFF, 0x00] {
        let blank = [byte; 512];
        let entries: StdVec<_> = Reader::new(&blank).collect();
        assert_eq!(entries, [Entry::Broken { offset: 0, len: 512 }]);
    }
}

#[test]
fn settings_come_back_from_their_pieces() {
    let bytes = sample(0);
    let mut pieces = StdVec::new();
    for entry in Reader::new(&bytes) {
        if let Entry::Record { record: Record::Settings(piece), .. } = entry {
            pieces.extend_from_slice(&piece);
        }
    }
    assert_eq!(Settings::decode(&pieces), Some(Settings::bare()));
}

#[test]
fn marks_number_the_records() {
    let bytes = sample(300);
    let mut marks = 0;
    for (number, entry) in (0..).zip(Reader::new(&bytes)) {
        let Entry::Record { record, .. } = entry else { panic!("{entry:?}") };
        if let Record::Mark { number: said, .. } = record {
            assert_eq!(said, number);
            marks += 1;
        }
    }
    assert!(marks >= 300 / 64, "{marks}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_bytes_are_read_without_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2_000)) {
        let mut covered = 0;
        for entry in Reader::new(&bytes) {
            match entry {
                Entry::Broken { offset, len } => {
                    prop_assert_eq!(offset, covered);
                    covered += len;
                }
                Entry::Record { offset, .. } => {
                    prop_assert_eq!(offset, covered);
                    covered += usize::from(bytes[offset]) + 3;
                }
            }
        }
        prop_assert_eq!(covered, bytes.len());
    }

    #[test]
    fn one_changed_bit_breaks_at_most_two_records_and_the_rest_is_read(
        place in any::<prop::sample::Index>(), bit in 0_u8..8,
    ) {
        let whole = sample(100);
        let mut broken = whole.clone();
        let place = place.index(broken.len());
        broken[place] ^= 1 << bit;
        let records = |bytes: &[u8]| -> StdVec<Record> {
            Reader::new(bytes)
                .filter_map(|e| if let Entry::Record { record, .. } = e { Some(record) } else { None })
                .collect()
        };
        let (before, after) = (records(&whole), records(&broken));
        prop_assert!(after.len() + 2 >= before.len(), "{} of {}", after.len(), before.len());
        let said = Reader::new(&broken).any(|entry| matches!(entry, Entry::Broken { .. }));
        prop_assert!(said, "the damage is shown");
    }

    #[test]
    fn a_journal_cut_anywhere_gives_all_whole_records_before_the_cut(cut in any::<prop::sample::Index>()) {
        let whole = sample(60);
        let cut = cut.index(whole.len());
        let whole_before = Reader::new(&whole)
            .filter(|e| matches!(e, Entry::Record { offset, .. } if offset + usize::from(whole[*offset]) + 3 <= cut))
            .count();
        let read = Reader::new(&whole[..cut]).filter(|e| matches!(e, Entry::Record { .. })).count();
        prop_assert_eq!(read, whole_before);
    }
}
