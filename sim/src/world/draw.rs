//! Chance: every draw of a heat, from one seed, in streams that do not disturb each other.
//!
//! Each [`Purpose`] has a stream of its own, so that one more draw for one sensor moves no other sensor's.
//! The mapping from random words to numbers is done here, because libraries change theirs between releases.
//!
//! This room knows the maths and nothing of the world.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::maths::{ln, polynomial};

/// What a stream of draws is for. The number is the stream's and never changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The crystal's error.
    Crystal = 1,
    /// The driver's misjudgement of the start.
    Driver = 2,
    /// The driver's reactions.
    Thumb = 3,
    /// Bouncing contacts.
    Bounce = 4,
    /// The receiver's position.
    Position = 5,
    /// The receiver's velocity.
    Velocity = 6,
    /// How long the receiver takes to report.
    Latency = 7,
    /// The pulse per second.
    Pps = 8,
    /// The thermocouple.
    Probe = 9,
    /// The gas generator's pickup.
    N1 = 10,
    /// The power shaft's pickup.
    N2 = 11,
    /// Damage to the receiver's bytes.
    Garble = 12,
    /// How long a restart of the board takes.
    Restart = 13,
    /// How the boat is today.
    Boat = 14,
    /// Where the boat is when the last minutes begin.
    Milling = 15,
    /// What the driver sees and feels.
    Eyes = 16,
    /// How quickly his foot follows.
    Reflex = 17,
    /// How long the fuel takes to light.
    Light = 18,
    /// How a start at the dock is made, when many are drawn.
    Dock = 19,
    /// What goes wrong in a practice start.
    Practice = 20,
}

/// One stream of draws.
#[derive(Clone, Debug)]
pub struct Draw(ChaCha8Rng);

impl Draw {
    /// The stream for `purpose` in the heat of `seed`.
    #[must_use]
    pub fn new(seed: u64, purpose: Purpose) -> Self {
        let mut key = [0_u8; 32];
        for (to, from) in key.iter_mut().zip(seed.to_le_bytes()) {
            *to = from;
        }
        let mut rng = ChaCha8Rng::from_seed(key);
        rng.set_stream(purpose as u64);
        Self(rng)
    }

    /// Evenly between 0 and 1, neither of them ever.
    pub fn uniform(&mut self) -> f64 {
        let fraction = self.0.next_u64() >> 12;
        (fraction as f64 + 0.5) / 4_503_599_627_370_496.0 // 2^52
    }

    /// A whole number from 0 up to but not including `end`; zero when `end` is zero.
    pub fn below(&mut self, end: u32) -> u32 {
        ((u64::from(self.0.next_u32()) * u64::from(end)) >> 32) as u32
    }

    /// Evenly round zero, with a standard deviation.
    pub fn even(&mut self, sd: f64) -> f64 {
        const WIDTH: f64 = 3.464_101_615_137_754_6; // the square root of 12
        (self.uniform() - 0.5) * WIDTH * sd
    }

    /// From the normal distribution.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        mean + sd * normal_quantile(self.uniform())
    }
}

/// The value below which a standard normal variable falls with probability `p`, for 0 < p < 1.
///
/// M. J. Wichura, "Algorithm AS 241: The Percentage Points of the Normal Distribution", Applied Statistics
/// 37 (1988), routine PPND16: good to about 1 part in 10^16.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&CENTRE_NUM, r) / polynomial(&CENTRE_DEN, r);
    }
    let r = (-ln(if q < 0.0 { p } else { 1.0 - p })).sqrt();
    let tail = if r <= 5.0 {
        polynomial(&NEAR_NUM, r - 1.6) / polynomial(&NEAR_DEN, r - 1.6)
    } else {
        polynomial(&FAR_NUM, r - 5.0) / polynomial(&FAR_DEN, r - 5.0)
    };
    if q < 0.0 { -tail } else { tail }
}

const CENTRE_NUM: [f64; 8] = [
    3.387_132_872_796_366_5,
    1.331_416_678_917_843_8e2,
    1.971_590_950_306_551_3e3,
    1.373_169_376_550_946e4,
    4.592_195_393_154_987e4,
    6.726_577_092_700_87e4,
    3.343_057_558_358_813e4,
    2.509_080_928_730_122_7e3,
];
const CENTRE_DEN: [f64; 8] = [
    1.0,
    4.231_333_070_160_091e1,
    6.871_870_074_920_579e2,
    5.394_196_021_424_751e3,
    2.121_379_430_158_659_7e4,
    3.930_789_580_009_271e4,
    2.872_908_573_572_194_3e4,
    5.226_495_278_852_854e3,
];
const NEAR_NUM: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    2.417_807_251_774_506e-1,
    2.272_384_498_926_918_4e-2,
    7.745_450_142_783_414e-4,
];
const NEAR_DEN: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    6.897_673_349_851e-1,
    1.481_039_764_274_800_8e-1,
    1.519_866_656_361_645_7e-2,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_9e-9,
];
const FAR_NUM: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    2.965_605_718_285_048_7e-1,
    2.653_218_952_657_612_4e-2,
    1.242_660_947_388_078_4e-3,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const FAR_DEN: [f64; 8] = [
    1.0,
    5.998_322_065_558_88e-1,
    1.369_298_809_227_358e-1,
    1.487_536_129_085_061_5e-2,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_7e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Two-sided 68.27, 95 and 99.9 % points as every table of the normal distribution prints them, and two
    /// far points from the `NormalDist.inv_cdf` of Python's standard library.
    #[test]
    fn normal_quantiles_are_the_tabled_ones() {
        let table = [
            (0.5, 0.0),
            (0.841_344_746_068_543, 1.0),
            (0.975, 1.959_963_984_540_054),
            (0.999_5, 3.290_526_731_491_926),
            (1e-9, -5.997_807_015_007_686),
            (1e-15, -7.941_345_326_170_998),
        ];
        for (p, z) in table {
            assert!((normal_quantile(p) - z).abs() < 1e-12, "{p}: {}", normal_quantile(p));
        }
    }

    #[test]
    fn streams_of_one_seed_differ_and_repeat() {
        let first = |purpose| Draw::new(7, purpose).uniform().to_bits();
        assert_eq!(first(Purpose::Pps), first(Purpose::Pps));
        assert_ne!(first(Purpose::Pps), first(Purpose::Probe));
        assert_ne!(first(Purpose::Pps), Draw::new(8, Purpose::Pps).uniform().to_bits());
    }
}
