//! Quantities as types: what crosses a room's door carries its unit.
//!
//! Every type is a whole number of its unit, so the same inputs give the same bits on every machine.
//! Arithmetic saturates: a value at the end of its range stays there, nothing wraps and nothing panics.
//! Microseconds are held in 64 bits; they last 292,000 years, so nothing happens at 71.6 minutes (2^32 us).
//!
//! This room knows nobody.

use core::ops::{Add, Neg, Sub};

use serde::{Deserialize, Serialize};

/// Defines a signed quantity: a newtype with its constructor, its reader, and saturating arithmetic.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident($int:ty), $new:ident, $get:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub struct $name($int);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0);
            /// The largest value; saturated arithmetic stops here.
            pub const MAX: Self = Self(<$int>::MAX);

            #[doc = concat!("From a whole number of ", $unit, ".")]
            #[must_use]
            pub const fn $new(value: $int) -> Self {
                Self(value)
            }

            #[doc = concat!("The value in ", $unit, ".")]
            #[must_use]
            pub const fn $get(self) -> $int {
                self.0
            }

            /// The size without the sign.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.saturating_abs())
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0.saturating_add(other.0))
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0.saturating_sub(other.0))
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(self.0.saturating_neg())
            }
        }
    };
}

quantity!(
    /// A length of time, signed.
    Span(i64), from_micros, as_micros, "microseconds"
);
quantity!(
    /// A moment in UTC, counted in microseconds since 1970-01-01T00:00:00 without leap seconds.
    ///
    /// A leap second has no number of its own: 23:59:60 counts like the 00:00:00 that follows it.
    Utc(i64), from_unix_micros, as_unix_micros, "microseconds since 1970-01-01T00:00:00Z"
);
quantity!(
    /// A distance, signed.
    Millimetres(i64), from_mm, as_mm, "millimetres"
);
quantity!(
    /// A speed, signed along some stated direction.
    MmPerSecond(i32), from_mm_s, as_mm_s, "millimetres per second"
);
quantity!(
    /// An angle of latitude or longitude; one is 0.11 mm on the ground.
    NanoDegrees(i64), from_nano, as_nano, "1e-9 degrees"
);
quantity!(
    /// A direction of travel, clockwise from true north, 0 to 35,999.
    CentiDegrees(i32), from_centi, as_centi, "0.01 degrees"
);
quantity!(
    /// A temperature on the Celsius scale.
    MilliCelsius(i32), from_milli, as_milli, "0.001 degrees Celsius"
);
quantity!(
    /// A thermocouple's electromotive force.
    Nanovolts(i64), from_nv, as_nv, "nanovolts"
);
quantity!(
    /// A shaft speed in hundredths of a percent of the engine maker's 100 %.
    CentiPercent(i32), from_centi, as_centi, "0.01 %"
);
quantity!(
    /// A relative rate, such as a crystal's error.
    PartsPerBillion(i64), from_ppb, as_ppb, "parts per billion"
);

impl Span {
    /// From whole milliseconds.
    #[must_use]
    pub const fn from_millis(ms: i64) -> Self {
        Self(ms.saturating_mul(1_000))
    }

    /// From whole seconds.
    #[must_use]
    pub const fn from_secs(s: i64) -> Self {
        Self(s.saturating_mul(1_000_000))
    }

    /// This span as it reads on a clock that runs fast by `rate` (a positive rate makes it longer).
    ///
    /// Rounded to the nearest microsecond, halves away from zero.
    #[must_use]
    pub const fn stretched(self, rate: PartsPerBillion) -> Self {
        Self(self.0.saturating_add(mul_div(self.0, rate.as_ppb(), 1_000_000_000)))
    }

    /// The square root of the sum of the squares: how independent standard deviations add up.
    #[must_use]
    pub fn root_sum_square(parts: &[Span]) -> Span {
        let sum = parts.iter().fold(0_u128, |sum, part| {
            let size = u128::from(part.0.unsigned_abs());
            sum.saturating_add(size.saturating_mul(size))
        });
        Span(root(sum))
    }
}

/// The whole part of a square root, saturated. Once and not at each of its places: 128 bits take much room on the
/// board.
#[must_use]
#[inline(never)]
pub(crate) fn root(square: u128) -> i64 {
    i64::try_from(square.isqrt()).unwrap_or(i64::MAX)
}

impl Utc {
    /// The signed time from `earlier` to this moment.
    #[must_use]
    pub const fn since(self, earlier: Utc) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }

    /// This moment moved by `by`.
    #[must_use]
    pub const fn plus(self, by: Span) -> Utc {
        Utc(self.0.saturating_add(by.0))
    }
}

/// A moment on the board's own clock: microseconds since it started. Never negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Instant(u64);

impl Instant {
    /// The moment the board's clock started.
    pub const BOOT: Self = Self(0);
    /// The last moment there is; saturated arithmetic stops here.
    pub const MAX: Self = Self(u64::MAX);

    /// From microseconds since the board's clock started.
    #[must_use]
    pub const fn from_micros(us: u64) -> Self {
        Self(us)
    }

    /// Microseconds since the board's clock started.
    #[must_use]
    pub const fn as_micros(self) -> u64 {
        self.0
    }

    /// The signed time from `earlier` to this moment: negative when `earlier` is the later of the two.
    #[must_use]
    pub const fn since(self, earlier: Instant) -> Span {
        Span(if self.0 >= earlier.0 {
            let forward = self.0 - earlier.0;
            if forward > i64::MAX as u64 { i64::MAX } else { forward as i64 }
        } else {
            let back = earlier.0 - self.0;
            if back > i64::MAX as u64 { i64::MIN } else { -(back as i64) }
        })
    }

    /// This moment moved by `by`; it stops at boot and at the end of time.
    #[must_use]
    pub const fn plus(self, by: Span) -> Instant {
        Self(self.0.saturating_add_signed(by.0))
    }
}

/// `a * b / c` through 128 bits, rounded to nearest (halves away from zero), saturated to `i64`.
///
/// A zero divisor gives zero: callers divide by lengths and speeds that they have checked, and no division
/// on the firmware's path may panic.
#[must_use]
pub const fn mul_div(a: i64, b: i64, c: i64) -> i64 {
    if c == 0 {
        return 0;
    }
    if let Some(result) = mul_div_small(a, b, c) {
        return result;
    }
    let product = a as i128 * b as i128;
    let divisor = c.unsigned_abs() as u128;
    let size = quotient(product.unsigned_abs() + divisor / 2, divisor);
    let limit = i64::MAX as u128;
    match ((product < 0) != (c < 0), size > limit) {
        (false, false) => size as i64,
        (false, true) => i64::MAX,
        (true, false) => -(size as i64),
        (true, true) => i64::MIN,
    }
}

/// A quotient of 128 bits, nothing for a divisor of zero. Once and not at each of its places, see [`root`].
#[must_use]
#[inline(never)]
pub(crate) const fn quotient(of: u128, by: u128) -> u128 {
    match of.checked_div(by) {
        Some(quotient) => quotient,
        None => 0,
    }
}

/// The same where the product leaves room in 64 bits, as it mostly does: 128 bits take many times as long.
const fn mul_div_small(a: i64, b: i64, c: i64) -> Option<i64> {
    let Some(product) = a.checked_mul(b) else { return None };
    let half = (c / 2).saturating_abs();
    let nudged = if product < 0 { product.checked_sub(half) } else { product.checked_add(half) };
    let Some(nudged) = nudged else { return None };
    let (of, by) = (nudged.unsigned_abs(), c.unsigned_abs());
    if (of | by) >> 32 != 0 {
        return nudged.checked_div(c);
    }
    // The board's chip divides 32 bits in a few cycles, and 64 by a routine of hundreds.
    let Some(size) = (of as u32).checked_div(by as u32) else { return None };
    Some(if (nudged < 0) != (c < 0) { -(size as i64) } else { size as i64 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Source: floor((2 |a b| + |c|) / (2 |c|)) is the nearest whole number, halves up; the sign comes after.
        #[test]
        fn mul_div_is_the_nearest_whole_number(
            a in prop_oneof![any::<i64>(), -100_000_i64..100_000],
            b in prop_oneof![any::<i64>(), -100_000_i64..100_000],
            c in prop_oneof![any::<i64>(), -100_i64..100].prop_filter("no quotient", |c| *c != 0),
        ) {
            let (product, divisor) = (i128::from(a) * i128::from(b), i128::from(c));
            let size = (product.unsigned_abs() * 2 + divisor.unsigned_abs()) / (divisor.unsigned_abs() * 2);
            let signed = size as i128 * product.signum() * divisor.signum();
            let saturated = signed.clamp(i64::MIN.into(), i64::MAX.into());
            prop_assert_eq!(i128::from(mul_div(a, b, c)), saturated);
        }
    }

    #[test]
    fn nothing_happens_at_2_to_the_32_microseconds() {
        let before = Instant::from_micros((1 << 32) - 1);
        let after = before.plus(Span::from_micros(2));
        assert_eq!(after.as_micros(), (1 << 32) + 1);
        assert_eq!(after.since(before), Span::from_micros(2));
        assert_eq!(before.since(after), Span::from_micros(-2));
    }

    #[test]
    fn instants_stop_at_boot_and_at_the_end() {
        assert_eq!(Instant::BOOT.plus(Span::from_secs(-1)), Instant::BOOT);
        assert_eq!(Instant::MAX.plus(Span::from_secs(1)), Instant::MAX);
        assert_eq!(Instant::MAX.since(Instant::BOOT), Span::MAX);
    }

    #[test]
    fn mul_div_rounds_to_nearest_whatever_the_signs() {
        // Worked by hand: 7 * 3 / 2 = 10.5, halves away from zero.
        assert_eq!(mul_div(7, 3, 2), 11);
        assert_eq!(mul_div(-7, 3, 2), -11);
        assert_eq!(mul_div(7, 3, -2), -11);
        assert_eq!(mul_div(-7, 3, -2), 11);
        assert_eq!(mul_div(5, 1, 3), 2);
        assert_eq!(mul_div(1, 1, 0), 0);
        assert_eq!(mul_div(i64::MAX, i64::MAX, 1), i64::MAX);
    }

    #[test]
    fn thirty_ppm_is_nine_milliseconds_in_three_hundred_seconds() {
        // Arithmetic: 300 s * 30e-6 = 9 ms.
        let long = Span::from_secs(300).stretched(PartsPerBillion::from_ppb(30_000));
        assert_eq!(long - Span::from_secs(300), Span::from_millis(9));
    }

    #[test]
    fn deviations_add_by_root_sum_square() {
        let sum = Span::root_sum_square(&[Span::from_micros(3), Span::from_micros(-4)]);
        assert_eq!(sum, Span::from_micros(5));
    }
}
