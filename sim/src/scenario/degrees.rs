//! Degrees of latitude and longitude as charts write them: `45°12'34.5"N`, `45 12.575 N`, `45.2096 N`.
//!
//! Degrees, then minutes and seconds if there are any; only the last of them has decimals; the letter says which
//! side. A minute is a 60th of a degree and a second a 60th of that.
//!
//! Knows exact decimals. Text in, degrees out, north and east positive.

use super::number::Decimal;

/// What may stand behind degrees, minutes and seconds.
const MARKS: [&[char]; 3] = [&['°', ' '], &['\'', '′', ' '], &['"', '″']];

/// A regular expression (ECMA-262) for what [`parse`] takes, all but its range; the letters are `NS` or `EW`.
#[must_use]
pub fn pattern(letters: &str) -> String {
    let part = "(\\.[0-9]{1,12})?";
    let seconds = format!("['′ ] *[0-5]?[0-9]{part}[\"″]?");
    let minutes = format!("[° ] *[0-5]?[0-9]({part}['′]?|{seconds})");
    format!("^[0-9]{{1,3}}({part}°?|{minutes}) *[{letters}]$")
}

/// Reads degrees with one of two letters behind them, the positive one first; `None` for anything else.
#[must_use]
pub fn parse(text: &str, [positive, negative]: [char; 2]) -> Option<Decimal> {
    let is_negative = text.ends_with(negative);
    let mut rest = text.strip_suffix([positive, negative])?.trim_end_matches(' ');
    let mut seconds = Decimal::whole(0);
    for ((marks, worth), digits) in MARKS.into_iter().zip([3_600, 60, 1]).zip([3, 2, 2]) {
        let (number, is_whole, behind) = number(rest, digits)?;
        if worth < 3_600 && number >= Decimal::whole(60) {
            return None;
        }
        seconds = seconds.plus(number.times((worth, 1))?)?;
        if behind.is_empty() || behind.strip_prefix(marks) == Some("") {
            return Some(if is_negative { seconds.negated() } else { seconds })?.times((1, 3_600));
        }
        rest = behind.strip_prefix(marks).filter(|_| is_whole)?.trim_start_matches(' ');
    }
    None
}

/// The number at the beginning, whether it has no decimals, and what stands behind it.
fn number(text: &str, digits: usize) -> Option<(Decimal, bool, &str)> {
    let run = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let whole = run(text);
    let fraction = text.get(whole..)?.strip_prefix('.').map(run);
    let end = whole + fraction.map_or(0, |run| run + 1);
    let fits = (1..=digits).contains(&whole) && fraction.is_none_or(|run| (1..=12).contains(&run));
    let (number, behind) = text.split_at_checked(end).filter(|_| fits)?;
    Some((Decimal::parse(number)?, fraction.is_none(), behind))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LATITUDE: [char; 2] = ['N', 'S'];

    /// By the definition of minute and second alone: 45 + 12/60 + 34.5/3600 degrees are 45.209583333...
    #[test]
    fn degrees_minutes_and_seconds_become_degrees() {
        let nano = |text: &str| parse(text, LATITUDE).map(|degrees| degrees.in_units(9));
        for text in ["45°12'34.5\"N", "45° 12' 34.5\" N", "45 12 34.5 N", "45°12′34.5″N", "45°12.575'N"]
        {
            assert_eq!(nano(text), Some(45_209_583_333), "{text}");
        }
        assert_eq!(nano("45°12'34.5\"S"), Some(-45_209_583_333));
        assert_eq!(nano("45.5° N"), Some(45_500_000_000));
        assert_eq!(nano("0 30 S"), Some(-500_000_000));
        assert_eq!(parse("30°W", ['E', 'W']).map(|west| west.in_units(9)), Some(-30_000_000_000));
    }

    #[test]
    fn what_no_chart_writes_is_not_read() {
        for text in [
            "",
            "N",
            "45",
            "45°12'34.5\"",
            "45°12'34.5\"E",
            "45°60'N",
            "45°12'60\"N",
            "45.5°12'N",
            "-45°N",
            "45°12.5'30\"N",
            "1234°N",
            "45°012'N",
            "45'N",
            "45°12\"N",
            "45 12 34 5 N",
            "45.N",
        ] {
            assert_eq!(parse(text, LATITUDE), None, "{text}");
        }
    }
}
