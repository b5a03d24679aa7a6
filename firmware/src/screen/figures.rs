//! Numbers as short words: every figure on the screen, its rounding and its longest form.
//!
//! What does not fit its form is not shortened into a wrong number: it reads `--` or `>`.

use core::fmt::{Arguments, Write};

use heapless::String;

use super::Units;
use crate::output::Reading;
use crate::units::{CentiPercent, MilliCelsius, MmPerSecond, Span, mul_div};

/// A short text. The longest line that fits 128 pixels has 25 letters; two bytes for each plus-minus sign.
pub(super) type Words = String<28>;

/// What stands where there is no number.
pub(super) const ABSENT: &str = "---";

/// Formats; what finds no room is left out.
pub(super) fn words(parts: Arguments) -> Words {
    let mut words = Words::new();
    let _ = words.write_fmt(parts);
    words
}

/// A margin with its sign, to the nearest hundredth: `-0.13`, from 100 s on `+1:40`. Before zero it is never
/// shown as nothing: a microsecond early is `-0.01`.
pub(super) fn margin(span: Span) -> Words {
    let sign = if span.as_micros() < 0 { '-' } else { '+' };
    let size = match nearest_hundredths(span) {
        0 if span.as_micros() < 0 => 1,
        size => size,
    };
    match (size / 100, size % 100) {
        (seconds @ ..100, part) => words(format_args!("{sign}{seconds}.{part:02}")),
        (seconds @ ..6_000, _) => words(format_args!("{sign}{}:{:02}", seconds / 60, seconds % 60)),
        _ => words(format_args!("{sign}{ABSENT}")),
    }
}

/// One standard deviation, to the nearest hundredth: `±0.06`, from 10 s on `±>9.9`. Unless it is nothing, it
/// is never shown as nothing.
pub(super) fn plus_minus(sigma: Span) -> Words {
    let size = match nearest_hundredths(sigma) {
        0 if sigma != Span::ZERO => 1,
        size => size,
    };
    match size {
        ..1_000 => words(format_args!("±{}.{:02}", size / 100, size % 100)),
        _ => words(format_args!("±>9.9")),
    }
}

fn nearest_hundredths(span: Span) -> u64 {
    mul_div(span.as_micros(), 1, 10_000).unsigned_abs()
}

/// A lap time, to the nearest hundredth: `0:52.58`.
pub(super) fn lap_time(span: Span) -> Words {
    match mul_div(span.as_micros(), 1, 10_000) {
        hundredths @ 0..600_000 => {
            let (minutes, rest) = (hundredths / 6_000, hundredths % 6_000);
            words(format_args!("{minutes}:{:02}.{:02}", rest / 100, rest % 100))
        }
        _ => words(format_args!("-:--.--")),
    }
}

/// Laps run and laps to run: `1/3`.
pub(super) fn laps(done: u16, owed: u16) -> Words {
    let one = |laps: u16| match laps {
        ..100 => words(format_args!("{laps}")),
        _ => words(format_args!("--")),
    };
    words(format_args!("{}/{}", one(done), one(owed)))
}

/// A speed to the nearest whole unit: `142`.
pub(super) fn speed_whole(speed: MmPerSecond, units: Units) -> Words {
    match per_hour(speed, units, 1) {
        whole @ 0..1_000 => words(format_args!("{whole}")),
        _ => words(format_args!("{ABSENT}")),
    }
}

/// A speed to the nearest tenth: `171.2`.
pub(super) fn speed_tenths(speed: MmPerSecond, units: Units) -> Words {
    match per_hour(speed, units, 10) {
        tenths @ 0..10_000 => words(format_args!("{}.{}", tenths / 10, tenths % 10)),
        _ => words(format_args!("{ABSENT}")),
    }
}

/// The name of the unit.
pub(super) const fn speed_unit(units: Units) -> &'static str {
    match units {
        Units::Mph => "MPH",
        Units::KmPerHour => "KM/H",
    }
}

/// `parts` of a unit. A statute mile is 1,609.344 m (the international mile), so 1 mph is 447.04 mm/s.
fn per_hour(speed: MmPerSecond, units: Units, parts: i64) -> i64 {
    let per_hour = i64::from(speed.as_mm_s()) * 3_600 * parts;
    match units {
        Units::Mph => mul_div(per_hour, 1, 1_609_344),
        Units::KmPerHour => mul_div(per_hour, 1, 1_000_000),
    }
}

/// A temperature to the nearest degree Celsius, or why there is none.
pub(super) fn temperature(reading: Reading<MilliCelsius>) -> Words {
    gauge(reading, |value| match mul_div(i64::from(value.as_milli()), 1, 1_000) {
        degrees @ -999..10_000 => words(format_args!("{degrees}")),
        _ => words(format_args!("{ABSENT}")),
    })
}

/// A shaft speed to the nearest tenth of a percent, or why there is none.
pub(super) fn percent(reading: Reading<CentiPercent>) -> Words {
    gauge(reading, |value| match mul_div(i64::from(value.as_centi()), 1, 10) {
        tenths @ 0..10_000 => words(format_args!("{}.{}", tenths / 10, tenths % 10)),
        _ => words(format_args!("{ABSENT}")),
    })
}

fn gauge<T>(reading: Reading<T>, good: impl Fn(T) -> Words) -> Words {
    match reading {
        Reading::Absent => words(format_args!("{ABSENT}")),
        Reading::Fault => words(format_args!("FAULT")),
        Reading::Good(value) => good(value),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn lap_speed(course_mm: i64, time_ms: i64) -> MmPerSecond {
        MmPerSecond::from_mm_s(i32::try_from(mul_div(course_mm, 1_000, time_ms)).unwrap())
    }

    #[test]
    fn speeds_are_those_of_published_laps() {
        // Record laps on a course of 2.5 miles (newspaper report, September 1995): 171.155, 170.087 mph.
        assert_eq!(speed_tenths(lap_speed(4_023_360, 52_584), Units::Mph), "171.2");
        assert_eq!(speed_tenths(lap_speed(4_023_360, 52_914), Units::Mph), "170.1");
        // Spectators' table for a course of 3 miles, 1968: 90 s is 120.0 mph, 86 s 125.6, 97 s 111.3.
        assert_eq!(speed_tenths(lap_speed(4_828_032, 90_000), Units::Mph), "120.0");
        assert_eq!(speed_tenths(lap_speed(4_828_032, 86_000), Units::Mph), "125.6");
        assert_eq!(speed_tenths(lap_speed(4_828_032, 97_000), Units::Mph), "111.3");
    }

    #[test]
    fn kilometres_per_hour_are_3_6_times_metres_per_second() {
        assert_eq!(speed_tenths(MmPerSecond::from_mm_s(50_000), Units::KmPerHour), "180.0");
        assert_eq!(speed_whole(MmPerSecond::from_mm_s(63_480), Units::KmPerHour), "229");
        assert_eq!(speed_whole(MmPerSecond::from_mm_s(63_480), Units::Mph), "142");
    }

    #[test]
    fn a_margin_is_the_nearest_hundredth_and_early_is_never_zero() {
        for (us, shown) in [
            (-1, "-0.01"),
            (0, "+0.00"),
            (4_999, "+0.00"),
            (5_000, "+0.01"),
            (-132_000, "-0.13"),
            (214_000, "+0.21"),
            (99_994_999, "+99.99"),
            (100_000_000, "+1:40"),
            (-100_000_000, "-1:40"),
            (i64::MAX, "+---"),
            (i64::MIN, "----"),
        ] {
            assert_eq!(margin(Span::from_micros(us)), shown, "{us}");
        }
    }

    #[test]
    fn a_deviation_is_the_nearest_hundredth_and_never_zero_unless_it_is() {
        for (us, shown) in [
            (0, "±0.00"),
            (1, "±0.01"),
            (21_000, "±0.02"),
            (-21_000, "±0.02"),
            (9_994_999, "±9.99"),
            (9_995_000, "±>9.9"),
            (i64::MIN, "±>9.9"),
        ] {
            assert_eq!(plus_minus(Span::from_micros(us)), shown, "{us}");
        }
    }

    #[test]
    fn a_lap_time_is_the_nearest_hundredth() {
        assert_eq!(lap_time(Span::from_millis(52_584)), "0:52.58");
        assert_eq!(lap_time(Span::from_millis(59_996)), "1:00.00");
        assert_eq!(lap_time(Span::from_millis(-10)), "-:--.--");
        assert_eq!(lap_time(Span::from_secs(6_000)), "-:--.--");
    }

    #[test]
    fn what_is_no_number_is_never_shown_as_one() {
        assert_eq!(laps(2, 100), "2/--");
        assert_eq!(temperature(Reading::Fault), "FAULT");
        assert_eq!(temperature(Reading::Absent), ABSENT);
        assert_eq!(temperature(Reading::Good(MilliCelsius::from_milli(715_500))), "716");
        assert_eq!(temperature(Reading::Good(MilliCelsius::from_milli(i32::MAX))), ABSENT);
        assert_eq!(percent(Reading::Good(CentiPercent::from_centi(10_004))), "100.0");
        assert_eq!(percent(Reading::Good(CentiPercent::from_centi(-6))), ABSENT);
    }

    #[test]
    fn a_full_text_leaves_out_what_finds_no_room() {
        let digits = "0123456789012345678901234567";
        assert_eq!(words(format_args!("{}", &digits[..27])).len(), 27);
        assert_eq!(words(format_args!("{digits}")).len(), 28);
        assert_eq!(words(format_args!("{digits}{}", '8')), digits);
    }

    proptest! {
        #[test]
        fn no_figure_is_longer_than_its_place(us: i64, number: i32, done: u16, owed: u16) {
            let letters = |words: Words| words.chars().count();
            let (span, speed) = (Span::from_micros(us), MmPerSecond::from_mm_s(number));
            prop_assert!(letters(margin(span)) <= 6);
            prop_assert!(letters(plus_minus(span)) <= 5);
            prop_assert!(letters(lap_time(span)) <= 8);
            prop_assert!(letters(laps(done, owed)) <= 5);
            prop_assert!(letters(speed_whole(speed, Units::KmPerHour)) <= 3);
            prop_assert!(letters(speed_tenths(speed, Units::KmPerHour)) <= 5);
            prop_assert!(letters(temperature(Reading::Good(MilliCelsius::from_milli(number)))) <= 5);
            prop_assert!(letters(percent(Reading::Good(CentiPercent::from_centi(number)))) <= 5);
        }
    }
}
