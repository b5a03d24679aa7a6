//! The words that survive, and the weighing of two witnesses.

use proptest::prelude::*;

use super::*;
use crate::journal::{RECORD_MAX, Record};
use crate::output::Call;
use crate::units::MmPerSecond;

/// A zero ten minutes after power-on, by the thumb, its label known to 40 us. The label is an invented moment.
const ZERO: CarriedZero = CarriedZero {
    at: Instant::from_micros(600_000_000),
    sigma: Span::from_micros(45_000),
    rests_on: Basis::Thumb,
    utc: Some(Labelled { utc: Utc::from_unix_micros(1_936_811_100_000_000), sigma: Span::from_micros(40) }),
};

const SD: Span = Span::from_millis(3);
const SOFT: Boot = Boot::Soft { gap: Span::from_millis(350), sd: SD };

fn at_s(s: u64) -> Instant {
    Instant::from_micros(s * 1_000_000)
}

fn scratch(kicked_s: u64, zero: Option<CarriedZero>) -> Option<Scratch> {
    Some(Scratch { kicked: at_s(kicked_s), zero })
}

/// What a journal holds: written so late, with one lap run.
fn written(written_s: u64, zero: Option<CarriedZero>) -> Carried {
    let race = CarriedRace { laps_done: 1, ..CarriedRace::default() };
    Carried { at: at_s(written_s), known_zero: zero, race, ..Carried::default() }
}

fn moved(zero: CarriedZero, by: Span) -> CarriedZero {
    let utc = zero.utc.map(|label| Labelled { utc: label.utc.plus(by), ..label });
    CarriedZero { at: zero.at.plus(by), utc, ..zero }
}

fn told(boot: Boot, scratch: Option<Scratch>, journal: Option<Carried>) -> Resume {
    plan(boot, scratch, journal).resume.unwrap()
}

#[test]
fn after_a_soft_restart_the_clock_goes_on_from_the_last_kick() {
    let plan = plan(SOFT, scratch(500, Some(ZERO)), Some(written(499, Some(ZERO))));
    assert_eq!(plan.base, at_s(500).plus(Span::from_millis(350)));
    let resume = plan.resume.unwrap();
    assert_eq!(resume.clock, ClockCarried::CarriedOn { sd: SD });
    assert_eq!(resume.carried, written(499, Some(ZERO)));
}

/// A zero half an hour past must still lie after the beginning of the board's clock.
#[test]
fn after_a_cold_start_the_clock_goes_on_late_enough_for_any_zero_that_comes_back() {
    let journal = written(0, Some(CarriedZero { at: Instant::BOOT, ..ZERO }));
    for words in [None, scratch(500, Some(ZERO))] {
        let plan = plan(Boot::Cold, words, Some(journal));
        assert_eq!(plan.base.since(Instant::BOOT), RESUME_WITHIN);
        assert_eq!(plan.resume, Some(Resume { carried: journal, clock: ClockCarried::Unknown }));
    }
}

#[test]
fn with_nothing_carried_there_is_nothing_to_tell() {
    assert_eq!(plan(Boot::Cold, None, None), Plan { base: Instant::BOOT, resume: None });
    assert_eq!(plan(SOFT, scratch(9, None), None).resume, None);
    assert_eq!(plan(SOFT, None, None).resume, None, "words that are not whole");
}

#[test]
fn a_soft_restart_without_its_words_is_a_cold_one() {
    let journal = Some(written(499, Some(ZERO)));
    assert_eq!(plan(SOFT, None, journal), plan(Boot::Cold, None, journal));
}

#[test]
fn of_two_zeros_of_one_start_the_later_one_counts_and_the_race_is_the_journals() {
    let newer = moved(ZERO, Span::from_secs(2));
    let behind = told(SOFT, scratch(500, Some(newer)), Some(written(499, Some(ZERO))));
    assert_eq!(behind.carried.known_zero, Some(newer), "the journal was cut off");
    assert_eq!(behind.carried.race.laps_done, 1);
    let ahead = told(SOFT, scratch(500, Some(ZERO)), Some(written(500, Some(newer))));
    assert_eq!(ahead.carried.known_zero, Some(newer), "the last kick was before it");
}

#[test]
fn zeros_of_two_starts_do_not_belong_together() {
    let other = moved(ZERO, Span::from_secs(60));
    let resume = told(SOFT, scratch(500, Some(other)), Some(written(200, Some(ZERO))));
    let alone = Carried { at: at_s(500), known_zero: Some(other), ..Carried::default() };
    assert_eq!(resume, Resume { carried: alone, clock: ClockCarried::CarriedOn { sd: SD } });
    assert_eq!(told(SOFT, scratch(500, Some(other)), None), resume, "no journal at all");
}

/// Zero was found again by UTC after a cut, and the record of that was lost: the journal's instants are still those of
/// before the cut.
#[test]
fn a_journal_on_another_clock_waits_for_utc_once_more() {
    let found = CarriedZero { at: at_s(2_700), ..ZERO };
    let journal = written(500, Some(ZERO));
    let resume = told(SOFT, scratch(2_650, Some(found)), Some(journal));
    assert_eq!(resume, Resume { carried: journal, clock: ClockCarried::Unknown });
}

/// The words cannot know that zero's instant is on a clock that is gone, should they ever hold such a one.
#[test]
fn a_zero_adrift_waits_for_utc_once_more_whatever_the_words_say() {
    let journal = Carried { is_adrift: true, ..written(500, Some(ZERO)) };
    assert_eq!(journal.zero(), None, "it does not go into the words");
    for words in [scratch(2_650, None), scratch(2_650, Some(ZERO))] {
        assert_eq!(
            told(SOFT, words, Some(journal)),
            Resume { carried: journal, clock: ClockCarried::Unknown }
        );
    }
}

#[test]
fn a_dash_that_was_still_looking_for_zero_looks_on() {
    let journal = written(500, Some(ZERO));
    let resume = told(SOFT, scratch(2_650, None), Some(journal));
    assert_eq!(resume, Resume { carried: journal, clock: ClockCarried::Unknown });
}

/// From memory, RP2040 data sheet, boot sequence: the ROM jumps where the scratch words say when word 4 is this.
const BOOT_ROM_JUMPS: u32 = 0xB007_C0D3;

/// Source: catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC, check value for "123456789".
#[test]
fn the_check_of_the_words_is_the_catalogued_one() {
    assert_eq!(scratch::CHECK.checksum(b"123456789"), 0xCBF4_3926);
}

#[test]
fn words_that_nobody_wrote_are_refused() {
    for word in [0, u32::MAX, BOOT_ROM_JUMPS] {
        assert_eq!(Scratch::from_words(&[word; SCRATCH_WORDS]), None);
    }
}

fn any_zero() -> impl Strategy<Value = CarriedZero> {
    let label = (0_i64..1 << 52, any::<u32>()).prop_map(|(us, sigma)| Labelled {
        utc: Utc::from_unix_micros(us),
        sigma: Span::from_micros(sigma.into()),
    });
    let basis = prop::sample::select([Basis::Thumb, Basis::Contact, Basis::Schedule].to_vec());
    (0_u64..1 << 48, any::<u32>(), basis, prop::option::of(label)).prop_map(|(at, sigma, rests_on, utc)| {
        let (at, sigma) = (Instant::from_micros(at), Span::from_micros(sigma.into()));
        CarriedZero { at, sigma, rests_on, utc }
    })
}

/// Anything that could stand in a record, whole heats and nonsense alike.
pub(crate) fn any_resume() -> impl Strategy<Value = Resume> {
    let span = || prop_oneof![any::<i64>(), -5_000_000_i64..5_000_000].prop_map(Span::from_micros);
    let at = || prop_oneof![any::<u64>(), 0_u64..900_000_000].prop_map(Instant::from_micros);
    let utc = || any::<i64>().prop_map(Utc::from_unix_micros);
    let wild = (at(), span(), utc(), span()).prop_map(|(at, sigma, utc, tie)| CarriedZero {
        at,
        sigma,
        rests_on: Basis::Contact,
        utc: Some(Labelled { utc, sigma: tie }),
    });
    let zero = prop::option::of(prop_oneof![any_zero(), wild, Just(ZERO)]);
    let crossing = (at(), utc(), span(), span());
    let crossing =
        crossing.prop_map(|(at, utc, sigma, tie_sigma)| CarriedCrossing { at, utc, sigma, tie_sigma });
    let calls = prop::sample::select([Call::Early, Call::Legal, Call::TooClose].to_vec());
    let call = (calls, span(), span()).prop_map(|(call, margin, sigma)| CallView { call, margin, sigma });
    let lap = (span(), any::<i32>());
    let lap = lap.prop_map(|(time, mm_s)| LapView { time, speed: MmPerSecond::from_mm_s(mm_s) });
    let race = (
        prop::option::of((crossing.clone(), crossing, call)),
        prop::option::of(lap),
        any::<u16>(),
        any::<bool>(),
    );
    let race = race.prop_map(|(started, last_lap, laps_done, finished)| CarriedRace {
        start: started.map(|(start, ..)| start),
        last_counted: started.map(|(_, last, _)| last),
        call: started.map(|(.., call)| call),
        laps_done,
        last_lap,
        finished,
    });
    let carried = (at(), (zero, any::<bool>()), any::<u16>(), prop::option::of(utc()), race, any::<u8>());
    let carried = carried.prop_map(|(at, (known_zero, is_adrift), taken, schedule, race, floor_units)| {
        Carried { at, known_zero, is_adrift, taken, schedule, race, floor_units }
    });
    let clock =
        prop_oneof![Just(ClockCarried::Unknown), span().prop_map(|sd| ClockCarried::CarriedOn { sd })];
    (carried, clock).prop_map(|(carried, clock)| Resume { carried, clock })
}

proptest! {
    #[test]
    fn what_is_written_into_the_words_is_read_from_them(
        kicked in 0_u64..1 << 48, zero in prop::option::of(any_zero()),
    ) {
        let scratch = Scratch { kicked: Instant::from_micros(kicked), zero };
        let words = scratch.to_words();
        prop_assert_ne!(words[4], BOOT_ROM_JUMPS);
        prop_assert_eq!(Scratch::from_words(&words), Some(scratch));
    }

    #[test]
    fn one_changed_bit_spoils_the_words(zero in any_zero(), word in 0..SCRATCH_WORDS, bit in 0_u32..32) {
        let mut words = Scratch { kicked: at_s(500), zero: Some(zero) }.to_words();
        words[word] ^= 1_u32 << bit;
        prop_assert_eq!(Scratch::from_words(&words), None);
    }

    #[test]
    fn values_beyond_the_words_never_make_the_boot_rom_jump(at: u64, kicked: u64, sigma: i64, utc: i64) {
        let label = Labelled { utc: Utc::from_unix_micros(utc), sigma: Span::from_micros(sigma) };
        let zero = CarriedZero {
            at: Instant::from_micros(at), sigma: Span::from_micros(sigma), rests_on: Basis::Schedule, utc: Some(label),
        };
        let words = Scratch { kicked: Instant::from_micros(kicked), zero: Some(zero) }.to_words();
        prop_assert!(words[4] < 1 << 28);
        prop_assert!(Scratch::from_words(&words).is_some());
    }

    #[test]
    fn whatever_is_carried_finds_room_in_a_record(resume in any_resume()) {
        use crate::input::Input;
        let input = Record::Input { after: Span::from_micros(i64::MIN), input: Input::Resume(resume) };
        for record in [Record::Carried(Some(resume.carried)), input] {
            let mut buffer = [0; RECORD_MAX];
            let bytes = postcard::to_slice(&record, &mut buffer).unwrap();
            prop_assert_eq!(postcard::from_bytes::<Record>(bytes).unwrap(), record);
        }
    }
}
