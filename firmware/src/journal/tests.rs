//! Journals whole, broken and cut short.

use super::*;
use crate::input::Line;
use crate::output::{Outputs, Tone};
use crate::resume::CarriedRace;
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
    writer.open(&Settings::bare(), None);
    for number in 0..inputs {
        let at = Instant::from_micros(1_000_000 + number as u64 * 50_000);
        let input = Input::Edge { line: Line::Button, active: number % 2 == 0 };
        let mut outputs = Outputs::default();
        if number % 3 == 0 {
            outputs.push(Output::Cue(Tone::Count));
        }
        writer.fed(at, &input, &outputs, None);
    }
    writer.into_sink().0
}

#[test]
fn an_account_set_to_nothing_is_written_down_once_and_found_as_nothing() {
    use crate::engine::suffered::{Account, Accounts};
    let mut writer = Writer::new(Memory(StdVec::new()));
    writer.open(&Settings::bare(), None);
    let account = Account { run_ms: 90_000, starts: 2, ..Account::default() };
    let some = Accounts { heat: account, total: account };
    for accounts in [None, Some(&some), Some(&some), None, None] {
        writer.fed(Instant::from_micros(1), &Input::Tick, &Outputs::default(), None);
        writer.suffered(accounts);
    }
    let journal = writer.into_sink().0;
    let found: StdVec<_> = Reader::new(&journal)
        .filter_map(|entry| match entry {
            Entry::Record { record: Record::Suffered(accounts), .. } => Some(accounts),
            _ => None,
        })
        .collect();
    assert_eq!(found, [some, Accounts::default()]);
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

/// Feeds one input with what is carried after it, at so many seconds.
fn fed(writer: &mut Writer<impl Sink>, s: u64, carried: Option<Carried>) {
    writer.fed(Instant::from_micros(s * 1_000_000), &Input::Tick, &Outputs::default(), carried);
}

fn carried(laps_done: u16, s: u64) -> Option<Carried> {
    let race = CarriedRace { laps_done, ..CarriedRace::default() };
    Some(Carried { at: Instant::from_micros(s * 1_000_000), race, ..Carried::default() })
}

fn all_carried(bytes: &[u8]) -> StdVec<Option<Carried>> {
    let carried = |e| match e {
        Entry::Record { record: Record::Carried(carried), .. } => Some(carried),
        _ => None,
    };
    Reader::new(bytes).filter_map(carried).collect()
}

#[test]
fn what_is_carried_is_written_when_it_is_news() {
    let mut writer = Writer::new(Memory(StdVec::new()));
    writer.open(&Settings::bare(), None);
    for (s, laps) in [(1, None), (2, None), (3, Some(0)), (4, Some(0)), (5, Some(1)), (6, None)] {
        fed(&mut writer, s, laps.and_then(|laps| carried(laps, s)));
    }
    let bytes = writer.into_sink().0;
    assert_eq!(all_carried(&bytes), [None, carried(0, 3), carried(1, 5), None]);
    assert_eq!(
        Reader::new(&bytes).newest_carried(),
        None,
        "the clock was cleared: nothing is carried any more"
    );
}

/// A sector of 4,096 bytes holds 16 pages; what the pages add leaves less than that for frames.
#[test]
fn what_is_carried_is_found_in_any_sectors_worth_of_a_long_journal() {
    let mut writer = Writer::new(Memory(StdVec::new()));
    writer.open(&Settings::bare(), None);
    let from = writer.sink().0.len();
    (0..3_000).for_each(|s| fed(&mut writer, s, carried(2, s)));
    let bytes = writer.into_sink().0;
    for window in bytes[from..].windows(4_096 - 16 * 16).step_by(97) {
        let newest = Reader::new(window).newest_carried();
        assert_eq!(newest.map(|carried| carried.race.laps_done), Some(2));
    }
}

/// A sink that has no room for the first so many frames.
struct Full(u32, Memory);

impl Sink for Full {
    fn frame(&mut self, frame: &[u8]) -> bool {
        self.0 = self.0.saturating_sub(1);
        self.0 == 0 && self.1.frame(frame)
    }
}

#[test]
fn what_is_carried_is_written_again_when_it_found_no_room() {
    let mut writer = Writer::new(Full(3, Memory(StdVec::new())));
    (1..5).for_each(|s| fed(&mut writer, s, carried(1, 1)));
    assert_eq!(all_carried(&writer.into_sink().1.0), [carried(1, 1)]);
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

/// Source: FIPS 180-4's SHA-256 as the library has it, over the bytes as they stand.
#[test]
fn each_mark_holds_the_hash_of_all_bytes_since_the_link_before_it() {
    use sha2::{Digest as _, Sha256};
    let bytes = sample(300);
    let (mut from, mut marks) = (0, 0);
    for entry in Reader::new(&bytes) {
        let Entry::Record { offset, record, .. } = entry else { panic!("{entry:?}") };
        if let Record::Mark { chain, .. } = record {
            let hash: [u8; 32] = Sha256::digest(&bytes[from..offset]).into();
            assert_eq!(chain, hash);
            marks += 1;
        }
        if record.is_link() {
            from = offset;
        }
    }
    assert!(marks > 4);
}

#[test]
fn each_frame_carries_the_low_byte_of_its_number() {
    let bytes = sample(400);
    for (number, raw) in (0_u32..).zip(Reader::new(&bytes).undecoded()) {
        assert_eq!(u32::from(raw.sequence), number % 256);
    }
}

#[test]
fn an_older_format_is_known_by_its_first_record() {
    // Format 1: length, record, check sum of both; record 0 is the opening, and says its format first.
    let mut old = std::vec![7_u8, 0, 1, 0, 1, 0, 40, 2];
    old.extend(checksum(&old).to_le_bytes());
    assert_eq!(Reader::new(&old).older_format(), Some(1));
    assert_eq!(Reader::new(&sample(3)).older_format(), None);
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
                    covered += usize::from(bytes[offset]) + FRAME_ADDS;
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
            .filter(|e| matches!(e, Entry::Record { offset, .. } if offset + usize::from(whole[*offset]) + FRAME_ADDS <= cut))
            .count();
        let read = Reader::new(&whole[..cut]).filter(|e| matches!(e, Entry::Record { .. })).count();
        prop_assert_eq!(read, whole_before);
    }
}
