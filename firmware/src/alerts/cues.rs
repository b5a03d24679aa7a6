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

    const TONES: [Tone; 7] =
        [Tone::Warning, Tone::Caution, Tone::Advisory, Tone::Taken, Tone::NotTaken, Tone::Count, Tone::Zero];

    fn length(tone: Tone) -> Span {
        beeps(tone).iter().fold(Span::ZERO, |sum, beep| sum + beep.on + beep.off)
    }

    #[test]
    fn every_tone_has_its_own_rhythm_whatever_the_pitch() {
        // Told apart by the number of notes, or by notes at least twice as long.
        for (place, &one) in TONES.iter().enumerate() {
            for &other in &TONES[..place] {
                let (one, other) = (beeps(one), beeps(other));
                let longer = one[0].on.max(other[0].on).as_micros();
                let shorter = one[0].on.min(other[0].on).as_micros();
                assert!(one.len() != other.len() || longer >= 2 * shorter, "{one:?} {other:?}");
            }
        }
    }

    #[test]
    fn a_count_is_over_before_the_next_second_and_a_warning_is_the_longest() {
        assert!(length(Tone::Count) < Span::from_secs(1));
        assert!(TONES.iter().all(|&tone| length(tone) <= length(Tone::Warning)));
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
