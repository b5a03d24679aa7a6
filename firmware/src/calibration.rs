//! What the owner has measured against something he trusts, and on which day (rules K).
//!
//! A thermocouple is read in melting ice and in boiling water; two points make a straight line, and the line is undone
//! before anything is decided. The other four calibrations end in settings of other rooms (the pickups' scale, the
//! antenna's place, the thumb, the crystal); here stands the day on which each was made, so that a record tells an
//! official how old it is.
//!
//! Knows the units. Plain data, and one correction.

use serde::{Deserialize, Serialize};

use crate::engine::PROBES_MAX;
use crate::units::{MilliCelsius, mul_div};

/// The furthest that a probe may read from the truth in ice or boiling water: more is a broken probe or no ice. Five
/// times what class 2 of type K is allowed below 333 degrees (IEC 60584-1, from memory).
pub const FURTHEST_OFF: MilliCelsius = MilliCelsius::from_milli(12_500);

/// Where water boils where people race: from 7,000 m up to well below the sea (IAPWS-IF97, region 4: 43 to 120 kPa).
pub const BOILS: (MilliCelsius, MilliCelsius) =
    (MilliCelsius::from_milli(77_000), MilliCelsius::from_milli(105_000));

/// A line may be steeper or flatter by one part in so many: 5 %, 40 degrees at 800. No wire is off by more; a connector or
/// a wrong extension wire is, and its line would hide an engine too hot (common practice, no source).
pub const STEEPEST: i64 = 20;

/// A day: days since 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Date(pub u16);

/// What a thermocouple showed in ice and in boiling water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TwoPoint {
    /// What it showed in melting ice, which is at 0 degrees.
    pub ice: MilliCelsius,
    /// What it showed in boiling water.
    pub boiling: MilliCelsius,
    /// Where water boiled that day.
    pub boils_at: MilliCelsius,
    /// The day.
    pub made: Date,
}

impl TwoPoint {
    /// The true temperature where the probe shows `shown` (rule K1): the straight line through both points,
    /// `(shown - ice) * boils_at / (boiling - ice)`, rounded to 0.001 degrees.
    #[must_use]
    pub fn corrected(&self, shown: MilliCelsius) -> MilliCelsius {
        let above_ice = i64::from(shown.as_milli()).saturating_sub(i64::from(self.ice.as_milli()));
        let between = i64::from(self.boiling.as_milli()).saturating_sub(i64::from(self.ice.as_milli()));
        let milli = mul_div(above_ice, i64::from(self.boils_at.as_milli()), between);
        MilliCelsius::from_milli(i32::try_from(milli).unwrap_or(if milli < 0 { i32::MIN } else { i32::MAX }))
    }

    /// True when both points are near enough to the truth for a probe that works, and the line through them is one that a
    /// wire draws (rule K1).
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let near = |shown: MilliCelsius, truth: MilliCelsius| {
            let off = i64::from(shown.as_milli()).saturating_sub(i64::from(truth.as_milli()));
            off.unsigned_abs() <= u64::from(FURTHEST_OFF.as_milli().unsigned_abs())
        };
        let (least, most) = BOILS;
        (least..=most).contains(&self.boils_at)
            && near(self.ice, MilliCelsius::from_milli(0))
            && near(self.boiling, self.boils_at)
            && self.is_straight_enough()
    }

    /// True when the line's slope, `boils_at / (boiling - ice)`, is off by no more than one part in [`STEEPEST`].
    fn is_straight_enough(&self) -> bool {
        let between = i64::from(self.boiling.as_milli()).saturating_sub(i64::from(self.ice.as_milli()));
        let off = i64::from(self.boils_at.as_milli()).saturating_sub(between);
        between > 0 && off.saturating_abs().saturating_mul(STEEPEST) <= between
    }
}

/// Each thermocouple's two points; `None` where they were never measured.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Probes(pub [Option<TwoPoint>; PROBES_MAX]);

/// On which day each of the others was made; `None` where it never was.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Calibrations {
    /// When the pickups' scale was held against a known frequency.
    pub tach: Option<Date>,
    /// When the antenna's place was measured.
    pub antenna: Option<Date>,
    /// When the thumb was measured.
    pub thumb: Option<Date>,
    /// When the crystal was measured.
    pub crystal: Option<Date>,
}

impl Probes {
    /// True when every probe's figures could be a working probe's.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.0.iter().flatten().all(TwoPoint::is_sound)
    }

    /// What probe `index` means where it shows `shown`.
    #[must_use]
    pub fn corrected(&self, index: usize, shown: MilliCelsius) -> MilliCelsius {
        match self.0.get(index) {
            Some(Some(points)) => points.corrected(shown),
            _ => shown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const fn celsius(milli: i32) -> MilliCelsius {
        MilliCelsius::from_milli(milli)
    }

    const fn points(ice: i32, boiling: i32, boils_at: i32) -> TwoPoint {
        let (ice, boiling, boils_at) = (celsius(ice), celsius(boiling), celsius(boils_at));
        TwoPoint { ice, boiling, boils_at, made: Date(0) }
    }

    /// A line through two points, worked out by hand: 1.0 in ice and 98.0 in water that boils at 99.0; half-way
    /// between them, at 49.5, is 49.5; 800 is (800 - 1) * 99 / 97 = 815.474.
    #[test]
    fn a_probe_is_corrected_along_the_line_through_both_points() {
        let probe = points(1_000, 98_000, 99_000);
        assert_eq!(probe.corrected(celsius(1_000)), celsius(0));
        assert_eq!(probe.corrected(celsius(98_000)), celsius(99_000));
        assert_eq!(probe.corrected(celsius(49_500)), celsius(49_500));
        assert_eq!(probe.corrected(celsius(800_000)), celsius(815_474));
    }

    #[test]
    fn a_probe_that_was_never_calibrated_means_what_it_shows() {
        let none = Probes::default();
        assert_eq!(none.corrected(0, celsius(751_250)), celsius(751_250));
        assert_eq!(none.corrected(99, celsius(751_250)), celsius(751_250));
    }

    #[test]
    fn what_no_working_probe_shows_is_refused() {
        assert!(points(800, 98_600, 99_100).is_sound());
        assert!(!points(13_000, 98_600, 99_100).is_sound(), "that is not ice");
        assert!(!points(800, 60_000, 99_100).is_sound(), "that does not boil");
        assert!(!points(800, 60_000, 60_000).is_sound(), "nobody races that high");
    }

    /// By hand, water at 99.974: shown as 106.0 the slope is 0.943, shown as 105.0 it is 0.952, shown as 95.0 it is 1.052
    /// and as 95.5 1.047. The limit is 5 % (common practice, no source).
    #[test]
    fn a_line_that_no_wire_draws_is_refused() {
        assert!(!points(0, 106_000, 99_974).is_sound());
        assert!(points(0, 105_000, 99_974).is_sound());
        assert!(!points(0, 95_000, 99_974).is_sound());
        assert!(points(0, 95_500, 99_974).is_sound());
    }

    proptest! {
        #[test]
        fn a_hotter_junction_never_reads_colder_after_correction(
            ice in -8_500..8_500_i32, tilt in -3_600..3_600_i32, boils in 77_000..105_000_i32,
            low in -200_000..1_372_000_i32, step in 0..100_000_i32,
        ) {
            let probe = points(ice, boils + ice + tilt, boils);
            prop_assert!(probe.is_sound());
            prop_assert!(probe.corrected(celsius(low)) <= probe.corrected(celsius(low + step)));
        }

        #[test]
        fn no_figures_whatever_make_a_panic(ice: i32, boiling: i32, boils: i32, shown: i32) {
            let probe = points(ice, boiling, boils);
            let _ = (probe.is_sound(), probe.corrected(celsius(shown)));
        }
    }
}
