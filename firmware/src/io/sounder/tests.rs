//! What is heard, as a list of moments in milliseconds when the beeper begins or ends to sound.

use std::vec::Vec;

use proptest::prelude::*;

use super::*;
use crate::output::{AlertId, Level};

const TONES: [Tone; 13] = [
    Tone::Warning,
    Tone::Caution,
    Tone::Advisory,
    Tone::Taken,
    Tone::NotTaken,
    Tone::Count,
    Tone::Zero,
    Tone::HoldOne,
    Tone::HoldTwo,
    Tone::HoldThree,
    Tone::Go,
    Tone::Late,
    Tone::NumberGone,
];

fn is_spoken(tone: Tone) -> bool {
    rank(tone) == 0
}

fn at(ms: i64) -> Instant {
    Instant::BOOT.plus(Span::from_millis(ms))
}

/// Every change of the sound while the cues come, asked for only when `next_wake` says so.
fn heard(cues: &[(i64, Tone)]) -> Vec<(i64, bool)> {
    let mut sounder = Sounder::new();
    let mut changes = Vec::new();
    let mut now = Instant::BOOT;
    let mut cues = cues.iter().peekable();
    loop {
        while let Some((_, tone)) = cues.next_if(|(ms, _)| at(*ms) <= now) {
            sounder.hear(now, &Output::Cue(*tone));
        }
        let sounds = sounder.sound(now).is_some();
        if changes.last().map_or(sounds, |(_, last)| *last != sounds) {
            changes.push((now.as_micros() as i64 / 1_000, sounds));
        }
        let next = cues.peek().map(|(ms, _)| at(*ms)).into_iter().chain(sounder.next_wake(now)).min();
        let Some(next) = next else { return changes };
        assert!(next > now, "a wake that is not later would spin");
        now = next;
    }
}

/// The moments when a note begins.
fn beginnings(cues: &[(i64, Tone)]) -> Vec<i64> {
    heard(cues).into_iter().filter(|(_, sounds)| *sounds).map(|(ms, _)| ms).collect()
}

#[test]
fn zero_sounds_for_one_second() {
    assert_eq!(heard(&[(500, Tone::Zero)]), [(500, true), (1_500, false)]);
}

#[test]
fn a_warning_is_three_notes_and_two_twice() {
    // Medical alarm practice: high priority is 3 + 2 notes, repeated once.
    let notes = beginnings(&[(0, Tone::Warning)]);
    assert_eq!(notes.len(), 10);
    let gaps: Vec<i64> = notes.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let long = |place: usize| gaps[place] > 300;
    assert!((0..9).all(|place| long(place) == [2, 4, 7].contains(&place)), "{gaps:?}");
}

#[test]
fn zero_interrupts_a_warning_at_once_and_the_warning_begins_again_after_it() {
    let notes = heard(&[(0, Tone::Warning), (50, Tone::Zero)]);
    // The warning's first note runs into zero, which ends at 1,050; after a pause the warning's ten notes
    // follow.
    assert_eq!(notes[..3], [(0, true), (1_050, false), (1_350, true)]);
    assert_eq!(beginnings(&[(0, Tone::Warning), (50, Tone::Zero)]).len(), 1 + 10);
}

#[test]
fn a_warning_interrupts_zero() {
    let notes = heard(&[(0, Tone::Zero), (400, Tone::Warning)]);
    assert_eq!(notes[..3], [(0, true), (520, false), (620, true)]);
}

#[test]
fn a_count_is_never_late_and_left_out_while_something_more_urgent_sounds() {
    for tone in [Tone::Warning, Tone::Caution, Tone::Taken, Tone::NotTaken] {
        assert_eq!(heard(&[(0, tone), (10, Tone::Count)]), heard(&[(0, tone)]), "{tone:?}");
    }
    assert_eq!(beginnings(&[(0, Tone::Count), (1_000, Tone::Count)]), [0, 1_000]);
    // An advisory's second note would begin at 500; the count cuts the advisory off.
    assert_eq!(heard(&[(0, Tone::Advisory), (300, Tone::Count)])[2..], [(300, true), (360, false)]);
}

#[test]
fn a_caution_that_comes_with_zero_is_heard_after_it() {
    assert_eq!(beginnings(&[(0, Tone::Zero), (1, Tone::Caution)]), [0, 1_300, 1_700, 2_100]);
    assert_eq!(beginnings(&[(0, Tone::Caution), (1, Tone::Zero)]), [0, 1_301, 1_701, 2_101]);
}

#[test]
fn of_a_warning_and_a_caution_behind_zero_the_warning_is_heard() {
    let cues = [(0, Tone::Warning), (1, Tone::Zero), (2, Tone::Caution)];
    assert_eq!(heard(&cues), heard(&cues[..2]));
}

#[test]
fn acknowledging_silences_the_tone_of_its_level_and_no_other() {
    let acknowledged = |level| {
        let mut sounder = Sounder::new();
        sounder.hear(at(0), &Output::Cue(Tone::Warning));
        let id = AlertId::EgtLimit;
        sounder.hear(at(60), &Output::Alert { id, level, state: AlertState::Acknowledged });
        sounder.sound(at(60)).is_some()
    };
    assert!(!acknowledged(Level::Warning));
    assert!(acknowledged(Level::Caution));
}

#[test]
fn an_acknowledged_warning_does_not_come_back_after_zero() {
    let mut sounder = Sounder::new();
    sounder.hear(at(0), &Output::Cue(Tone::Warning));
    sounder.hear(at(10), &Output::Cue(Tone::Zero));
    let (id, state) = (AlertId::EgtLimit, AlertState::Acknowledged);
    sounder.hear(at(20), &Output::Alert { id, level: Level::Warning, state });
    assert!(sounder.sound(at(1_000)).is_some(), "zero goes on");
    assert_eq!(sounder.next_wake(at(1_000)), Some(at(1_010)));
    assert_eq!(sounder.next_wake(at(1_010)), None);
}

#[test]
fn the_pitch_is_the_cues() {
    let mut sounder = Sounder::new();
    sounder.hear(at(0), &Output::Cue(Tone::Taken));
    assert_eq!(sounder.sound(at(10)), Some(Pitch::Low));
    assert_eq!(sounder.sound(at(170)), Some(Pitch::High));
}

fn any_cues() -> impl Strategy<Value = Vec<(i64, Tone)>> {
    let cue = (0_i64..6_000, proptest::sample::select(&TONES[..]));
    proptest::collection::vec(cue, 0..12).prop_map(|mut cues| {
        cues.sort_by_key(|(ms, _)| *ms);
        cues
    })
}

proptest! {
    #[test]
    fn zero_always_sounds_at_its_own_moment(cues in any_cues(), ms in 0_i64..6_000) {
        let mut sounder = Sounder::new();
        for (ms, tone) in cues.iter().filter(|(cue, _)| *cue <= ms) {
            sounder.hear(at(*ms), &Output::Cue(*tone));
        }
        sounder.hear(at(ms), &Output::Cue(Tone::Zero));
        prop_assert!(sounder.sound(at(ms)).is_some());
        prop_assert!(sounder.sound(at(ms + 999)).is_some());
    }

    #[test]
    fn a_warning_is_heard_to_its_end_whatever_else_comes(cues in any_cues()) {
        let warned = cues.iter().rfind(|(_, tone)| *tone == Tone::Warning).map(|(ms, _)| *ms);
        let mut sounder = Sounder::new();
        let mut ended = false;
        for ms in 0..20_000 {
            for (_, tone) in cues.iter().filter(|(cue, _)| *cue == ms) {
                sounder.hear(at(ms), &Output::Cue(*tone));
            }
            let playing = sounder.settled(at(ms)).playing;
            let last = playing.filter(|playing| playing.end() == at(ms + 1)).map(|playing| playing.tone);
            ended |= last == Some(Tone::Warning) && warned.is_some_and(|warned| ms >= warned);
        }
        prop_assert_eq!(ended, warned.is_some());
    }

    #[test]
    fn what_is_spoken_never_delays_or_hides_another_tone(cues in any_cues()) {
        let (mut with, mut without) = (Sounder::new(), Sounder::new());
        for ms in 0..20_000 {
            for (_, tone) in cues.iter().filter(|(cue, _)| *cue == ms) {
                with.hear(at(ms), &Output::Cue(*tone));
                if !is_spoken(*tone) {
                    without.hear(at(ms), &Output::Cue(*tone));
                }
            }
            let other = without.settled(at(ms)).playing;
            if other.is_some() {
                prop_assert_eq!(with.sound(at(ms)), without.sound(at(ms)));
                prop_assert_eq!(with.next_wake(at(ms)), without.next_wake(at(ms)));
            }
        }
    }

    #[test]
    fn the_beeper_is_silent_in_the_end(cues in any_cues()) {
        if let Some((_, sounds)) = heard(&cues).last() {
            prop_assert!(!sounds);
        }
    }
}
