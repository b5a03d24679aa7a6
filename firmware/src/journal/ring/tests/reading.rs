//! Reading back: forwards, backwards, while writing goes on.

use super::*;

/// Frames of many sizes, flushed now and then.
fn write_some(ring: &mut SmallRing, chip: &mut StrictChip, model: &mut Model, frames: usize) {
    for number in 0..frames {
        model.put(ring, FRAME_MIN + (number * 37) % (FRAME_MAX - FRAME_MIN + 1));
        if number % 5 == 0 {
            ring.flush();
        }
        model.settle(ring, chip, true).unwrap();
    }
    ring.flush();
    model.settle(ring, chip, true).unwrap();
}

/// All pieces from new to old: their bytes, where a frame begins, whether they join.
fn walk_back(ring: &SmallRing, chip: &mut StrictChip) -> Vec<(Vec<u8>, Option<usize>, bool)> {
    let (mut trail, mut buffer, mut pieces) = (ring.newest(), [0; PAGE], Vec::new());
    loop {
        match ring.walk_back(chip, &mut trail, &mut buffer).unwrap() {
            Found::Piece(piece) => pieces.push((piece.bytes.to_vec(), piece.first, piece.joins)),
            Found::End => return pieces,
            Found::Busy | Found::Nothing => {}
        }
    }
}

#[test]
fn the_way_back_shows_the_same_pages_as_the_way_there() {
    let (mut chip, mut model) = (StrictChip::new(20, 4), Model::default());
    for _ in 0..6 {
        let mut ring = model.check::<3>(&mut chip);
        write_some(&mut ring, &mut chip, &mut model, 25);
        let (mut cursor, mut buffer, mut there) = (ring.oldest(), [0; PAGE], Vec::new());
        loop {
            match ring.read_back(&mut chip, &mut cursor, &mut buffer).unwrap() {
                Found::Piece(piece) => there.push((piece.bytes.to_vec(), piece.first)),
                Found::End => break,
                Found::Busy | Found::Nothing => {}
            }
        }
        let back = walk_back(&ring, &mut chip);
        assert!(back.iter().skip(1).all(|(_, _, joins)| *joins) && !back[0].2);
        let back: Vec<_> = back.into_iter().rev().map(|(bytes, first, _)| (bytes, first)).collect();
        assert_eq!(back, there);
    }
}

#[test]
fn a_reader_that_waits_at_the_end_gets_what_is_written_later() {
    let (mut chip, mut model) = (StrictChip::new(20, 4), Model::default());
    let mut ring = model.check::<3>(&mut chip);
    let (mut cursor, mut buffer, mut join) = (ring.oldest(), [0; PAGE], Join::default());
    for _ in 0..30 {
        model.put(&mut ring, 120);
        ring.flush();
        while model.poll(&mut ring, &mut chip, true).unwrap() != Activity::Idle {
            // One page is read between any two steps of the writing, unless the chip is busy.
            match ring.read_back(&mut chip, &mut cursor, &mut buffer).unwrap() {
                Found::Piece(piece) => join.add(&piece),
                Found::Busy | Found::Nothing | Found::End => {}
            }
        }
    }
    loop {
        match ring.read_back(&mut chip, &mut cursor, &mut buffer).unwrap() {
            Found::Piece(piece) => join.add(&piece),
            Found::Busy | Found::Nothing => {}
            Found::End => break,
        }
    }
    assert_eq!(join.ids, (0..30).collect::<Vec<_>>());
}

#[test]
fn a_reader_whose_place_was_erased_goes_on_with_the_oldest_page() {
    let (mut chip, mut model) = (StrictChip::new(8, 4), Model::default());
    let mut ring = model.check::<3>(&mut chip);
    write_some(&mut ring, &mut chip, &mut model, 5);
    let (mut cursor, mut buffer) = (ring.oldest(), [0; PAGE]);
    write_some(&mut ring, &mut chip, &mut model, 60);
    let found = loop {
        match ring.read_back(&mut chip, &mut cursor, &mut buffer).unwrap() {
            Found::Busy | Found::Nothing => {}
            found => break found,
        }
    };
    let Found::Piece(piece) = found else { panic!("{found:?}") };
    assert!(!piece.joins, "what was before it is gone");
    model.compare(&ring, &mut chip);
}

#[test]
fn a_busy_chip_is_not_read_and_the_place_stays() {
    let (mut chip, mut model) = (StrictChip::new(8, 4), Model::default());
    let mut ring = model.check::<3>(&mut chip);
    write_some(&mut ring, &mut chip, &mut model, 3);
    chip.begin_erase(0).unwrap();
    let (mut cursor, mut trail, mut buffer) = (ring.oldest(), ring.newest(), [0; PAGE]);
    let (before, behind) = (cursor, trail);
    chip.busy_polls = 2;
    assert_eq!(ring.read_back(&mut chip, &mut cursor, &mut buffer), Ok(Found::Busy));
    chip.begin_erase(0).unwrap();
    assert_eq!(ring.walk_back(&mut chip, &mut trail, &mut buffer), Ok(Found::Busy));
    assert_eq!((cursor, trail), (before, behind));
}
