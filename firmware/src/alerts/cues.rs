//! What alerts sound and look like: rhythms for the beeper, rates for the light.
//!
//! In an open cockpit the beeper may not be heard (common practice, no source), so light comes first; where it
//! is heard, rhythm tells the tones apart, never pitch alone. More notes are more urgent, as in medical alarm
//! practice: high priority is three and two notes, played twice; medium is three.
//!
//! This file knows the outputs' words and the units.

use crate::output::{Level, Tone};
use crate::units::Span;

/// One note and the silence after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Beep {
    /// Sounding.
    pub on: Span,
    /// Silent.
    pub off: Span,
    /// How high.
    pub pitch: Pitch,
}

/// Two pitches, an octave apart, both inside the 150 to 1,000 Hz of medical alarms (from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Pitch {
    /// 466 Hz.
    Low,
    /// 932 Hz (a patient monitor's alarm, from its manual).
    High,
}

impl Pitch {
    /// The frequency in hertz.
    #[must_use]
    pub const fn hertz(self) -> u16 {
        match self {
            Self::Low => 466,
            Self::High => 932,
        }
    }
}

/// The notes of a tone, first to last.
#[must_use]
pub const fn beeps(tone: Tone) -> &'static [Beep] {
    match tone {
        Tone::Warning => &WARNING,
        Tone::Caution => &CAUTION,
        Tone::Advisory => &ADVISORY,
        Tone::Taken => &TAKEN,
        Tone::NotTaken => &NOT_TAKEN,
        Tone::Count => &COUNT,
        Tone::Zero => &ZERO,
        Tone::HoldOne => &HOLD_ONE,
        Tone::HoldTwo => &HOLD_TWO,
        Tone::HoldThree => &HOLD_THREE,
        Tone::Go => &GO,
        Tone::Late => &LATE,
        Tone::NumberGone => &NUMBER_GONE,
    }
}

/// Three notes and two, twice; a note of 120 ms (a patient monitor's alarm, from its manual).
const WARNING: [Beep; 10] = {
    let note = beep(120, 100, Pitch::High);
    let third = beep(120, 300, Pitch::High);
    let last = beep(120, 600, Pitch::High);
    [note, note, third, note, last, note, note, third, note, last]
};
const CAUTION: [Beep; 3] = [beep(200, 200, Pitch::High); 3];
const ADVISORY: [Beep; 2] = [beep(250, 250, Pitch::High), beep(250, 250, Pitch::Low)];
const TAKEN: [Beep; 2] = [beep(80, 80, Pitch::Low), beep(80, 80, Pitch::High)];
const NOT_TAKEN: [Beep; 4] = [beep(60, 60, Pitch::Low); 4];
const COUNT: [Beep; 1] = [beep(60, 0, Pitch::High)];
const ZERO: [Beep; 1] = [beep(1_000, 0, Pitch::High)];

/// The run-in's two notes, one three times as long as the other as a dash is to a dot (ITU-R M.1677-1, International
/// Morse code; from memory). A long one first holds him back, a short one first sends him off.
const SHORT: Beep = beep(80, 60, Pitch::Low);
const LONG: Beep = beep(240, 60, Pitch::Low);
const HOLD_ONE: [Beep; 2] = [LONG, SHORT];
const HOLD_TWO: [Beep; 3] = [LONG, SHORT, SHORT];
const HOLD_THREE: [Beep; 4] = [LONG, SHORT, SHORT, SHORT];
const GO: [Beep; 2] = [SHORT, LONG];
const LATE: [Beep; 3] = [SHORT, LONG, LONG];
const NUMBER_GONE: [Beep; 3] = [LONG, SHORT, LONG];

/// From the first note's beginning to the last one's end.
#[must_use]
pub fn sounding(tone: Tone) -> Span {
    let notes = beeps(tone);
    let pause = notes.last().map_or(Span::ZERO, |last| last.off);
    notes.iter().fold(Span::ZERO, |sum, beep| sum + beep.on + beep.off) - pause
}

/// One whole flash of the alert light, on and off alike; `None` is steady.
///
/// Two rates and no more: 4 a second for a warning not yet acknowledged, 2 a second for such a caution
/// (MIL-STD-1472E, 5.15.3.3: one rate of 3 to 5 a second, a second one of at most 2).
#[must_use]
pub const fn flash(level: Level, acknowledged: bool) -> Option<Span> {
    match (level, acknowledged) {
        (Level::Warning, false) => Some(Span::from_millis(250)),
        (Level::Caution, false) => Some(Span::from_millis(500)),
        (Level::Advisory, _) | (_, true) => None,
    }
}

/// The tone with which an alert of this level begins.
#[must_use]
pub const fn tone(level: Level) -> Tone {
    match level {
        Level::Warning => Tone::Warning,
        Level::Caution => Tone::Caution,
        Level::Advisory => Tone::Advisory,
    }
}

const fn beep(on_ms: i64, off_ms: i64, pitch: Pitch) -> Beep {
    Beep { on: Span::from_millis(on_ms), off: Span::from_millis(off_ms), pitch }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    /// Every tone there is: whatever the journal's encoding knows (a variant is stored as its position, one byte).
    fn tones() -> Vec<Tone> {
        (0..=u8::MAX).map_while(|position| postcard::from_bytes(&[position]).ok()).collect()
    }

    const SPOKEN: [Tone; 6] =
        [Tone::HoldOne, Tone::HoldTwo, Tone::HoldThree, Tone::Go, Tone::Late, Tone::NumberGone];

    fn length(tone: Tone) -> Span {
        beeps(tone).iter().fold(Span::ZERO, |sum, beep| sum + beep.on + beep.off)
    }

    #[test]
    fn every_tone_has_its_own_rhythm_whatever_the_pitch() {
        // Told apart by the number of notes, or by a note at least twice as long as its fellow.
        let twice = |(one, other): (&Beep, &Beep)| {
            one.on.max(other.on).as_micros() >= 2 * one.on.min(other.on).as_micros()
        };
        let tones = tones();
        for (place, &one) in tones.iter().enumerate() {
            for &other in &tones[..place] {
                let (one, other) = (beeps(one), beeps(other));
                assert!(one.len() != other.len() || one.iter().zip(other).any(twice), "{one:?} {other:?}");
            }
        }
    }

    /// Noise swallows a short note first.
    #[test]
    fn what_is_spoken_is_no_warning_caution_count_or_zero_even_with_a_short_note_lost() {
        let lengths = |tone: Tone| beeps(tone).iter().map(|beep| beep.on).collect::<Vec<_>>();
        let alike = |heard: &[Span], known: &[Span]| {
            let near = |(a, b): (&Span, &Span)| a.max(b).as_micros() * 2 < a.min(b).as_micros() * 3;
            heard.len() == known.len() && heard.iter().zip(known).all(near)
        };
        for spoken in SPOKEN {
            let notes = lengths(spoken);
            assert!((2..=4).contains(&notes.len()));
            assert!(notes.contains(&LONG.on), "each has a long note, as no count has");
            for known in [Tone::Warning, Tone::Caution, Tone::Count, Tone::Zero] {
                let known = lengths(known);
                assert!(!alike(&notes, &known), "{spoken:?}");
                for lost in (0..notes.len()).filter(|place| notes[*place] == SHORT.on) {
                    let mut heard = notes.clone();
                    heard.remove(lost);
                    assert!(!alike(&heard, &known), "{spoken:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_spoken_fits_between_two_counts() {
        for spoken in SPOKEN {
            assert!(sounding(spoken) + sounding(Tone::Count) <= Span::from_millis(750), "{spoken:?}");
        }
        // Morse: a dash is three dots (ITU-R M.1677-1).
        assert_eq!(LONG.on, SHORT.on + SHORT.on + SHORT.on);
    }

    #[test]
    fn a_count_is_over_before_the_next_second_and_a_warning_is_the_longest() {
        assert!(length(Tone::Count) < Span::from_secs(1));
        assert!(tones().iter().all(|&tone| length(tone) <= length(Tone::Warning)));
    }

    #[test]
    fn a_warning_is_ten_notes_and_a_caution_three() {
        // Medical alarm practice: high priority 3 + 2 notes, repeated once; medium 3 notes.
        assert_eq!(beeps(Tone::Warning).len(), 10);
        assert_eq!(beeps(Tone::Caution).len(), 3);
    }

    #[test]
    fn the_light_knows_two_rates_and_no_more() {
        // MIL-STD-1472E, 5.15.3.3: one rate of 3 to 5 a second, a second one of at most 2 a second.
        let second = Span::from_secs(1).as_micros();
        let rate = |level| flash(level, false).map(|whole| second / whole.as_micros());
        assert!((3..=5).contains(&rate(Level::Warning).unwrap()));
        assert!(rate(Level::Caution).unwrap() <= 2);
        assert_eq!(rate(Level::Advisory), None);
        assert!([Level::Warning, Level::Caution, Level::Advisory].iter().all(|&l| flash(l, true).is_none()));
    }
}
