//! The guns: when each really fires, when its sound reaches the boat, and when its contact closes.
//!
//! Settings and faults go in, a short list of shots comes out.
//!
//! This room knows the maths and the faults.

use firmware::units::Span;
use serde::Deserialize;

use super::faults::{FaultKind, Faults};
use super::maths::{seconds, span};

/// The guns' figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct GunSettings {
    /// When they are due: seconds before zero.
    pub signals_s: Vec<f64>,
    /// By how much each really fires late, in the order of `signals_s`; guns without a figure are on time.
    pub late_s: Vec<f64>,
    /// From the guns to the boat.
    pub distance_m: f64,
    /// Temperature of the air between.
    pub air_c: f64,
    /// Whether a contact, by wire or radio, tells the board of each gun.
    pub contact: bool,
    /// How much later than the gun it closes.
    pub cable_delay_ms: f64,
    /// How long it stays closed.
    pub contact_closed_ms: f64,
}

impl Default for GunSettings {
    fn default() -> Self {
        Self {
            signals_s: vec![300.0, 60.0, 0.0],
            late_s: Vec::new(),
            distance_m: 300.0,
            air_c: 20.0,
            contact: false,
            cable_delay_ms: 2.0,
            contact_closed_ms: 200.0,
        }
    }
}

/// One gun fired.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shot {
    /// Seconds before zero at which it was due.
    pub due_before_s: f64,
    /// When it fired: smoke and flag are seen at once.
    pub fired: Span,
    /// When it is heard on the boat.
    pub heard: Span,
    /// When its contact closes and opens, where there is one.
    pub contact: Option<(Span, Span)>,
}

/// The guns that fire, in the order of the settings.
#[must_use]
pub fn shots(settings: &GunSettings, faults: &Faults) -> Vec<Shot> {
    let late = settings.late_s.iter().copied().chain(std::iter::repeat(0.0));
    let sound_s = sound_delay_s(settings.distance_m, settings.air_c);
    settings
        .signals_s
        .iter()
        .zip(late)
        .filter(|(due, _)| !faults.active(FaultKind::GunMissed, span(-**due)))
        .map(|(&due_before_s, late)| {
            let fired = span(late - due_before_s);
            let closes = fired + span(settings.cable_delay_ms * 1e-3);
            let contact =
                settings.contact.then(|| (closes, closes + span(settings.contact_closed_ms * 1e-3)));
            Shot { due_before_s, fired, heard: span(seconds(fired) + sound_s), contact }
        })
        .collect()
}

/// Speed of sound in dry air: 331.3 m/s times the square root of the absolute temperature over 273.15 K.
#[must_use]
pub fn speed_of_sound_m_s(air_c: f64) -> f64 {
    331.3 * (1.0 + air_c.max(-273.0) / 273.15).sqrt()
}

/// How long a sound takes.
#[must_use]
pub fn sound_delay_s(distance_m: f64, air_c: f64) -> f64 {
    distance_m / speed_of_sound_m_s(air_c)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of the formula for dry air as encyclopedias give it ("Speed of sound, practical formula for dry
    /// air"), to its last printed digit.
    #[test]
    fn sound_travels_at_its_tabled_speeds() {
        for (air_c, m_s) in
            [(-10.0, 325.179), (0.0, 331.300), (15.0, 340.275), (20.0, 343.215), (40.0, 354.729)]
        {
            assert!((speed_of_sound_m_s(air_c) - m_s).abs() < 6e-4, "{air_c}");
        }
    }

    /// Arithmetic: 800 m at 343.215 m/s take 2.331 s.
    #[test]
    fn a_gun_800_m_away_is_heard_more_than_two_seconds_late() {
        let settings = GunSettings { distance_m: 800.0, contact: true, ..GunSettings::default() };
        let all = shots(&settings, &Faults::default());
        assert_eq!(all.len(), 3);
        assert!((all[0].heard - all[0].fired - Span::from_micros(2_330_900)).abs() < Span::from_micros(100));
        assert_eq!(all[0].contact.unwrap().0, Span::from_micros(-299_998_000));
    }

    #[test]
    fn guns_can_be_late_and_can_fail() {
        let settings = GunSettings { late_s: vec![0.5], ..GunSettings::default() };
        let missed = super::super::faults::Fault {
            at: Span::from_secs(-61),
            kind: FaultKind::GunMissed,
            lasts: Span::from_secs(2),
        };
        let fired: Vec<_> = shots(&settings, &Faults::new(&[missed])).iter().map(|shot| shot.fired).collect();
        assert_eq!(fired, [Span::from_micros(-299_500_000), Span::ZERO]);
    }
}
