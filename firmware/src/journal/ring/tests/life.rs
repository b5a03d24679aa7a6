//! A ring with power: full, worn, write-protected, on a bad bus, and for many laps.

use super::*;

/// A mounted ring on a new chip.
fn new_ring(sectors: u32, pages: u32) -> (SmallRing, StrictChip, Model) {
    let mut chip = StrictChip::new(sectors, pages);
    let (ring, mounted) = SmallRing::mount(&mut chip).unwrap();
    assert!(!mounted.has_history);
    (ring, chip, Model::default())
}

/// Writes a page of its own for each of so many frames.
fn write_pages(ring: &mut SmallRing, chip: &mut StrictChip, model: &mut Model, pages: u32, may_erase: bool) {
    for _ in 0..pages {
        model.put(ring, 100);
        ring.flush();
        model.settle(ring, chip, may_erase).unwrap();
    }
}

#[test]
fn the_queue_takes_one_byte_less_all_and_not_one_more() {
    for (last, fits) in [(PAYLOAD - 1, true), (PAYLOAD, true), (PAYLOAD + 1, false)] {
        let (mut ring, _, _) = new_ring(8, 16);
        assert!(ring.frame(&[1; PAYLOAD]) && ring.frame(&[2; PAYLOAD]));
        assert_eq!(ring.frame(&std::vec![3; last]), fits, "{last}");
        assert_eq!(ring.counters().lost_frames, u32::from(!fits));
        assert_eq!(ring.taken(), (2 * PAYLOAD + if fits { last } else { 0 }) as u64);
    }
}

#[test]
fn a_poll_is_one_operation_and_none_while_the_chip_is_busy() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    (chip.is_logged, chip.busy_polls) = (true, 3);
    for number in 0..60 {
        model.put(&mut ring, 100);
        ring.flush();
        loop {
            chip.power_up(u64::MAX);
            let activity = model.poll(&mut ring, &mut chip, number % 2 == 0).unwrap();
            let done = chip.log.iter().filter(|(_, o)| *o != Operation::Status).count();
            let expected = usize::from(matches!(activity, Activity::Worked | Activity::Acknowledged));
            assert!(done <= expected, "{activity:?}: {:?}", chip.log);
            assert!(chip.used <= 4 + 2 + 1 + PAGE as u64, "{} bytes on the bus", chip.used);
            if activity == Activity::Idle {
                break;
            }
        }
    }
    assert_eq!(ring.acknowledged(), 6_000);
}

#[test]
fn nothing_is_erased_while_a_clock_runs_and_what_finds_no_room_is_counted() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    write_pages(&mut ring, &mut chip, &mut model, 100, false);
    assert_eq!(chip.erases, [0; 8]);
    assert_eq!(ring.room(), 0);
    // All slots but the marker's and those of the doubtful sector, and what the queue holds.
    let (written, waiting) = (6 * 4 - 1 - 4, 3 * PAYLOAD / 100);
    assert_eq!(ring.acknowledged(), written * 100);
    assert_eq!(ring.counters().lost_frames, 100 - written as u32 - waiting as u32);
    model.compare(&ring, &mut chip);
    assert!(!ring.has_work(false) && ring.has_work(true));
}

#[test]
fn what_waited_is_written_once_it_may_be_erased() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    write_pages(&mut ring, &mut chip, &mut model, 100, false);
    model.settle(&mut ring, &mut chip, true).unwrap();
    assert_eq!(ring.acknowledged(), ring.taken());
    model.compare(&ring, &mut chip);
}

#[test]
fn as_much_is_erased_ahead_as_was_asked_for_and_no_more() {
    let (mut ring, mut chip, mut model) = new_ring(34, 16);
    write_pages(&mut ring, &mut chip, &mut model, 500, true);
    for wanted in [1, 10_000, 60_000, 10_000_000] {
        ring.erase_ahead(wanted);
        let before = ring.room();
        model.settle(&mut ring, &mut chip, true).unwrap();
        let least = wanted.min(16 * 16 * PAYLOAD as u32);
        assert!(ring.room() >= least, "{} of {wanted}", ring.room());
        assert!(ring.room() <= before.max(least + 16 * PAYLOAD as u32), "{} of {wanted}", ring.room());
    }
    model.compare(&ring, &mut chip);
}

#[test]
fn wear_is_spread_evenly_over_all_sectors_of_the_ring() {
    let (mut ring, mut chip, mut model) = new_ring(12, 4);
    for run in 0..100 {
        write_pages(&mut ring, &mut chip, &mut model, 7, true);
        if run % 10 == 0 {
            ring = model.check(&mut chip);
        }
    }
    let (shelf, sectors) = chip.erases.split_at(SHELF_SECTORS as usize);
    assert_eq!(shelf, [0, 0]);
    // Each power-up may erase one sector once more.
    let (least, most) = (sectors.iter().min().unwrap(), sectors.iter().max().unwrap());
    assert!(*least >= 16 && most - least <= 3, "{sectors:?}");
}

#[test]
fn a_slot_that_does_not_take_its_page_is_passed_over_and_the_page_is_not_shown_twice() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    let third = chip.geometry.address(SHELF_SECTORS, 3) as usize;
    chip.stuck = Some(third + 12);
    write_pages(&mut ring, &mut chip, &mut model, 6, false);
    assert_eq!((ring.acknowledged(), ring.counters().bad_pages), (600, 1));
    // Later the byte reads as it should have, as weak cells may.
    let fourth = chip.geometry.address(SHELF_SECTORS + 1, 0) as usize;
    chip.bytes[third + 12] = chip.bytes[fourth + 12];
    model.compare(&ring, &mut chip);
    model.check::<3>(&mut chip);
}

#[test]
fn what_stands_in_a_slot_of_another_number_is_not_shown() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    let address = |slot: u32| chip.geometry.address(SHELF_SECTORS, slot) as usize;
    let (first, third) = (address(1), address(3));
    chip.stuck = Some(third + 12);
    write_pages(&mut ring, &mut chip, &mut model, 6, false);
    // A whole page, but not the one that belongs there.
    chip.bytes.copy_within(first..first + PAGE, third);
    model.compare(&ring, &mut chip);
    model.check::<3>(&mut chip);
}

/// Each run takes two slots: its marker becomes whole, its page is torn. So the ring goes round without a new
/// page.
#[test]
fn the_newest_page_is_not_erased_however_many_are_torn_after_it() {
    let (mut ring, mut chip, mut model) = new_ring(6, 4);
    write_pages(&mut ring, &mut chip, &mut model, 3, true);
    // A look and the marker; a busy chip, a look, and part of the page.
    let power = 262 + 263 + 4 + 262 + 2 + 5 + 20;
    for _ in 0..40 {
        let mut ring = model.check::<3>(&mut chip);
        model.settle(&mut ring, &mut chip, true).unwrap();
        chip.power_up(power);
        model.put(&mut ring, 100);
        ring.flush();
        let _ = model.settle(&mut ring, &mut chip, true);
        let ring = model.check::<3>(&mut chip);
        assert!(read_all(&ring, &mut chip).contains(&2), "the newest page is gone");
    }
    assert_eq!(model.check::<3>(&mut chip).room(), 0, "the ring went all the way round");
}

#[test]
fn a_page_that_fades_is_missed_and_not_joined_over() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    write_pages(&mut ring, &mut chip, &mut model, 6, false);
    let third = chip.geometry.address(SHELF_SECTORS, 3) as usize;
    chip.bytes[third + 12] ^= 1;
    let (mut cursor, mut buffer, mut joins) = (ring.oldest(), [0; PAGE], Vec::new());
    loop {
        match ring.read_back(&mut chip, &mut cursor, &mut buffer).unwrap() {
            Found::Piece(piece) => joins.push(piece.joins),
            Found::End => break,
            Found::Busy | Found::Nothing => {}
        }
    }
    assert_eq!(joins, [false, true, false, true, true]);
}

#[test]
fn a_write_protected_chip_is_given_up_after_a_sector_and_nothing_is_acknowledged() {
    let (mut ring, mut chip, mut model) = new_ring(40, 16);
    chip.protected = true;
    write_pages(&mut ring, &mut chip, &mut model, 50, true);
    assert!(ring.has_failed() && !ring.has_work(true));
    assert_eq!((ring.acknowledged(), ring.counters().bad_pages), (0, 16));
    assert!(ring.counters().lost_frames > 40);
}

#[test]
fn a_worn_sector_is_used_where_it_is_blank() {
    let (mut ring, mut chip, mut model) = new_ring(8, 4);
    let worn = SHELF_SECTORS + 3;
    chip.worn = Some(chip.geometry.address(worn, 2) as usize + 7);
    write_pages(&mut ring, &mut chip, &mut model, 60, true);
    assert!(ring.counters().bad_sectors >= 2 && ring.counters().bad_pages >= 2, "{:?}", ring.counters());
    assert_eq!(ring.acknowledged(), 6_000);
    model.compare(&ring, &mut chip);
    assert!(!ring.has_failed());
}

/// A bus that fails at every third call, before the chip hears of it or after.
struct BadBus {
    chip: StrictChip,
    calls: u32,
}

impl BadBus {
    fn is_broken(&mut self) -> bool {
        self.calls += 1;
        self.calls.is_multiple_of(3)
    }
}

impl Chip for BadBus {
    type Error = Dead;

    fn geometry(&self) -> Geometry {
        self.chip.geometry
    }

    fn is_busy(&mut self) -> Result<bool, Dead> {
        self.chip.is_busy()
    }

    fn read(&mut self, address: u32, buffer: &mut [u8]) -> Result<(), Dead> {
        if self.is_broken() { Err(Dead) } else { self.chip.read(address, buffer) }
    }

    fn begin_program(&mut self, address: u32, page: &[u8; PAGE]) -> Result<(), Dead> {
        let is_broken = self.is_broken();
        if !is_broken || self.calls.is_multiple_of(2) {
            self.chip.begin_program(address, page)?;
        }
        if is_broken { Err(Dead) } else { Ok(()) }
    }

    fn begin_erase(&mut self, address: u32) -> Result<(), Dead> {
        let is_broken = self.is_broken();
        if !is_broken || self.calls.is_multiple_of(2) {
            self.chip.begin_erase(address)?;
        }
        if is_broken { Err(Dead) } else { Ok(()) }
    }
}

#[test]
fn a_bus_that_fails_now_and_then_costs_slots_but_no_frames() {
    let (mut ring, chip, mut model) = new_ring(80, 4);
    let mut bus = BadBus { chip, calls: 0 };
    let mut faults = 0;
    for _ in 0..40 {
        model.put(&mut ring, 100);
        ring.flush();
        loop {
            match ring.poll(&mut bus, true) {
                Ok(Activity::Idle) => break,
                Ok(_) => {}
                Err(Dead) => faults += 1,
            }
        }
    }
    assert!(faults > 40);
    assert_eq!((ring.acknowledged(), ring.counters().lost_frames), (4_000, 0));
    assert_eq!(read_all(&ring, &mut bus.chip), (0..40).collect::<Vec<_>>());
}
