//! How the end of the record is found, how much is read for it, and on which chips.

use super::*;

/// 16 MiB, as on the board.
fn large_chip() -> StrictChip {
    StrictChip::new(4096, 16)
}

/// Writes so many full pages, as between races.
fn fill(chip: &mut StrictChip, pages: u32) {
    let (mut ring, _) = SmallRing::mount(chip).unwrap();
    for _ in 0..pages {
        assert!(ring.frame(&[7; PAYLOAD]));
        while ring.poll(chip, true).unwrap() != Activity::Idle {}
    }
}

/// Mounts and gives what was found, after checking that the count of bytes is the chip's own.
fn mounted(chip: &mut StrictChip) -> (SmallRing, Mounted) {
    chip.read = 0;
    let (ring, mounted) = SmallRing::mount(chip).unwrap();
    assert_eq!(u64::from(mounted.bytes_read), chip.read);
    (ring, mounted)
}

/// At 8 MHz a byte takes a microsecond, so these are milliseconds, less the processor's own time.
#[test]
fn sixteen_mebibytes_are_mounted_after_eighty_kilobytes_at_most() {
    let mut chip = large_chip();
    chip.busy_polls = 0;
    let kilobytes = |chip: &mut StrictChip| mounted(chip).1.bytes_read.div_ceil(1000);

    let new = kilobytes(&mut chip);
    fill(&mut chip, 100);
    let first_heat = kilobytes(&mut chip);
    fill(&mut chip, 65_504);
    let second_lap = kilobytes(&mut chip);

    // The first slots of the newest three sectors fade.
    let (ring, _) = mounted(&mut chip);
    let newest = ring.layout.sector_of(ring.last.unwrap());
    for sector in newest - 2..=newest {
        chip.bytes[ring.layout.sector_address(sector) as usize + 100] ^= 1;
    }
    let faded = kilobytes(&mut chip);
    assert_eq!(mounted(&mut chip).0.last, ring.last);

    chip.fill_at_random();
    let another = kilobytes(&mut chip);

    let figures = [new, first_heat, second_lap, faded, another];
    std::println!("kB read: new, first heat, second lap, three first slots faded, another's: {figures:?}");
    assert!(figures.iter().zip([80, 70, 50, 65, 600]).all(|(is, most)| *is <= most), "{figures:?}");
}

#[test]
fn a_new_chip_is_empty_and_needs_no_erase_for_its_first_heat() {
    let mut chip = large_chip();
    let (ring, mounted) = mounted(&mut chip);
    assert!(!mounted.has_history && !mounted.torn_erase && mounted.torn_pages == 0);
    assert_eq!(ring.room(), (4094 - 1) * 16 * PAYLOAD as u32);
    assert!(!ring.has_work(true));
}

#[test]
fn a_chip_full_of_something_else_is_taken_over_sector_by_sector() {
    let (mut chip, mut model) = (StrictChip::new(60, 4), Model::default());
    chip.fill_at_random();
    let (mut ring, found) = mounted(&mut chip);
    assert!(!found.has_history);
    assert_eq!(ring.room(), 0);
    model.put(&mut ring, 100);
    ring.flush();
    model.settle(&mut ring, &mut chip, false).unwrap();
    assert_eq!(ring.acknowledged(), 0, "nothing is written where nothing was erased");
    for _ in 0..500 {
        model.settle(&mut ring, &mut chip, true).unwrap();
        model.put(&mut ring, 100);
        ring.flush();
    }
    model.settle(&mut ring, &mut chip, true).unwrap();
    assert_eq!(ring.acknowledged(), 50_100);
    model.check::<3>(&mut chip);
}

#[test]
fn a_chip_that_is_too_small_or_busy_is_refused() {
    assert_eq!(SmallRing::mount(&mut StrictChip::new(5, 16)).err(), Some(MountFault::Size));
    let mut chip = StrictChip::new(6, 16);
    chip.begin_erase(0).unwrap();
    assert_eq!(SmallRing::mount(&mut chip).err(), Some(MountFault::Busy));
}

/// As when a starter motor pulls the supply down again and again, each time in the first page or its marker.
#[test]
fn thirty_torn_programs_in_a_row_lose_nothing() {
    let (mut chip, mut model) = (StrictChip::new(20, 16), Model::default());
    let write = |ring: &mut SmallRing, chip: &mut StrictChip, model: &mut Model| {
        model.put(ring, 100);
        ring.flush();
        model.settle(ring, chip, false)
    };
    let mut ring = model.check::<3>(&mut chip);
    for _ in 0..20 {
        write(&mut ring, &mut chip, &mut model).unwrap();
    }
    chip.is_logged = true;
    for cut in 0..30 {
        let mut ring = model.check::<3>(&mut chip);
        // A look at the slot and the marker; a busy chip, a look, and the page.
        let (marker, page) = (262 + 2, 262 + 263 + 4 + 262 + 2);
        chip.power_up(5 + 20 + if cut % 2 == 0 { marker } else { page });
        assert_eq!(write(&mut ring, &mut chip, &mut model), Err(Dead));
        assert!(matches!(chip.log.last(), Some((_, Operation::Program(_)))), "{:?}", chip.log);
    }
    model.check::<3>(&mut chip);
    let (ring, mounted) = mounted(&mut chip);
    assert!(ring.room() > 0);
    assert!((1..=30).contains(&mounted.torn_pages), "{mounted:?}");
    assert_eq!(ring.counters().torn_pages, mounted.torn_pages);
}

#[test]
fn numbers_that_are_used_up_end_the_record_and_not_the_program() {
    let mut chip = StrictChip::new(8, 4);
    let mut model = Model::default();
    let mut ring = model.check::<3>(&mut chip);
    // As if 2^32 pages had been written but for a few.
    let near = u32::MAX - u32::MAX / 16 * 2 - 8;
    let near = near - near % 24;
    (ring.next, ring.erased_to, ring.oldest) = (near, near + 8, near);
    for _ in 0..100 {
        model.put(&mut ring, 100);
        ring.flush();
        model.settle(&mut ring, &mut chip, true).unwrap();
    }
    assert!(!ring.has_work(true));
    assert!(ring.acknowledged() > 0 && ring.counters().lost_frames > 0);
    model.compare(&ring, &mut chip);
}
