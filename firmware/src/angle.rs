//! Sine and cosine in whole numbers.
//!
//! The platform's floating-point functions differ in their last bits from machine to machine; a decision must
//! not. Here the sine of every whole degree is a table, and the remainder of at most half a degree is a short
//! series. The result is within three units of 2^-30, which is 0.02 mm in 5 km.
//!
//! This room knows units alone.

use crate::units::mul_div;

/// One, in the fixed-point format of this room: 2^30.
pub const ONE: i64 = 1 << 30;

/// Sine and cosine of an angle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SinCos {
    /// The sine, in units of 2^-30.
    pub sin: i64,
    /// The cosine, in units of 2^-30.
    pub cos: i64,
}

/// Sine and cosine of `nano_degrees`, any size and sign.
///
/// With `d` the nearest whole degree and `b` what remains: sin(d + b) = sin d cos b + cos d sin b, and likewise
/// for the cosine (the addition theorems).
#[must_use]
pub fn sin_cos(nano_degrees: i64) -> SinCos {
    const TURN: i64 = 360_000_000_000;
    const DEGREE: i64 = 1_000_000_000;
    let angle = nano_degrees.rem_euclid(TURN);
    let nearest = (angle + DEGREE / 2) / DEGREE;
    let rest = radians(angle - nearest * DEGREE);
    let near = SinCos { sin: sin_of_degree(nearest), cos: sin_of_degree(nearest + 90) };
    let small = small_angle(rest);
    SinCos {
        sin: scaled(near.sin, small.cos) + scaled(near.cos, small.sin),
        cos: scaled(near.cos, small.cos) - scaled(near.sin, small.sin),
    }
}

/// The angle of a direction, 0 to just under 360e9 nano-degrees: the other way round than [`sin_cos`].
///
/// With `d` the whole degree below it, the sine of the rest is sin cos d - cos sin d, and the rest is that and
/// a sixth of its cube. Within two units of 2^-30 radians; for setting up, not for every fix.
#[must_use]
pub fn angle_of(direction: SinCos) -> i64 {
    const RADIAN: i64 = 57_295_779_513;
    let SinCos { sin, cos } = direction;
    let (quarter, sin, cos) = match (sin >= 0, cos >= 0) {
        (true, true) => (0, sin, cos),
        (true, false) => (90, -cos, sin),
        (false, false) => (180, -sin, -cos),
        (false, true) => (270, cos, -sin),
    };
    let below = SIN_DEGREES.partition_point(|value| i64::from(*value) <= sin);
    let degree = i64::try_from(below).unwrap_or(1) - 1;
    let rest = scaled(sin, sin_of_degree(degree + 90)) - scaled(cos, sin_of_degree(degree));
    let rest = rest + scaled(scaled(rest, rest), rest) / 6;
    let angle = (quarter + degree) * 1_000_000_000 + mul_div(rest, RADIAN, ONE);
    angle.rem_euclid(360_000_000_000)
}

/// The product of two numbers of which one is in units of 2^-30, rounded to nearest.
///
/// Once and not at each of its thirty places: 128 bits take the board's processor 150 bytes.
#[must_use]
#[inline(never)]
pub const fn scaled(a: i64, b: i64) -> i64 {
    let product = a as i128 * b as i128;
    ((product + (1 << 29)) >> 30) as i64
}

/// An angle of at most a few degrees, from 1e-9 degrees to units of 2^-30 radians.
#[must_use]
pub const fn radians(nano_degrees: i64) -> i64 {
    // pi / 180e9 * 2^30 * 2^34, rounded: the factor in units of 2^-34.
    const FACTOR: i128 = 321_956_420;
    ((nano_degrees as i128 * FACTOR + (1 << 33)) >> 34) as i64
}

/// sin b = b - b^3/6, cos b = 1 - b^2/2 + b^4/24: below half a degree the next terms are under 2^-30.
const fn small_angle(b: i64) -> SinCos {
    let square = scaled(b, b);
    SinCos { sin: b - scaled(square, b) / 6, cos: ONE - square / 2 + scaled(square, square) / 24 }
}

/// The sine of a whole number of degrees, any size.
fn sin_of_degree(degree: i64) -> i64 {
    let degree = degree.rem_euclid(360);
    let (place, sign) = match degree {
        0..=90 => (degree, 1),
        91..=180 => (180 - degree, 1),
        181..=270 => (degree - 180, -1),
        _ => (360 - degree, -1),
    };
    let value = usize::try_from(place).ok().and_then(|place| SIN_DEGREES.get(place)).copied().unwrap_or(0);
    sign * i64::from(value)
}

/// round(2^30 sin d) for d = 0 to 90 degrees, computed in double precision.
#[rustfmt::skip]
const SIN_DEGREES: [i32; 91] = [
    0, 18_739_379, 37_473_049, 56_195_305, 74_900_443, 93_582_766, 112_236_583,
    130_856_211, 149_435_979, 167_970_228, 186_453_311, 204_879_599, 223_243_478, 241_539_355,
    259_761_657, 277_904_834, 295_963_357, 313_931_728, 331_804_471, 349_576_144, 367_241_333,
    384_794_656, 402_230_767, 419_544_355, 436_730_145, 453_782_903, 470_697_435, 487_468_587,
    504_091_252, 520_560_366, 536_870_912, 553_017_922, 568_996_477, 584_801_711, 600_428_808,
    615_873_009, 631_129_609, 646_193_961, 661_061_475, 675_727_625, 690_187_940, 704_438_018,
    718_473_518, 732_290_163, 745_883_746, 759_250_125, 772_385_229, 785_285_058, 797_945_680,
    810_363_241, 822_533_958, 834_454_122, 846_120_104, 857_528_349, 868_675_383, 879_557_810,
    890_172_315, 900_515_665, 910_584_710, 920_376_381, 929_887_697, 939_115_760, 948_057_759,
    956_710_970, 965_072_759, 973_140_576, 980_911_966, 988_384_560, 995_556_083, 1_002_424_350,
    1_008_987_269, 1_015_242_840, 1_021_189_159, 1_026_824_413, 1_032_146_887, 1_037_154_959, 1_041_847_103,
    1_046_221_891, 1_050_277_989, 1_054_014_162, 1_057_429_273, 1_060_522_280, 1_063_292_242, 1_065_738_315,
    1_067_859_754, 1_069_655_912, 1_071_126_243, 1_072_270_298, 1_073_087_729, 1_073_578_288, 1_073_741_824,
];

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Source: the host's own floating-point library, good to 1e-16.
        #[test]
        fn agrees_with_floating_point_to_three_units(nano in -720_000_000_000_i64..720_000_000_000) {
            let exact = (nano as f64 * 1e-9).to_radians();
            let ours = sin_cos(nano);
            prop_assert!((ours.sin as f64 - exact.sin() * ONE as f64).abs() <= 3.0);
            prop_assert!((ours.cos as f64 - exact.cos() * ONE as f64).abs() <= 3.0);
        }
    }

    proptest! {
        #[test]
        fn an_angle_comes_back_from_its_sine_and_cosine(nano in 0_i64..360_000_000_000) {
            // Two units of 2^-30 radians are 107 nano-degrees.
            let off = (angle_of(sin_cos(nano)) - nano).abs();
            prop_assert!(off.min(360_000_000_000 - off) <= 200, "{off}");
        }
    }

    #[test]
    fn quarter_turns_are_exact() {
        for (degrees, sin, cos) in
            [(0, 0, 1), (90, 1, 0), (180, 0, -1), (270, -1, 0), (360, 0, 1), (-90, -1, 0)]
        {
            assert_eq!(sin_cos(degrees * 1_000_000_000), SinCos { sin: sin * ONE, cos: cos * ONE });
        }
    }
}
