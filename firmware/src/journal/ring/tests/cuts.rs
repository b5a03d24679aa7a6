//! The power dies, wherever it may; then again during the recovery. What was acknowledged stays.

use super::*;
use proptest::prelude::*;

/// One thing that is done in a run.
#[derive(Clone, Copy, Debug)]
struct Deed {
    /// A frame of so many bytes is given.
    len: usize,
    flush: bool,
    may_erase: bool,
    /// Then the ring is polled so often, or until it rests.
    polls: usize,
}

/// A deed after which the ring comes to rest.
const fn deed(len: usize, flush: bool, may_erase: bool) -> Deed {
    Deed { len, flush, may_erase, polls: usize::MAX }
}

/// From power-up through all deeds, or to the cut.
fn run(chip: &mut StrictChip, model: &mut Model, deeds: &[Deed]) -> Result<(), Dead> {
    let (mut ring, _) = SmallRing::mount(chip).map_err(|fault| {
        assert_eq!(fault, MountFault::Chip(Dead));
        Dead
    })?;
    for deed in deeds {
        model.put(&mut ring, deed.len);
        if deed.flush {
            ring.flush();
        }
        for _ in 0..deed.polls {
            if model.poll(&mut ring, chip, deed.may_erase)? == Activity::Idle {
                break;
            }
        }
    }
    Ok(())
}

/// When a cut makes a difference in a run.
fn moments(chip: &StrictChip, model: &Model, deeds: &[Deed]) -> Vec<u64> {
    let (mut chip, mut model) = (chip.clone(), model.clone());
    chip.is_logged = true;
    chip.power_up(u64::MAX);
    run(&mut chip, &mut model, deeds).unwrap();
    chip.moments()
}

/// The chip and the model after a run that is cut, compared.
fn cut(chip: &StrictChip, model: &Model, deeds: &[Deed], at: u64) -> (StrictChip, Model) {
    let (mut chip, mut model) = (chip.clone(), model.clone());
    chip.power_up(at);
    // With all its bytes spent the run may just have ended.
    let _ = run(&mut chip, &mut model, deeds);
    model.check::<3>(&mut chip);
    (chip, model)
}

/// Cuts a run wherever it makes a difference, and the run after it as well; then lets one run to its end.
/// Gives the number of double cuts.
fn cut_twice(chip: &StrictChip, model: &Model, deeds: &[Deed]) -> usize {
    let mut cases = 0;
    for first in moments(chip, model, deeds) {
        let (chip, model) = cut(chip, model, deeds, first);
        for second in moments(&chip, &model, deeds) {
            let (mut chip, mut model) = cut(&chip, &model, deeds, second);
            run(&mut chip, &mut model, deeds).unwrap();
            model.check::<3>(&mut chip);
            cases += 1;
        }
    }
    cases
}

/// A page while idle, so that a sector may have to be erased, and one while a clock runs.
const TWO_PAGES: [Deed; 2] = [deed(FRAME_MIN, true, true), deed(FRAME_MIN, true, false)];

/// Runs that begin at each place of a ring that is used for the first time, and for the second.
fn cut_twice_along(sectors: u32, pages: u32, cuts_early: bool) -> usize {
    let (mut chip, mut model) = (StrictChip::new(sectors, pages), Model::default());
    chip.cuts_early = cuts_early;
    let mut cases = 0;
    // In the debug profile not every place: those of a sector are much alike.
    let every = if cfg!(debug_assertions) { 3 } else { 1 };
    for place in 0..(sectors - SHELF_SECTORS) * pages {
        if place % every == 0 {
            cases += cut_twice(&chip, &model, &TWO_PAGES);
        }
        // On by a run that is not cut.
        chip.power_up(u64::MAX);
        run(&mut chip, &mut model, &TWO_PAGES[..1]).unwrap();
        model.check::<3>(&mut chip);
    }
    cases
}

#[test]
fn what_was_acknowledged_is_there_after_any_two_cuts_and_nothing_is_invented() {
    let cases = [(6, 1), (6, 2), (6, 4), (7, 3)].map(|(s, p)| cut_twice_along(s, p, false));
    std::println!("{cases:?} double cuts");
    assert!(cases.iter().all(|cases| *cases > 5_000), "{cases:?}");
}

/// The chip fails the test when frames are programmed into a slot that reads as blank, with cells half-way.
#[test]
fn no_frame_goes_where_a_program_was_cut_early() {
    let cases = cut_twice_along(6, 4, true);
    std::println!("{cases} double cuts");
    assert!(cases > 1_000, "{cases}");
}

/// The oldest sector lost its second half in an erase that was cut. If the sector before it, which is blank,
/// were erased anew and that erase were cut as well, nothing would tell any more that the first half is no
/// longer to be shown.
#[test]
fn two_cut_erases_in_a_row_leave_no_hole() {
    let (mut chip, mut model) = (StrictChip::new(8, 4), Model::default());
    let long_run = [deed(FRAME_MIN, true, true); 40];
    run(&mut chip, &mut model, &long_run).unwrap();
    let some_pages = [deed(FRAME_MIN, true, true); 6];
    for first in moments(&chip, &model, &some_pages) {
        let (chip, model) = cut(&chip, &model, &some_pages, first);
        for second in moments(&chip, &model, &some_pages[..1]) {
            cut(&chip, &model, &some_pages[..1], second);
        }
    }
}

/// Pages that are full, and frames that go over from one to the next: cut once after each byte.
#[test]
fn frames_across_pages_survive_a_cut_after_any_byte() {
    let deeds = [deed(200, true, true), deed(253, false, false), deed(250, true, false)];
    let (mut chip, mut model) = (StrictChip::new(7, 16), Model::default());
    for _ in 0..12 {
        for at in moments(&chip, &model, &deeds) {
            let (mut chip, mut model) = cut(&chip, &model, &deeds, at);
            run(&mut chip, &mut model, &deeds).unwrap();
            model.check::<3>(&mut chip);
        }
        chip.power_up(u64::MAX);
        run(&mut chip, &mut model, &deeds).unwrap();
        model.check::<3>(&mut chip);
    }
}

fn any_deed() -> impl Strategy<Value = Deed> {
    let polls = prop_oneof![0_usize..60, Just(usize::MAX)];
    (FRAME_MIN..=FRAME_MAX, any::<bool>(), any::<bool>(), polls)
        .prop_map(|(len, flush, may_erase, polls)| Deed { len, flush, may_erase, polls })
}

/// Bytes until the power dies, and what is done until then.
fn any_run() -> impl Strategy<Value = (u64, Vec<Deed>)> {
    let power = prop_oneof![0_u64..30_000, Just(u64::MAX)];
    (power, proptest::collection::vec(any_deed(), 1..8))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(if cfg!(debug_assertions) { 256 } else { 4_096 }))]

    #[test]
    fn what_was_acknowledged_is_there_after_any_row_of_runs_and_cuts(
        sectors in 6_u32..12, pages in 1_u32..17, cuts_early: bool,
        runs in proptest::collection::vec(any_run(), 1..40),
    ) {
        let (mut chip, mut model) = (StrictChip::new(sectors, pages), Model::default());
        chip.cuts_early = cuts_early;
        for (power, deeds) in runs {
            chip.power_up(power);
            let _ = run(&mut chip, &mut model, &deeds);
            model.check::<3>(&mut chip);
        }
    }
}
