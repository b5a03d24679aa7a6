//! Settings on a chip whose power may die after any byte: the old set or the new one, whole.

use std::vec::Vec;

use super::*;
use crate::journal::ring::strict_chip::{Dead, StrictChip};

/// A set of so many bytes that can be told from others.
fn set(number: u8, len: usize) -> Vec<u8> {
    (0..len).map(|place| number.wrapping_mul(7).wrapping_add(place as u8)).collect()
}

fn load(chip: &mut StrictChip) -> (Shelf, Option<Vec<u8>>) {
    chip.power_up(u64::MAX);
    let mut buffer = [0; BYTES_MAX];
    let (shelf, len) = Shelf::load(chip, &mut buffer).unwrap();
    (shelf, len.map(|len| buffer[..len].to_vec()))
}

/// Polls until the writing is over.
fn finish(shelf: &mut Shelf, chip: &mut StrictChip) -> Result<Progress, Dead> {
    for _ in 0..1_000 {
        match shelf.poll(chip, true)? {
            Progress::Waiting | Progress::Worked => {}
            end => return Ok(end),
        }
    }
    panic!("the shelf never comes to rest");
}

fn write(chip: &mut StrictChip, bytes: &[u8]) {
    let (mut shelf, _) = load(chip);
    shelf.store(bytes).unwrap();
    assert_eq!(finish(&mut shelf, chip), Ok(Progress::Stored));
}

/// A writing that is cut.
fn write_until(chip: &mut StrictChip, bytes: &[u8], power: u64) {
    let (mut shelf, _) = load(chip);
    shelf.store(bytes).unwrap();
    chip.power_up(power);
    let _ = finish(&mut shelf, chip);
}

/// When a cut makes a difference in a writing.
fn moments(chip: &StrictChip, bytes: &[u8]) -> Vec<u64> {
    let mut chip = chip.clone();
    chip.is_logged = true;
    let (mut shelf, _) = load(&mut chip);
    chip.power_up(u64::MAX);
    shelf.store(bytes).unwrap();
    finish(&mut shelf, &mut chip).unwrap();
    chip.moments()
}

#[test]
fn what_was_stored_is_loaded_and_the_newest_wins() {
    let mut chip = StrictChip::new(8, 16);
    assert_eq!(load(&mut chip).1, None);
    for number in 0..7 {
        write(&mut chip, &set(number, 300));
        assert_eq!(load(&mut chip).1, Some(set(number, 300)));
    }
    assert_eq!(chip.erases, [4, 3, 0, 0, 0, 0, 0, 0], "both places in turn, and nothing else");
}

#[test]
fn settings_come_back_as_they_were() {
    let mut chip = StrictChip::new(8, 16);
    let mut buffer = [0; BYTES_MAX];
    let settings = Settings::bare();
    write(&mut chip, settings.encode(&mut buffer));
    assert_eq!(Settings::decode(&load(&mut chip).1.unwrap()), Some(settings));
}

#[test]
fn a_shelf_takes_one_byte_less_all_and_not_one_more() {
    let mut chip = StrictChip::new(8, 16);
    for len in [1, 245, 246, 247, BYTES_MAX - 1, BYTES_MAX] {
        write(&mut chip, &set(1, len));
        assert_eq!(load(&mut chip).1, Some(set(1, len)));
    }
    let (mut shelf, _) = load(&mut chip);
    assert_eq!(shelf.store(&set(1, BYTES_MAX + 1)), Err(Refused::Length));
    assert_eq!(shelf.store(&[]), Err(Refused::Length));
    assert!(!shelf.has_work());
    // A sector of 1 KiB holds ten bytes less than that.
    let (mut shelf, _) = load(&mut StrictChip::new(8, 4));
    assert_eq!(shelf.store(&set(1, 1_014)), Ok(()));
    let (mut shelf, _) = load(&mut StrictChip::new(8, 4));
    assert_eq!(shelf.store(&set(1, 1_015)), Err(Refused::Length));
}

#[test]
fn one_writing_at_a_time_and_none_while_a_clock_runs() {
    let mut chip = StrictChip::new(8, 16);
    write(&mut chip, &set(1, 500));
    let (mut shelf, _) = load(&mut chip);
    assert_eq!(shelf.poll(&mut chip, true), Ok(Progress::Idle));
    shelf.store(&set(2, 500)).unwrap();
    assert_eq!(shelf.store(&set(3, 500)), Err(Refused::Busy));
    for _ in 0..100 {
        assert_eq!(shelf.poll(&mut chip, false), Ok(Progress::Waiting));
    }
    assert_eq!(chip.erases[..2], [1, 0]);
    assert_eq!(finish(&mut shelf, &mut chip), Ok(Progress::Stored));
    assert_eq!(load(&mut chip).1, Some(set(2, 500)));
}

/// After two cuts wherever they make a difference, the shelf holds the set that was whole, or the one under
/// way.
#[test]
fn any_two_cuts_leave_the_old_settings_or_the_new_ones_whole() {
    let (old, new, newer) = (set(1, 40), set(2, 30), set(3, 250));
    let mut cases = 0;
    for writings in 1..3 {
        let mut chip = StrictChip::new(8, 16);
        for _ in 0..writings {
            write(&mut chip, &old);
        }
        for first in moments(&chip, &new) {
            let mut chip = chip.clone();
            write_until(&mut chip, &new, first);
            let after_first = load(&mut chip).1.expect("the settings are gone");
            assert!(after_first == old || after_first == new);
            for second in moments(&chip, &newer) {
                let mut chip = chip.clone();
                write_until(&mut chip, &newer, second);
                let after_second = load(&mut chip).1.expect("the settings are gone");
                assert!(after_second == after_first || after_second == newer);
                write(&mut chip, &old);
                assert_eq!(load(&mut chip).1.as_ref(), Some(&old));
                cases += 1;
            }
        }
    }
    std::println!("{cases} double cuts");
    assert!(cases > 10_000, "{cases}");
}

#[test]
fn a_chip_that_takes_nothing_keeps_the_old_settings_and_says_so() {
    let mut chip = StrictChip::new(8, 16);
    write(&mut chip, &set(1, 300));
    write(&mut chip, &set(2, 300));
    chip.protected = true;
    let (mut shelf, _) = load(&mut chip);
    shelf.store(&set(3, 300)).unwrap();
    assert_eq!(finish(&mut shelf, &mut chip), Ok(Progress::Failed));
    assert!(!shelf.has_work());
    assert_eq!(load(&mut chip).1, Some(set(2, 300)));
}

#[test]
fn a_byte_that_does_not_stick_is_noticed_and_the_old_settings_stay() {
    let mut chip = StrictChip::new(8, 16);
    write(&mut chip, &set(1, 300));
    chip.stuck = Some(chip.geometry.address(1, 1) as usize + 4);
    let (mut shelf, _) = load(&mut chip);
    shelf.store(&set(2, 300)).unwrap();
    assert_eq!(finish(&mut shelf, &mut chip), Ok(Progress::Failed));
    assert_eq!(load(&mut chip).1, Some(set(1, 300)));
}

#[test]
fn a_byte_that_does_not_become_blank_matters_only_where_it_is_in_the_way() {
    // The set has a bit at byte 206 of the sector that a worn cell cannot show; behind byte 310 there is
    // nothing.
    for (worn, progress, number) in [(206, Progress::Failed, 1), (310, Progress::Stored, 2)] {
        let mut chip = StrictChip::new(8, 16);
        write(&mut chip, &set(1, 300));
        chip.worn = Some(chip.geometry.address(1, 0) as usize + worn);
        let (mut shelf, _) = load(&mut chip);
        shelf.store(&set(2, 300)).unwrap();
        assert_eq!(finish(&mut shelf, &mut chip), Ok(progress));
        assert_eq!(load(&mut chip).1, Some(set(number, 300)));
    }
}

#[test]
fn another_chips_content_is_no_settings() {
    let mut chip = StrictChip::new(8, 16);
    chip.fill_at_random();
    let (mut shelf, found) = load(&mut chip);
    assert_eq!(found, None);
    shelf.store(&set(1, 300)).unwrap();
    assert_eq!(finish(&mut shelf, &mut chip), Ok(Progress::Stored));
    assert_eq!(load(&mut chip).1, Some(set(1, 300)));
}

#[test]
fn a_poll_is_one_operation_and_none_while_the_chip_is_busy() {
    let mut chip = StrictChip::new(8, 16);
    (chip.is_logged, chip.busy_polls) = (true, 3);
    let (mut shelf, _) = load(&mut chip);
    shelf.store(&set(1, BYTES_MAX)).unwrap();
    loop {
        chip.power_up(u64::MAX);
        let progress = shelf.poll(&mut chip, true).unwrap();
        // A status and one operation more, at most.
        assert!(chip.log.len() <= 2, "{:?}", chip.log);
        if progress == Progress::Stored {
            break;
        }
    }
}
