//! What the engine suffered is found again after a cut of power, wherever that falls.

use super::*;
use crate::engine::suffered::{Account, Accounts};
use crate::input::Input;
use crate::journal::{Writer, suffered_in};
use crate::output::Outputs;
use crate::units::Instant;

/// So many accounts are written, each after ten more seconds of running.
const ACCOUNTS: u32 = 12;

fn accounts(number: u32) -> Accounts {
    let account = Account { run_ms: number * 10_000, starts: 1, ..Account::default() };
    Accounts { heat: account, total: account }
}

/// Writes accounts one by one, each pushed to the chip, until the power goes; gives the newest one given and the
/// newest one acknowledged.
fn run(chip: &mut StrictChip) -> (u32, u32) {
    let (mut given, mut acknowledged) = (0, 0);
    let Ok((ring, _)) = Ring::<3>::mount(chip) else { return (given, acknowledged) };
    let mut writer = Writer::new(ring);
    for number in 1..=ACCOUNTS {
        let at = Instant::from_micros(u64::from(number) * 10_000_000);
        writer.fed(at, &Input::Pps, &Outputs::default(), None);
        writer.suffered(Some(&accounts(number)));
        given = number;
        let ring = writer.sink_mut();
        ring.flush();
        loop {
            match ring.poll(chip, true) {
                Ok(Activity::Idle) => break,
                Ok(_) => {}
                Err(Dead) => return (given, acknowledged),
            }
        }
        if ring.acknowledged() == ring.taken() {
            acknowledged = number;
        }
    }
    (given, acknowledged)
}

fn newest(chip: &mut StrictChip) -> Option<Accounts> {
    chip.power_up(u64::MAX);
    let (ring, _) = Ring::<3>::mount(chip).unwrap();
    ring.find_newest(chip, 48, |raw| suffered_in(raw.record)).unwrap()
}

#[test]
fn what_was_suffered_comes_back_from_any_cut_with_no_more_lost_than_was_under_way() {
    let mut whole = StrictChip::new(40, 16);
    whole.is_logged = true;
    whole.power_up(u64::MAX);
    assert_eq!(run(&mut whole), (ACCOUNTS, ACCOUNTS));
    let moments = whole.moments();
    assert_eq!(newest(&mut whole), Some(accounts(ACCOUNTS)));
    assert!(moments.len() > 2 * ACCOUNTS as usize, "{}", moments.len());
    for moment in moments {
        let mut chip = StrictChip::new(40, 16);
        chip.power_up(moment);
        let (given, acknowledged) = run(&mut chip);
        match newest(&mut chip) {
            None => assert_eq!(acknowledged, 0, "cut at {moment}"),
            Some(found) => {
                let number = found.total.run_ms / 10_000;
                assert_eq!(found, accounts(number));
                assert!((acknowledged..=given).contains(&number), "cut at {moment}: {number}");
            }
        }
    }
}
