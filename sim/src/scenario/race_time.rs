//! Race time as people write it: `-4:59.730` is 4 minutes and 59.730 seconds before zero.
//!
//! Text in, microseconds out, and back. This file knows the units.

use std::fmt;

use firmware::units::Span;

/// No press, contact or fault lies further from zero than this.
pub const A_DAY: Span = Span::from_secs(86_400);

/// What is wrong with a text that should be a race time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotARaceTime {
    /// Not of the form `[-]M:SS.mmm`.
    Form,
    /// Seconds of 60 or more, or not two digits of them.
    Seconds,
    /// More than six decimals.
    Decimals,
    /// More than a day from zero.
    BeyondADay,
}

impl fmt::Display for NotARaceTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Form => "not of the form [-]M:SS.mmm",
            Self::Seconds => "the seconds are not two digits from 00 to 59",
            Self::Decimals => "more than six decimals",
            Self::BeyondADay => "more than a day from zero",
        })
    }
}

impl std::error::Error for NotARaceTime {}

/// Reads `[-]M:SS.mmm`: minutes of any count, two digits of seconds, up to six decimals or none.
///
/// # Errors
/// What is wrong with the text.
///
/// ```
/// use firmware::units::Span;
/// use gunline::scenario::race_time::parse;
/// assert_eq!(parse("-4:59.730"), Ok(Span::from_millis(-299_730)));
/// ```
pub fn parse(text: &str) -> Result<Span, NotARaceTime> {
    let (negative, size) = match text.strip_prefix('-') {
        Some(size) => (true, size),
        None => (false, text),
    };
    let (minutes, rest) = size.split_once(':').ok_or(NotARaceTime::Form)?;
    let (seconds, fraction) = match rest.split_once('.') {
        Some((_, "")) => return Err(NotARaceTime::Form),
        Some((seconds, fraction)) => (seconds, fraction),
        None => (rest, ""),
    };
    let micros = whole(&format!("{fraction:0<6}"))?;
    if fraction.len() > 6 {
        return Err(NotARaceTime::Decimals);
    }
    let (minutes, second) = (whole(minutes)?, whole(seconds)?);
    if seconds.len() != 2 || second > 59 {
        return Err(NotARaceTime::Seconds);
    }
    let total = minutes.saturating_mul(60_000_000).saturating_add(second * 1_000_000 + micros);
    let span = Span::from_micros(if negative { -total } else { total });
    if span.abs() > A_DAY { Err(NotARaceTime::BeyondADay) } else { Ok(span) }
}

/// Writes what [`parse`] reads, exactly: three decimals, or six where three do not say it all.
pub fn text(span: Span) -> impl fmt::Display {
    RaceTime(span)
}

struct RaceTime(Span);

impl fmt::Display for RaceTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let micros = self.0.as_micros();
        let (sign, size) = (if micros < 0 { "-" } else { "" }, micros.unsigned_abs());
        write!(f, "{sign}{}:{:02}.", size / 60_000_000, size / 1_000_000 % 60)?;
        match size % 1_000_000 {
            micros if micros % 1_000 == 0 => write!(f, "{:03}", micros / 1_000),
            micros => write!(f, "{micros:06}"),
        }
    }
}

/// A number of digits alone; one too large to be a time stops at the end of `i64`.
fn whole(digits: &str) -> Result<i64, NotARaceTime> {
    if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(NotARaceTime::Form);
    }
    Ok(digits.parse().unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn race_times_read_as_a_clock_does() {
        for (written, us) in [
            ("-4:59.730", -299_730_000),
            ("0:00.213", 213_000),
            ("12:03.5", 723_500_000),
            ("-0:30", -30_000_000),
            ("0:00.000001", 1),
            ("-0:00.000", 0),
            ("1440:00", 86_400_000_000),
        ] {
            assert_eq!(parse(written), Ok(Span::from_micros(us)), "{written}");
        }
    }

    #[test]
    fn what_is_no_race_time_is_told_why() {
        for (written, why) in [
            ("", NotARaceTime::Form),
            ("5", NotARaceTime::Form),
            ("+0:30", NotARaceTime::Form),
            ("--0:30", NotARaceTime::Form),
            (":30", NotARaceTime::Form),
            ("0:", NotARaceTime::Form),
            ("0:30.", NotARaceTime::Form),
            ("0:30,5", NotARaceTime::Form),
            ("0:3O", NotARaceTime::Form),
            ("0:05:30", NotARaceTime::Form),
            ("0:60", NotARaceTime::Seconds),
            ("0:5", NotARaceTime::Seconds),
            ("0:005", NotARaceTime::Seconds),
            ("0:00.0000001", NotARaceTime::Decimals),
            ("1440:00.001", NotARaceTime::BeyondADay),
            ("99999999999999999999:00", NotARaceTime::BeyondADay),
        ] {
            assert_eq!(parse(written), Err(why), "{written:?}");
        }
    }

    proptest! {
        #[test]
        fn a_race_time_comes_back_from_its_text(us in -86_400_000_000_i64..=86_400_000_000) {
            let span = Span::from_micros(us);
            prop_assert_eq!(parse(&text(span).to_string()), Ok(span));
        }

        #[test]
        fn whatever_is_written_is_read_or_refused(written in "[-+0-9:.]{0,12}") {
            if let Ok(span) = parse(&written) {
                prop_assert_eq!(parse(&text(span).to_string()), Ok(span));
            }
        }
    }
}
