//! Digits become whole numbers: the one place where text turns into figures.
//!
//! No number passes through a float, so the same text gives the same bits on every machine.
//!
//! This file knows nobody.

/// How many of [`nano`]'s units make one.
pub(super) const NANO: u64 = 1_000_000_000;

/// A field of exactly `width` digits and nothing else.
pub(super) fn whole(field: &[u8], width: usize) -> Option<u16> {
    if field.len() != width {
        return None;
    }
    u16::try_from(number(field)?).ok()
}

/// A field such as `022.4` or `.5`, in units of 1e-9.
///
/// Up to 999,999 before the point. Digits after the ninth decimal must be digits but are not weighed.
pub(super) fn nano(field: &[u8]) -> Option<u64> {
    let point = field.iter().position(|byte| *byte == b'.').unwrap_or(field.len());
    let (units, fraction) = field.split_at(point);
    let decimals = fraction.get(1..).unwrap_or_default();
    if units.is_empty() && decimals.is_empty() {
        return None;
    }
    let units = number(units).filter(|units| *units <= 999_999)?;
    Some(units.saturating_mul(NANO).saturating_add(billionths(decimals)?))
}

/// Two digits, then nothing or a fraction, in units of 1e-9: the minutes of an angle, the seconds of a time.
pub(super) fn two_and_fraction(field: &[u8]) -> Option<u64> {
    let (two, fraction) = field.split_at_checked(2)?;
    let decimals = match fraction {
        [] => fraction,
        [b'.', decimals @ ..] => decimals,
        _ => return None,
    };
    Some(number(two)? * NANO + billionths(decimals)?)
}

/// The decimals of a fraction, in units of 1e-9.
fn billionths(decimals: &[u8]) -> Option<u64> {
    let (weighed, rest) = decimals.split_at(decimals.len().min(9));
    let power = 10_u64.pow(9 - u32::try_from(weighed.len()).ok()?);
    rest.iter().all(u8::is_ascii_digit).then_some(number(weighed)? * power)
}

/// The number that these digits spell; none of them spell zero.
fn number(digits: &[u8]) -> Option<u64> {
    digits.iter().try_fold(0_u64, |sum, byte| {
        let digit = byte.checked_sub(b'0').filter(|digit| *digit <= 9)?;
        sum.checked_mul(10)?.checked_add(digit.into())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_may_omit_its_point_its_leading_or_its_trailing_zeros() {
        // Worked by hand, in billionths.
        assert_eq!(nano(b"022.4"), Some(22_400_000_000));
        assert_eq!(nano(b"22"), Some(22_000_000_000));
        assert_eq!(nano(b".5"), Some(500_000_000));
        assert_eq!(nano(b"5."), Some(5_000_000_000));
        assert_eq!(nano(b"1.2345678909999"), Some(1_234_567_890));
    }

    #[test]
    fn what_is_no_number_is_none() {
        for field in [
            "",
            ".",
            "-1",
            "+1",
            "1e3",
            "1,5",
            "1.2.3",
            " 1",
            "1.23456789x",
            "1000000",
            "99999999999999999999",
        ] {
            assert_eq!(nano(field.as_bytes()), None, "{field:?}");
        }
        assert_eq!(whole(b"07", 1), None);
        assert_eq!(whole(b"0x", 2), None);
        assert_eq!(whole(b"99999", 5), None);
        assert_eq!(two_and_fraction(b"7.5"), None);
        assert_eq!(two_and_fraction(b"007.5"), None);
    }
}
