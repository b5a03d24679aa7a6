//! The newest record of a kind, found from the end of the record.

use super::*;
use crate::input::{Input, Line};
use crate::journal::{Record, Writer};
use crate::output::Outputs;
use crate::settings::Settings;
use crate::units::Instant;

/// A dash's run of so many inputs, written to a ring that holds all of it in RAM, then to the chip.
fn run(chip: &mut StrictChip, inputs: u64) {
    let (ring, _) = Ring::<64>::mount(chip).unwrap();
    let mut writer = Writer::new(ring);
    let before = writer.sink().tail(chip, 100).unwrap();
    writer.open(&Settings::bare(), before);
    for number in 0..inputs {
        let input = Input::Edge { line: Line::Button, active: number % 2 == 0 };
        writer.fed(Instant::from_micros(number * 1_000), &input, &Outputs::default(), None);
    }
    let mut ring = writer.into_sink();
    ring.flush();
    while ring.poll(chip, true).unwrap() != Activity::Idle {}
    assert_eq!(ring.acknowledged(), ring.taken());
}

/// The number in the newest mark, looked for through so many pages.
fn newest_mark(chip: &mut StrictChip, pages: u32) -> Option<u32> {
    let (ring, _) = Ring::<4>::mount(chip).unwrap();
    let number = |raw: crate::journal::Raw<'_>| match postcard::from_bytes(raw.record) {
        Ok(Record::Mark { number, .. }) => Some(number),
        _ => None,
    };
    ring.find_newest(chip, pages, number).unwrap()
}

/// The whole record.
fn everything(chip: &mut StrictChip) -> Vec<u8> {
    let (ring, _) = Ring::<4>::mount(chip).unwrap();
    let (mut cursor, mut buffer, mut bytes) = (ring.oldest(), [0; PAGE], Vec::new());
    loop {
        match ring.read_back(chip, &mut cursor, &mut buffer).unwrap() {
            Found::Piece(piece) => bytes.extend_from_slice(piece.bytes),
            Found::End => break,
            Found::Busy | Found::Nothing => {}
        }
    }
    bytes
}

/// What a reader of the whole record says, from the beginning of the newest run.
fn last_mark_of_all(chip: &mut StrictChip) -> Option<u32> {
    let bytes = everything(chip);
    let marks = crate::journal::Reader::new(&bytes).filter_map(|entry| match entry {
        crate::journal::Entry::Record { record: Record::Mark { number, .. }, .. } => Some(number),
        _ => None,
    });
    marks.last()
}

/// Also when its frame goes over from one page to the next, which it does for some of these lengths.
#[test]
fn the_newest_record_of_a_kind_is_the_one_that_a_reader_of_everything_sees_last() {
    for inputs in (0..1_000).step_by(9) {
        let mut chip = StrictChip::new(40, 16);
        run(&mut chip, inputs);
        let newest = newest_mark(&mut chip, 100);
        assert!(newest.is_some());
        assert_eq!(newest, last_mark_of_all(&mut chip), "{inputs} inputs");
    }
}

#[test]
fn a_record_of_an_earlier_run_is_found_if_the_newest_has_none() {
    let mut chip = StrictChip::new(40, 16);
    run(&mut chip, 300);
    let before = newest_mark(&mut chip, 100);
    let (mut ring, _) = Ring::<4>::mount(&mut chip).unwrap();
    assert!(ring.frame(&frame(1, 200)));
    ring.flush();
    while ring.poll(&mut chip, true).unwrap() != Activity::Idle {}
    assert_eq!(newest_mark(&mut chip, 100), before);
}

#[test]
fn no_more_pages_are_read_than_allowed() {
    let mut chip = StrictChip::new(40, 16);
    run(&mut chip, 300);
    assert_eq!(newest_mark(&mut chip, 0), None);
    assert!(newest_mark(&mut chip, 10).is_some());
}

/// The chain goes on over starts of the program, wherever the pages divide the frames, and behind a frame that the power
/// cut short.
#[test]
fn the_tail_of_the_record_on_the_chip_is_that_of_a_reader_of_everything() {
    for inputs in (0..400).step_by(7) {
        let mut chip = StrictChip::new(60, 16);
        run(&mut chip, inputs);
        let (mut ring, _) = Ring::<4>::mount(&mut chip).unwrap();
        // The beginning of a frame that never became whole.
        assert!(ring.frame(&[40, 0, 3, 1, 2]));
        ring.flush();
        while ring.poll(&mut chip, true).unwrap() != Activity::Idle {}
        run(&mut chip, inputs / 3);
        let (ring, _) = Ring::<4>::mount(&mut chip).unwrap();
        let tail = ring.tail(&mut chip, 100).unwrap();
        let bytes = everything(&mut chip);
        assert!(tail.is_some());
        assert_eq!(tail, crate::journal::Reader::new(&bytes).before(), "{inputs} inputs");
    }
}
