//! Civil dates and times of day become counts, and counts become RFC 3339 text.
//!
//! The calendar is the Gregorian one, carried back before its introduction. A leap second has no number of
//! its own: second 60 counts like the 00 that follows it, as in POSIX.1.
//!
//! Pure arithmetic on whole numbers; this file knows the units and the spelling of digits.

use core::fmt;

use super::digits::{NANO, two_and_fraction, whole};
use crate::units::{Span, Utc, mul_div};

const DAY_US: i64 = 86_400_000_000;
const HOUR_US: i64 = 3_600_000_000;
const MINUTE_US: i64 = 60_000_000;

/// Days from 0001-01-01 to 1970-01-01: 1969 years of 365 days and 477 leap days.
const DAYS_BEFORE_1970: i64 = 719_162;

/// A day of the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Day(i64);

impl Day {
    /// From year, month and day of the month; `None` if there is no such day.
    #[must_use]
    pub fn from_civil(year: u16, month: u8, day: u8) -> Option<Self> {
        let year = i64::from(year);
        let exists =
            year >= 1 && (1..=12).contains(&month) && day >= 1 && i64::from(day) <= days_in(year, month);
        let before_month: i64 = (1..month).map(|month| days_in(year, month)).sum();
        exists.then(|| Self(days_before(year) + before_month + i64::from(day) - 1 - DAYS_BEFORE_1970))
    }

    /// The moment at which this day's clocks show `time`.
    #[must_use]
    pub const fn at(self, time: TimeOfDay) -> Utc {
        Utc::from_unix_micros(self.0.saturating_mul(DAY_US).saturating_add(time.0))
    }
}

/// A time of day, in microseconds since midnight.
///
/// 23:59:60 is 24 hours: the same moment as the next day's 00:00:00.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeOfDay(i64);

impl TimeOfDay {
    /// From hours (0 to 23), minutes (0 to 59) and whole seconds (0 to 60); `None` if there is no such time.
    ///
    /// Second 60 is taken in any minute: besides leap seconds there are receivers that round 59.995 up to it.
    #[must_use]
    pub fn from_hms(hour: u8, minute: u8, second: u8) -> Option<Self> {
        let exists = hour < 24 && minute < 60 && second <= 60;
        let whole_minutes = i64::from(hour) * HOUR_US + i64::from(minute) * MINUTE_US;
        exists.then(|| Self(whole_minutes + i64::from(second) * 1_000_000))
    }

    /// The same with a fraction: seconds in units of 1e-9, rounded to the nearest microsecond.
    pub(super) fn from_hm_nanos(hour: u8, minute: u8, nanos: u64) -> Option<Self> {
        let second = u8::try_from(nanos / NANO).ok()?;
        let micros = i64::try_from((nanos % NANO + 500) / 1_000).ok()?;
        Some(Self(Self::from_hms(hour, minute, second)?.0 + micros))
    }

    /// How far two times of day are apart the short way round the clock: never negative, at most 12 hours.
    #[must_use]
    pub fn apart(self, other: Self) -> Span {
        let apart = (self.0 - other.0).rem_euclid(DAY_US);
        Span::from_micros(apart.min(DAY_US - apart))
    }

    /// The moment nearest to `reference` at which the clocks show this time.
    #[must_use]
    pub fn nearest(self, reference: Utc) -> Utc {
        let reference = reference.as_unix_micros();
        let ahead = (self.0.saturating_sub(reference)).rem_euclid(DAY_US);
        let shift = if ahead > DAY_US / 2 { ahead - DAY_US } else { ahead };
        Utc::from_unix_micros(reference.saturating_add(shift))
    }
}

/// Days from 0001-01-01 to the first of January of `year`.
const fn days_before(year: i64) -> i64 {
    let past = year - 1;
    past * 365 + past.div_euclid(4) - past.div_euclid(100) + past.div_euclid(400)
}

/// How long a month is; `month` counts from 1.
const fn days_in(year: i64, month: u8) -> i64 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Year, month and day of the month for a count of days since 1970-01-01.
fn civil(days: i64) -> (i64, u8, i64) {
    let days = days + DAYS_BEFORE_1970;
    // Four centuries have 146,097 days. A year guessed at their mean length is right or one too late.
    let guess = mul_div(days, 400, 146_097) + 1;
    let year = if days_before(guess) > days { guess - 1 } else { guess };
    let mut day = days - days_before(year);
    let mut month = 1;
    while month < 12 && day >= days_in(year, month) {
        day -= days_in(year, month);
        month += 1;
    }
    (year, month, day + 1)
}

/// A moment as RFC 3339 text in UTC: with milliseconds if they say it all, else with microseconds.
///
/// ```
/// use firmware::{gnss::calendar::rfc3339, units::Utc};
/// assert_eq!(rfc3339(Utc::from_unix_micros(1_500_000)).to_string(), "1970-01-01T00:00:01.500Z");
/// ```
#[must_use]
pub const fn rfc3339(utc: Utc) -> impl fmt::Display {
    Rfc3339(utc)
}

struct Rfc3339(Utc);

impl fmt::Display for Rfc3339 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let micros = self.0.as_unix_micros();
        let (year, month, day) = civil(micros.div_euclid(DAY_US));
        let time = micros.rem_euclid(DAY_US);
        let (hour, minute, second) = (time / HOUR_US, time / MINUTE_US % 60, time / 1_000_000 % 60);
        write!(f, "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.")?;
        match time % 1_000_000 {
            fraction if fraction % 1_000 == 0 => write!(f, "{:03}Z", fraction / 1_000),
            fraction => write!(f, "{fraction:06}Z"),
        }
    }
}

/// Reads what [`rfc3339`] writes, with any number of decimals; `None` for anything else.
///
/// Only UTC is read: the text ends in `Z`. A fraction is rounded to the nearest microsecond.
#[must_use]
pub fn from_rfc3339(text: &str) -> Option<Utc> {
    let (date, time) = text.strip_suffix('Z')?.split_once('T')?;
    let mut date = date.splitn(3, '-').map(str::as_bytes);
    let year = whole(date.next()?, 4)?;
    let day = Day::from_civil(year, two(date.next()?)?, two(date.next()?)?)?;
    let mut time = time.splitn(3, ':').map(str::as_bytes);
    let (hour, minute) = (two(time.next()?)?, two(time.next()?)?);
    Some(day.at(TimeOfDay::from_hm_nanos(hour, minute, two_and_fraction(time.next()?)?)?))
}

/// A field of two digits.
pub(super) fn two(field: &[u8]) -> Option<u8> {
    u8::try_from(whole(field, 2)?).ok()
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::string::ToString;

    use proptest::prelude::*;

    use super::*;

    fn unix_seconds(text: &str) -> i64 {
        from_rfc3339(text).unwrap().as_unix_micros() / 1_000_000
    }

    /// POSIX.1, "Seconds Since the Epoch": the formula as printed. `year` counts from 1900, `yday` from 0.
    fn posix_seconds(year: i64, yday: i64, hour: i64, min: i64, sec: i64) -> i64 {
        let leaps = ((year - 69) / 4) * 86_400 - ((year - 1) / 100) * 86_400 + ((year + 299) / 400) * 86_400;
        sec + min * 60 + hour * 3_600 + yday * 86_400 + (year - 70) * 31_536_000 + leaps
    }

    /// Days before each month of a common year, as any almanac lists them.
    const BEFORE: [i64; 12] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];

    proptest! {
        #[test]
        fn every_moment_counts_as_posix_counts_it(
            year in 1970_u16..=2200, month in 1_u8..=12, day in 1_u8..=28,
            hour in 0_u8..24, minute in 0_u8..60, second in 0_u8..=60,
        ) {
            let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
            let yday = BEFORE[usize::from(month) - 1] + i64::from(day) - 1 + i64::from(leap && month > 2);
            let expected =
                posix_seconds(i64::from(year) - 1900, yday, hour.into(), minute.into(), second.into());
            let utc = Day::from_civil(year, month, day).unwrap()
                .at(TimeOfDay::from_hms(hour, minute, second).unwrap());
            prop_assert_eq!(utc, Utc::from_unix_micros(expected * 1_000_000));
        }

        #[test]
        fn a_moment_comes_back_from_its_text(micros in -62_135_596_800_000_000_i64..253_402_300_800_000_000) {
            let utc = Utc::from_unix_micros(micros);
            prop_assert_eq!(from_rfc3339(&rfc3339(utc).to_string()), Some(utc));
        }

        #[test]
        fn the_nearest_moment_shows_the_time_and_is_at_most_half_a_day_away(
            micros in -1_000_000_000_000_000_i64..4_000_000_000_000_000, time in 0..DAY_US,
        ) {
            let near = TimeOfDay(time).nearest(Utc::from_unix_micros(micros)).as_unix_micros();
            prop_assert_eq!(near.rem_euclid(DAY_US), time);
            prop_assert!((near - micros).abs() <= DAY_US / 2);
        }

        #[test]
        fn any_count_has_a_text(micros in any::<i64>()) {
            prop_assert!(rfc3339(Utc::from_unix_micros(micros)).to_string().ends_with('Z'));
        }
    }

    #[test]
    fn the_examples_of_rfc_3339_read_as_their_text_says() {
        // RFC 3339, section 5.8. Counts by POSIX.1's formula.
        let twenty_minutes = from_rfc3339("1985-04-12T23:20:50.52Z").unwrap();
        assert_eq!(twenty_minutes.as_unix_micros(), posix_seconds(85, 101, 23, 20, 50) * 1_000_000 + 520_000);
        assert_eq!(rfc3339(twenty_minutes).to_string(), "1985-04-12T23:20:50.520Z");
        // "a leap second inserted at the end of 1990".
        assert_eq!(from_rfc3339("1990-12-31T23:59:60Z"), from_rfc3339("1991-01-01T00:00:00Z"));
    }

    #[test]
    fn the_gps_week_counter_rolled_over_at_its_published_moments() {
        // Encyclopedia entry "GPS week number rollover", in GPS time: weeks began at 1980-01-06. The second one
        // in UTC, 18 s behind: a receiver's log on a time mailing list.
        let weeks_after = |weeks: i64| unix_seconds("1980-01-06T00:00:00Z") + weeks * 604_800;
        assert_eq!(unix_seconds("1999-08-22T00:00:00Z"), weeks_after(1024));
        assert_eq!(unix_seconds("2019-04-06T23:59:42Z"), weeks_after(2048) - 18);
        assert_eq!(unix_seconds("2038-11-21T00:00:00Z"), weeks_after(3072));
    }

    #[test]
    fn days_and_times_that_do_not_exist_are_none() {
        // The Gregorian rule: 1900 and 2100 are no leap years, 2000 is.
        for (year, month, day) in [(2031, 4, 31), (2031, 2, 29), (1900, 2, 29), (2100, 2, 29), (2031, 0, 1)] {
            assert_eq!(Day::from_civil(year, month, day), None, "{year}-{month}-{day}");
        }
        for (year, month, day) in [(2031, 13, 1), (2031, 1, 0), (2031, 1, 32), (0, 1, 1)] {
            assert_eq!(Day::from_civil(year, month, day), None, "{year}-{month}-{day}");
        }
        assert!(Day::from_civil(2000, 2, 29).is_some() && Day::from_civil(2032, 2, 29).is_some());
        assert_eq!(TimeOfDay::from_hms(24, 0, 0), None);
        assert_eq!(TimeOfDay::from_hms(0, 60, 0), None);
        assert_eq!(TimeOfDay::from_hms(0, 0, 61), None);
    }

    #[test]
    fn text_in_any_other_form_is_none() {
        for text in [
            "2031-05-17 19:05:00Z",
            "2031-05-17T19:05:00",
            "2031-05-17T19:05:00+00:00",
            "2031-5-17T19:05:00Z",
            "+031-05-17T19:05:00Z",
            "2031-05-17T19:05Z",
            "2031-05-17T19:05:61Z",
            "2031-05-17T19:05:00,5Z",
            "2031-05-17T19:05:00.5 Z",
            "",
        ] {
            assert_eq!(from_rfc3339(text), None, "{text:?}");
        }
    }

    #[test]
    fn times_either_side_of_midnight_are_close() {
        let before = TimeOfDay::from_hms(23, 59, 59).unwrap();
        let after = TimeOfDay::from_hms(0, 0, 1).unwrap();
        assert_eq!(before.apart(after), Span::from_secs(2));
        assert_eq!(after.apart(before), Span::from_secs(2));
        assert_eq!(TimeOfDay::from_hms(23, 59, 60).unwrap().apart(after), Span::from_secs(1));
    }
}
