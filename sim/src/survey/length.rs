//! Lengths as people write them: `250 m`, `2.5 mi`, `800 ft`.
//!
//! This file knows exact decimals. Text in, metres out.

use crate::scenario::number::Decimal;

/// Each unit and what it is in metres. International foot and statute mile: the agreement of 1959; nautical mile: 1852 m.
const UNITS: [(&str, f64); 10] = [
    ("m", 1.0),
    ("metres", 1.0),
    ("km", 1_000.0),
    ("ft", 0.304_8),
    ("feet", 0.304_8),
    ("yd", 0.914_4),
    ("mi", 1_609.344),
    ("mile", 1_609.344),
    ("miles", 1_609.344),
    ("nmi", 1_852.0),
];

/// Reads a length; a bare number is metres.
///
/// # Errors
/// What is wrong with it, and what would be right.
pub fn metres(text: &str) -> Result<f64, String> {
    let text = text.trim();
    let end = text.find(|letter: char| letter.is_alphabetic()).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let unit = unit.trim();
    let right = "write a number and m, km, ft, yd, mi (statute mile) or nmi, such as 250 m";
    let Some(number) = Decimal::parse(number.trim()).map(Decimal::to_f64) else {
        return Err(format!("`{text}` is not a length: {right}"));
    };
    let unit = UNITS.iter().find(|(name, _)| *name == unit || (unit.is_empty() && *name == "m"));
    let Some((_, unit)) = unit else {
        return Err(format!("`{text}` has a unit that is not known here: {right}"));
    };
    Ok(number * unit)
}

/// For a command's words.
///
/// # Errors
/// As [`metres`], and for nothing or less.
pub fn positive(text: &str) -> Result<f64, String> {
    metres(text).and_then(|length| {
        if length > 0.0 { Ok(length) } else { Err(format!("`{text}` is not more than nothing")) }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_those_of_the_agreement_of_1959() {
        assert!((metres("2.5mi").unwrap() - 4_023.36).abs() < 1e-9);
        assert!((metres("2.5 miles").unwrap() - 4_023.36).abs() < 1e-9);
        assert!((metres("100 ft").unwrap() - 30.48).abs() < 1e-9);
        assert!((metres("1 yd").unwrap() - 0.9144).abs() < 1e-12);
        assert!((metres("1nmi").unwrap() - 1_852.0).abs() < 1e-9);
        assert!((metres("4023.36").unwrap() - 4_023.36).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_length_is_refused() {
        for text in ["", "m", "2.5 furlongs", "two miles", "1.2.3 m"] {
            assert!(metres(text).is_err(), "{text}");
        }
        assert!(positive("0 m").is_err() && positive("-3 m").is_err());
    }
}
