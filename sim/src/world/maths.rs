//! The few functions beyond + - * / and the square root, with the same bits on every machine.
//!
//! The platform's own `sin` or `ln` may differ in the last bit between processors and systems; a heat drawn
//! from one seed must not. Each function here is a power series on a reduced argument, in IEEE basic
//! operations alone, good to a few units in the last place over the range stated.
//!
//! This room knows nothing of the world.

use core::f64::consts::{FRAC_PI_2, LN_2, PI, SQRT_2, TAU};

use firmware::units::Span;

/// Race time in seconds.
#[must_use]
pub fn seconds(t: Span) -> f64 {
    t.as_micros() as f64 * 1e-6
}

/// Race time from seconds, to the nearest microsecond.
#[must_use]
pub fn span(seconds: f64) -> Span {
    Span::from_micros(round(seconds * 1e6))
}

/// The nearest whole number, halves away from zero; out of range it stops at the ends of `i64`.
#[must_use]
pub fn round(x: f64) -> i64 {
    (if x < 0.0 { x - 0.5 } else { x + 0.5 }) as i64
}

/// `c[0] + c[1] x + c[2] x^2 + ...` by Horner's rule, two terms at a time.
#[inline]
#[must_use]
pub fn polynomial(c: &[f64], x: f64) -> f64 {
    let x2 = x * x;
    c.chunks(2).rev().fold(0.0, |sum, pair| match pair {
        [even, odd] => sum * x2 + (even + odd * x),
        [even] => sum * x2 + even,
        _ => sum,
    })
}

/// 1/n!: the exponential series.
const EXP: [f64; 17] = [
    1.0,
    1.0,
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
    1.0 / 87_178_291_200.0,
    1.0 / 1_307_674_368_000.0,
    1.0 / 20_922_789_888_000.0,
];

/// The odd terms of the exponential series with alternating signs: the sine over its argument.
const SIN: [f64; 8] = [EXP[1], -EXP[3], EXP[5], -EXP[7], EXP[9], -EXP[11], EXP[13], -EXP[15]];

/// The even terms likewise: the cosine.
const COS: [f64; 9] = [EXP[0], -EXP[2], EXP[4], -EXP[6], EXP[8], -EXP[10], EXP[12], -EXP[14], EXP[16]];

/// 1/(2n + 1): the series of artanh, and with alternating signs of arctan, over its argument.
const ODD: [f64; 12] = [
    1.0,
    1.0 / 3.0,
    1.0 / 5.0,
    1.0 / 7.0,
    1.0 / 9.0,
    1.0 / 11.0,
    1.0 / 13.0,
    1.0 / 15.0,
    1.0 / 17.0,
    1.0 / 19.0,
    1.0 / 21.0,
    1.0 / 23.0,
];

/// The first 33 bits of pi / 2, so that a few turns of it are exact, and the rest.
const QUARTER: f64 = f64::from_bits(0x3FF9_21FB_5440_0000);
const QUARTER_REST: f64 = 6.077_100_506_506_192e-11;

/// Sine and cosine of an angle of at most some hundred turns.
#[must_use]
pub fn sin_cos(x: f64) -> (f64, f64) {
    let quarter = round(x / FRAC_PI_2);
    let r = (x - quarter as f64 * QUARTER) - quarter as f64 * QUARTER_REST;
    let (sin, cos) = (r * polynomial(&SIN, r * r), polynomial(&COS, r * r));
    match quarter.rem_euclid(4) {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    }
}

/// Natural logarithm of a positive, normal number.
#[must_use]
pub fn ln(x: f64) -> f64 {
    let bits = x.to_bits();
    let mut exponent = (bits >> 52) as i64 - 1_023;
    let mut mantissa = f64::from_bits(bits & 0x000F_FFFF_FFFF_FFFF | 0x3FF0_0000_0000_0000);
    if mantissa > SQRT_2 {
        mantissa *= 0.5;
        exponent += 1;
    }
    // ln m = 2 artanh((m - 1) / (m + 1))
    let s = (mantissa - 1.0) / (mantissa + 1.0);
    let q = s * s;
    exponent as f64 * LN_2 + 2.0 * s * polynomial(&ODD, q)
}

/// e to the power of `x`, for -700 < x < 700; nothing below that.
#[must_use]
pub fn exp(x: f64) -> f64 {
    if x < -700.0 {
        return 0.0;
    }
    let doublings = round(x.min(700.0) / LN_2);
    let r = x.min(700.0) - doublings as f64 * LN_2;
    polynomial(&EXP, r) * f64::from_bits(((doublings + 1_023) as u64) << 52)
}

/// The angle of the vector (`x`, `y`) from the x axis, -pi to pi; zero for no vector at all.
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    let (small, large) = if y.abs() < x.abs() { (y.abs(), x.abs()) } else { (x.abs(), y.abs()) };
    if large == 0.0 {
        return 0.0;
    }
    let steep = y.abs() >= x.abs();
    let first = atan_up_to_1(small / large);
    let from_axis = if steep { FRAC_PI_2 - first } else { first };
    let angle = if x < 0.0 { PI - from_axis } else { from_axis };
    if y < 0.0 { -angle } else { angle }
}

/// Arc tangent for 0 <= x <= 1: the half-angle rule twice, then the series.
fn atan_up_to_1(x: f64) -> f64 {
    let half = x / (1.0 + (1.0 + x * x).sqrt());
    let quarter = half / (1.0 + (1.0 + half * half).sqrt());
    4.0 * quarter * polynomial(&ODD, -quarter * quarter)
}

/// The same angle between 0 and a full turn.
#[must_use]
pub fn once_round(angle: f64) -> f64 {
    let turns = (angle / TAU).floor();
    angle - turns * TAU
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The standard library is the reference here; it is only kept out of what must repeat bit for bit.
    #[test]
    fn the_series_agree_with_the_standard_library() {
        for k in -5_000..=5_000 {
            let x = f64::from(k) * 0.01;
            let (sin, cos) = sin_cos(x);
            assert!((sin - x.sin()).abs() < 1e-15 && (cos - x.cos()).abs() < 1e-15, "sin, cos {x}");
            assert!((exp(x) / x.exp() - 1.0).abs() < 1e-14, "exp {x}");
            assert!((ln(x.exp()) - x).abs() < 1e-14 * (1.0 + x.abs()), "ln {x}");
            let (y, z) = ((3.0 * x).sin(), (5.0 * x + 1.0).cos());
            assert!((atan2(y, z) - y.atan2(z)).abs() < 2e-15, "atan2 {y} {z}");
        }
    }

    #[test]
    fn an_angle_goes_once_round() {
        assert!((once_round(-0.5) - (TAU - 0.5)).abs() < 1e-15);
        assert!((once_round(TAU + 0.5) - 0.5).abs() < 1e-15);
    }
}
