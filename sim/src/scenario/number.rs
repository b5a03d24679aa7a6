//! Decimal numbers exactly as a file writes them.
//!
//! `4023.36` metres are 4,023,360 millimetres, not whatever the nearest binary fraction rounds to. A number is
//! held in units of 1e-18, which holds every number that a file may sensibly write; others are refused.
//!
//! This file knows nobody. Text in, whole units out.

use std::fmt;

/// Decimals that are kept.
const PLACES: u32 = 18;

/// One, in the unit of [`Decimal`].
const ONE: i128 = 1_000_000_000_000_000_000;

/// A decimal number, exact, between about -1.7e20 and 1.7e20.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Decimal(i128);

impl Decimal {
    /// Reads `-12.5`, `+3`, `1_000` or `1.5e3`; `None` for anything else, for more than 18 decimals, and
    /// beyond 1.7e20.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (mantissa, exponent) = match text.split_once(['e', 'E']) {
            Some((mantissa, exponent)) => (mantissa, exponent.parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (negative, size) = match mantissa.strip_prefix('-') {
            Some(size) => (true, size),
            None => (false, mantissa.strip_prefix('+').unwrap_or(mantissa)),
        };
        let (whole, fraction) = size.split_once('.').unwrap_or((size, ""));
        let digits = whole.bytes().chain(fraction.bytes()).filter(|byte| *byte != b'_');
        let number = digits.clone().try_fold(0_i128, |sum, byte| {
            let digit = byte.is_ascii_digit().then(|| i128::from(byte - b'0'))?;
            sum.checked_mul(10)?.checked_add(digit)
        })?;
        let places = i32::try_from(fraction.bytes().filter(|byte| *byte != b'_').count()).ok()?;
        let size = shifted(number, exponent.checked_sub(places)?)?;
        (digits.count() > 0).then_some(Self(if negative { -size } else { size }))
    }

    /// From a whole number.
    #[must_use]
    pub const fn whole(number: i64) -> Self {
        Self(number as i128 * ONE)
    }

    /// So many units of ten to the power of minus `decimals`, which are not more than 18.
    #[must_use]
    pub fn of_units(units: i64, decimals: u32) -> Self {
        Self(i128::from(units) * 10_i128.pow(PLACES.saturating_sub(decimals)))
    }

    /// True when there is nothing behind the point.
    #[must_use]
    pub const fn is_whole(self) -> bool {
        self.0 % ONE == 0
    }

    /// The sum; `None` beyond the ends.
    #[must_use]
    pub fn plus(self, other: Self) -> Option<Self> {
        self.0.checked_add(other.0).map(Self)
    }

    /// With the other sign.
    #[must_use]
    pub const fn negated(self) -> Self {
        Self(-self.0)
    }

    /// Times a fraction whose lower part is positive; `None` beyond the ends.
    ///
    /// A result that needs more than 18 decimals is moved to a neighbour that ends in neither 0 nor 5. So it lies
    /// on no half and on no bound that the exact result does not lie on, and rounding it to fewer decimals gives
    /// what rounding the exact result gives.
    #[must_use]
    pub fn times(self, (top, bottom): (i128, i128)) -> Option<Self> {
        let product = self.0.checked_mul(top)?;
        let below = product.div_euclid(bottom);
        let is_exact = product.rem_euclid(bottom) == 0;
        Some(Self(if is_exact || below.rem_euclid(5) != 0 { below } else { below + 1 }))
    }

    /// In units of ten to the power of minus `decimals`, to the nearest, halves away from zero; stops at the
    /// ends of `i64`.
    #[must_use]
    pub fn in_units(self, decimals: u32) -> i64 {
        let unit = 10_i128.pow(PLACES.saturating_sub(decimals));
        let nudge = if self.0 < 0 { -unit / 2 } else { unit / 2 };
        let units = self.0.saturating_add(nudge) / unit;
        i64::try_from(units).unwrap_or(if units < 0 { i64::MIN } else { i64::MAX })
    }

    /// To the nearest millionth, for messages.
    #[must_use]
    pub fn shortened(self) -> Self {
        Self(i128::from(self.in_units(6)) * (ONE / 1_000_000))
    }

    /// The nearest binary fraction.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        // The library rounds a decimal text correctly; a division of two floats would round twice.
        format!("{}e-{PLACES}", self.0).parse().unwrap_or(f64::NAN)
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (sign, size) = (if self.0 < 0 { "-" } else { "" }, self.0.unsigned_abs());
        let (whole, rest) = (size / ONE.unsigned_abs(), size % ONE.unsigned_abs());
        let fraction = format!("{rest:018}");
        match fraction.trim_end_matches('0') {
            "" => write!(f, "{sign}{whole}"),
            fraction => write!(f, "{sign}{whole}.{fraction}"),
        }
    }
}

/// `number` times ten to the power of `exponent`, in units of 1e-18; `None` when that loses a digit or
/// overflows.
fn shifted(mut number: i128, exponent: i32) -> Option<i128> {
    let mut shift = exponent.checked_add(PLACES as i32)?;
    while shift < 0 && number % 10 == 0 && number != 0 {
        number /= 10;
        shift += 1;
    }
    if number == 0 {
        return Some(0);
    }
    number.checked_mul(10_i128.checked_pow(u32::try_from(shift).ok()?)?)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn units(text: &str, decimals: u32) -> i64 {
        Decimal::parse(text).unwrap().in_units(decimals)
    }

    #[test]
    fn two_and_a_half_statute_miles_are_4_023_360_mm() {
        // A statute mile is exactly 1,609.344 m (international yard and pound agreement of 1959): 2.5 of them.
        assert_eq!(units("4023.36", 3), 2_500 * 1_609_344 / 1_000);
        // A binary fraction multiplied by 1e9 and cut off is one unit short here.
        assert_eq!(units("-29.998", 9), -29_998_000_000);
        assert_eq!(units("0.29", 2), 29);
    }

    #[test]
    fn numbers_read_in_every_way_that_toml_writes_them() {
        // TOML v1.0.0, sections "Integer" and "Float": its own examples.
        let read = |text: &str| Decimal::parse(text).unwrap().to_string();
        assert_eq!(read("+99"), "99");
        assert_eq!(read("-17"), "-17");
        assert_eq!(read("1_000"), "1000");
        assert_eq!(read("+1.0"), "1");
        assert_eq!(read("3.1415"), "3.1415");
        assert_eq!(read("-0.01"), "-0.01");
        assert_eq!(read("1e06"), "1000000");
        assert_eq!(read("-2E-2"), "-0.02");
        assert_eq!(read("224_617.445_991_228"), "224617.445991228");
        assert_eq!(Decimal::parse("5e+22"), None, "beyond 1.7e20");
        assert_eq!(Decimal::parse("6.626e-34"), None, "more than 18 decimals");
        for text in ["inf", "nan", "", "-", "1.2.3", "0x10", "e5", "1 000"] {
            assert_eq!(Decimal::parse(text), None, "{text:?}");
        }
    }

    #[test]
    fn halves_go_away_from_zero_and_are_rounded_once() {
        assert_eq!(units("0.0005", 3), 1);
        assert_eq!(units("-0.0005", 3), -1);
        // In two steps, by way of 1e-9, this would become 0.0005 and then 0.001.
        assert_eq!(units("0.0004999999999", 3), 0);
        assert_eq!(units("100000000000000000000", 6), i64::MAX);
    }

    proptest! {
        #[test]
        fn a_whole_number_of_units_comes_back_as_it_was(units in -1_000_000_000_000_i64..1_000_000_000_000) {
            let text = format!("{}{}.{:06}", if units < 0 { "-" } else { "" },
                units.abs() / 1_000_000, units.abs() % 1_000_000);
            let read = Decimal::parse(&text).unwrap();
            prop_assert_eq!(read.in_units(6), units);
            prop_assert_eq!(Decimal::parse(&read.to_string()), Some(read));
        }

        #[test]
        fn the_nearest_float_is_the_one_that_the_standard_library_reads(x in -1e9_f64..1e9) {
            let text = format!("{x:.6}");
            prop_assert_eq!(Decimal::parse(&text).unwrap().to_f64(), text.parse::<f64>().unwrap());
        }
    }
}
