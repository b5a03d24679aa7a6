//! Units as people write them: "8 ft", "130 mph", "15 degF", read exactly.
//!
//! A key names its unit in the tables of keys. Looked up here, that unit says what is measured, and so which other
//! units a text may use. A text is converted by the exact definitions; where a conversion does not end (a knot is
//! 463/900 m/s) the result is kept so that rounding it later is still rounding once.
//!
//! Factors: NIST Handbook 44, appendix C (inch, mile, pound, ounce), and the SI brochure (minute, nautical mile,
//! knot, standard gravity, degree Celsius); all exact by definition, from memory.
//!
//! Knows exact decimals. Text and a key's unit in, a number of that unit out.

use super::nearest::did_you_mean;
use super::number::Decimal;

/// The most digits before and behind the point of a number with a unit.
const DIGITS: usize = 12;

/// A unit.
#[derive(Debug)]
struct Unit {
    /// What is measured, with its article.
    of: &'static str,
    /// Every way to write it, the one that messages use first.
    names: &'static [&'static str],
    /// What it is in the unit of comparison of what is measured, as a fraction in its lowest terms.
    factor: (i128, i128),
    /// What must be added to a number of it to count from absolute zero; zero but for scales of temperature.
    from_zero: &'static str,
}

const fn unit(of: &'static str, names: &'static [&'static str], factor: (i128, i128)) -> Unit {
    Unit { of, names, factor, from_zero: "0" }
}

const fn scale(names: &'static [&'static str], factor: (i128, i128), from_zero: &'static str) -> Unit {
    Unit { of: TEMPERATURE, names, factor, from_zero }
}

const LENGTH: &str = "a length";
const TIME: &str = "a time";
const SPEED: &str = "a speed";
const MASS: &str = "a mass";
const ACCELERATION: &str = "an acceleration";
const TEMPERATURE: &str = "a temperature";
const DIFFERENCE: &str = "a difference of temperatures";
const WARMING: &str = "a rate of temperature";
const SHARE: &str = "a share";
const SHARE_RATE: &str = "a rate of a share";
const SHARE_LENGTH: &str = "a share for each length";
const FREQUENCY: &str = "a frequency";
const TURNS: &str = "a speed of turning";
const FORCE: &str = "a force";
const VOLTAGE: &str = "a voltage";
const RESISTANCE: &str = "a resistance";
const HEAT: &str = "a heat capacity";
const HEAT_FLOW: &str = "a heat flow";
const ANGLE: &str = "an angle";

/// Every unit. Where a name stands twice (`g`, `K`) the key's own unit decides; as a key's unit it means the first.
#[rustfmt::skip]
const UNITS: &[Unit] = &[
    unit(LENGTH, &["m"], (1, 1)),
    unit(LENGTH, &["km"], (1_000, 1)),
    unit(LENGTH, &["cm"], (1, 100)),
    unit(LENGTH, &["mm"], (1, 1_000)),
    unit(LENGTH, &["ft", "feet", "foot"], (381, 1_250)),
    unit(LENGTH, &["in", "inches", "inch"], (127, 5_000)),
    unit(LENGTH, &["yd", "yards", "yard"], (1_143, 1_250)),
    unit(LENGTH, &["mi", "miles", "mile"], (201_168, 125)),
    unit(LENGTH, &["nmi"], (1_852, 1)),
    unit(TIME, &["s", "sec"], (1, 1)),
    unit(TIME, &["ms"], (1, 1_000)),
    unit(TIME, &["us", "µs", "μs"], (1, 1_000_000)),
    unit(TIME, &["ns"], (1, 1_000_000_000)),
    unit(TIME, &["min"], (60, 1)),
    unit(TIME, &["h"], (3_600, 1)),
    unit(SPEED, &["m/s"], (1, 1)),
    unit(SPEED, &["km/h"], (5, 18)),
    unit(SPEED, &["mph"], (1_397, 3_125)),
    unit(SPEED, &["kn", "kt", "knots"], (463, 900)),
    unit(SPEED, &["ft/s"], (381, 1_250)),
    unit(MASS, &["kg"], (1, 1)),
    unit(MASS, &["g"], (1, 1_000)),
    unit(MASS, &["lb", "lbs"], (45_359_237, 100_000_000)),
    unit(MASS, &["oz"], (45_359_237, 1_600_000_000)),
    unit(ACCELERATION, &["m/s2", "m/s²"], (1, 1)),
    unit(ACCELERATION, &["ft/s2", "ft/s²"], (381, 1_250)),
    unit(ACCELERATION, &["g"], (196_133, 20_000)),
    scale(&["degC", "°C", "C", "degrees C"], (1, 1), "273.15"),
    scale(&["degF", "°F", "F", "degrees F"], (5, 9), "459.67"),
    scale(&["K"], (1, 1), "0"),
    unit(DIFFERENCE, &["degC", "°C", "C", "degrees C", "degrees C of difference"], (1, 1)),
    unit(DIFFERENCE, &["degF", "°F", "F", "degrees F"], (5, 9)),
    unit(DIFFERENCE, &["K"], (1, 1)),
    unit(WARMING, &["degC/s", "°C/s", "degrees C/s"], (1, 1)),
    unit(WARMING, &["degF/s", "°F/s", "degrees F/s"], (5, 9)),
    unit(WARMING, &["K/s"], (1, 1)),
    unit(SHARE, &["%", "percent"], (1, 100)),
    unit(SHARE, &["ppm"], (1, 1_000_000)),
    unit(SHARE, &["ppb"], (1, 1_000_000_000)),
    unit(SHARE_RATE, &["%/s"], (1, 100)),
    unit(SHARE_RATE, &["ppm/s"], (1, 1_000_000)),
    unit(SHARE_RATE, &["ppb/s"], (1, 1_000_000_000)),
    unit(SHARE_LENGTH, &["%/m"], (1, 1)),
    unit(SHARE_LENGTH, &["%/ft"], (1_250, 381)),
    unit(FREQUENCY, &["Hz"], (1, 1)),
    unit(FREQUENCY, &["kHz"], (1_000, 1)),
    unit(TURNS, &["rpm"], (1, 1)),
    unit(FORCE, &["N"], (1, 1)),
    unit(FORCE, &["kN"], (1_000, 1)),
    unit(FORCE, &["lbf"], (8_896_443_230_521, 2_000_000_000_000)),
    unit(VOLTAGE, &["V"], (1, 1)),
    unit(VOLTAGE, &["mV"], (1, 1_000)),
    unit(RESISTANCE, &["milliohm", "mohm"], (1, 1_000)),
    unit(RESISTANCE, &["ohm"], (1, 1)),
    unit(HEAT, &["kJ/K"], (1_000, 1)),
    unit(HEAT, &["J/K"], (1, 1)),
    unit(HEAT_FLOW, &["W/K"], (1, 1)),
    unit(HEAT_FLOW, &["kW/K"], (1_000, 1)),
    unit(ANGLE, &["deg", "°", "degrees"], (1, 1)),
    unit("a count of laps", &["laps", "lap"], (1, 1)),
    unit("a count of reads", &["reads", "read"], (1, 1)),
    unit("a count", &["times"], (1, 1)),
    unit("a speed of a line", &["baud"], (1, 1)),
];

/// Why a text is no number of a key's unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoMeasure {
    /// The key has no unit: its number stands without quotes.
    Bare,
    /// A number, and no unit behind it.
    WithoutUnit,
    /// What stands before the unit is no number such as 12 or 0.5.
    NoNumber,
    /// Nobody knows the unit; perhaps this one was meant.
    Unknown {
        /// As it was written.
        unit: String,
        /// The nearest that this key takes.
        near: Option<&'static str>,
    },
    /// The unit measures something else.
    Other {
        /// What it measures.
        is: &'static str,
        /// What this key is.
        wanted: &'static str,
    },
    /// Nothing that is measured here is so large.
    TooLarge,
}

/// Reads a number with a unit as a number of the key's unit.
///
/// # Errors
/// Why it is none.
pub fn read(text: &str, key_unit: &str) -> Result<Decimal, NoMeasure> {
    let to = of_key(key_unit).ok_or(NoMeasure::Bare)?;
    let (digits, name) = parted(text);
    let from = known(name, to)?;
    let number = plain_number(digits).ok_or(NoMeasure::NoNumber)?;
    converted(number, from, to).ok_or(NoMeasure::TooLarge)
}

/// The units that a key takes, each by its first name.
#[must_use]
pub fn units_for(key_unit: &str) -> Vec<&'static str> {
    let alike = of_key(key_unit).into_iter().flat_map(alike);
    alike.filter_map(|unit| unit.names.first().copied()).collect()
}

/// A regular expression (ECMA-262) for the texts that a key takes: all but their range.
#[must_use]
pub fn pattern(key_unit: &str) -> Option<String> {
    let names = names_for(of_key(key_unit)?);
    Some(format!("^[+-]?[0-9]{{1,{DIGITS}}}(\\.[0-9]{{1,{DIGITS}}})? *({})$", names.join("|")))
}

fn of_key(key_unit: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.names.contains(&key_unit))
}

fn alike(to: &'static Unit) -> impl Iterator<Item = &'static Unit> {
    UNITS.iter().filter(move |unit| unit.of == to.of)
}

fn names_for(to: &'static Unit) -> Vec<&'static str> {
    alike(to).flat_map(|unit| unit.names.iter().copied()).collect()
}

/// Number and unit: the unit begins at the first letter that no number has, but for spaces.
fn parted(text: &str) -> (&str, &str) {
    let of_number = |letter: char| letter.is_ascii_digit() || matches!(letter, '+' | '-' | '.' | ',' | '_');
    let end = text.find(|letter| !of_number(letter)).unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    (digits, rest.trim_start_matches(' '))
}

/// The unit of this name among those that measure what the key does.
fn known(name: &str, to: &'static Unit) -> Result<&'static Unit, NoMeasure> {
    if name.is_empty() {
        return Err(NoMeasure::WithoutUnit);
    }
    if let Some(from) = alike(to).find(|unit| unit.names.contains(&name)) {
        return Ok(from);
    }
    if let Some(other) = of_key(name) {
        return Err(NoMeasure::Other { is: other.of, wanted: to.of });
    }
    let names = names_for(to);
    let same = names.iter().find(|known| known.eq_ignore_ascii_case(name)).copied();
    let slip = |known: &&&str| strsim::osa_distance(known, name) == 1 && name.len() > 1;
    let near = same.or_else(|| names.iter().find(slip).copied()).or_else(|| did_you_mean(name, &names));
    Err(NoMeasure::Unknown { unit: name.to_owned(), near })
}

/// `12`, `-0.5`, `+3`: no exponent, nothing between digits, a digit before the point and behind it.
fn plain_number(text: &str) -> Option<Decimal> {
    let size = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (whole, fraction) = size.split_once('.').unwrap_or((size, "0"));
    let right = |digits: &str| {
        (1..=DIGITS).contains(&digits.len()) && digits.bytes().all(|digit| digit.is_ascii_digit())
    };
    (right(whole) && right(fraction)).then(|| Decimal::parse(text)).flatten()
}

fn converted(number: Decimal, from: &Unit, to: &Unit) -> Option<Decimal> {
    if std::ptr::eq(from, to) {
        return Some(number);
    }
    let zero = |unit: &Unit| Decimal::parse(unit.from_zero);
    let ((from_top, from_bottom), (to_top, to_bottom)) = (from.factor, to.factor);
    let absolute = number.plus(zero(from)?)?;
    let fraction = (from_top.checked_mul(to_bottom)?, from_bottom.checked_mul(to_top)?);
    absolute.times(fraction)?.plus(zero(to)?.negated())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[track_caller]
    fn is(text: &str, unit: &str, number: &str) {
        assert_eq!(read(text, unit).map(|read| read.to_string()).as_deref(), Ok(number), "{text} in {unit}");
    }

    /// Source: NIST Handbook 44, appendix C, and the SI brochure, from memory; each is exact by definition.
    #[test]
    fn units_are_converted_by_their_exact_definitions() {
        is("1 in", "m", "0.0254");
        is("30in", "m", "0.762");
        is("8 ft", "m", "2.4384");
        is("1 yd", "m", "0.9144");
        is("1 mi", "m", "1609.344");
        is("2.5 mi", "m", "4023.36");
        is("1 nmi", "m", "1852");
        is("5 km", "m", "5000");
        is("1 mph", "m/s", "0.44704");
        is("130 mph", "m/s", "58.1152");
        is("3600 kn", "m/s", "1852");
        is("9 km/h", "m/s", "2.5");
        is("250 ms", "s", "0.25");
        is("0.3 min", "s", "18");
        is("1 h", "s", "3600");
        is("0.25 s", "ms", "250");
        is("1 lb", "kg", "0.45359237");
        is("1 oz", "g", "28.349523125");
        is("1 lb", "g", "453.59237");
        is("1 lbf", "N", "4.4482216152605");
        is("1 g", "m/s2", "9.80665");
        is("1.2 g", "g", "1.2");
        is("45 %", "%", "45");
        is("0.003 %", "ppm", "30");
        is("1 ppm/s", "ppb/s", "1000");
        is("2 ohm", "milliohm", "2000");
        is("+4 laps", "laps", "4");
    }

    /// Fahrenheit's fixed points: ice 32, steam 212, and the crossing of both scales at -40 (from memory).
    #[test]
    fn a_temperature_has_an_offset_and_a_difference_has_none() {
        is("32 degF", "degrees C", "0");
        is("212 °F", "degrees C", "100");
        is("-40 F", "degrees C", "-40");
        is("14 degF", "degrees C", "-10");
        is("273.15 K", "degrees C", "0");
        is("20 °C", "degrees C", "20");
        is("9 degF", "degrees C of difference", "5");
        is("9 K", "degrees C of difference", "9");
        is("1.8 degF/s", "degrees C/s", "1");
    }

    #[test]
    fn what_is_no_measure_is_told_apart() {
        let near = |text, unit| match read(text, unit) {
            Err(NoMeasure::Unknown { near, .. }) => near,
            other => panic!("{other:?}"),
        };
        assert_eq!(near("8 mhp", "m/s"), Some("mph"));
        assert_eq!(near("8 MPH", "m/s"), Some("mph"));
        assert_eq!(near("8 feets", "m"), Some("feet"));
        assert_eq!(near("8 parsec", "%"), None);
        assert_eq!(read("8 ft", "m/s"), Err(NoMeasure::Other { is: LENGTH, wanted: SPEED }));
        assert_eq!(read("8", "m/s"), Err(NoMeasure::WithoutUnit));
        assert_eq!(read("8 m", ""), Err(NoMeasure::Bare));
        for text in ["1,5 m", "m", "--1 m", "1. m", ".5 m", "1_000 m", "1.2.3 m", "1234567890123 m"] {
            assert_eq!(read(text, "m"), Err(NoMeasure::NoNumber), "{text}");
        }
    }

    proptest! {
        /// Against whole numbers: a speed in thousandths of a knot, rounded once to a millimetre a second.
        #[test]
        fn a_conversion_that_does_not_end_is_still_rounded_once(thousandths in -200_000_i64..200_000) {
            let sign = if thousandths < 0 { "-" } else { "" };
            let size = thousandths.abs();
            let text = format!("{sign}{}.{:03} kn", size / 1_000, size % 1_000);
            // 1 kn = 1852/3600 m/s, so a thousandth of it is 1852/3600 mm/s; halves go away from zero.
            let nearest = (size * 1_852 * 2 + 3_600) / (3_600 * 2) * thousandths.signum();
            prop_assert_eq!(read(&text, "m/s").unwrap().in_units(3), nearest);
        }
    }
}
