//! Type K thermocouples: temperature and electromotive force, in integers.
//!
//! The reference function of ITS-90 (NIST Monograph 175, NIST Standard Reference Database 60) is kept as a
//! table in steps of 5 degrees, with straight lines between. The numbers below were computed once from the
//! published coefficients, in 40-digit decimals, and rounded to the nanovolt; the published checks evaluate the
//! coefficients again and compare every entry. No float comes near the firmware.
//!
//! The straight lines are off by at most 0.008 degrees from -50 to 1,372 degrees and 0.04 degrees down to -200.
//! Below that a type K junction hardly answers to temperature, and the error grows to 0.5 degrees at -267.
//!
//! This file knows the units.

use crate::units::{MilliCelsius, Nanovolts, mul_div};

/// The lowest temperature at which the reference function is defined.
pub const LOWEST: MilliCelsius = MilliCelsius::from_milli(-270_000);
/// The highest temperature at which the reference function is defined.
pub const HIGHEST: MilliCelsius = MilliCelsius::from_milli(1_372_000);
/// The step of the table. Its last interval is shorter: it ends at [`HIGHEST`].
pub const STEP: MilliCelsius = MilliCelsius::from_milli(5_000);

/// The force of a junction at `hot` against one at 0 degrees; `None` outside the range of the function.
#[must_use]
pub fn emf(hot: MilliCelsius) -> Option<Nanovolts> {
    if hot < LOWEST || hot > HIGHEST {
        return None;
    }
    let (from, to) = interval(usize::try_from((hot - LOWEST).as_milli() / STEP.as_milli()).ok()?)?;
    let into = i64::from((hot - from.hot).as_milli());
    let width = i64::from((to.hot - from.hot).as_milli());
    Some(from.force + Nanovolts::from_nv(mul_div((to.force - from.force).as_nv(), into, width)))
}

/// The temperature of a junction that gives `force` against one at 0 degrees; `None` outside the range of the
/// function.
#[must_use]
pub fn temperature(force: Nanovolts) -> Option<MilliCelsius> {
    let above = FORCES_NV.partition_point(|&knot| i64::from(knot) <= force.as_nv());
    let (from, to) = interval(above.checked_sub(1)?)?;
    if force > to.force {
        return None;
    }
    let width = i64::from((to.hot - from.hot).as_milli());
    let into = mul_div((force - from.force).as_nv(), width, (to.force - from.force).as_nv());
    Some(from.hot + MilliCelsius::from_milli(i32::try_from(into).ok()?))
}

/// A point of the table.
struct Knot {
    hot: MilliCelsius,
    force: Nanovolts,
}

/// The points on both sides of interval `index`; the last point belongs to the last interval.
fn interval(index: usize) -> Option<(Knot, Knot)> {
    let index = index.min(FORCES_NV.len() - 2);
    Some((knot(index)?, knot(index + 1)?))
}

fn knot(index: usize) -> Option<Knot> {
    let steps = i32::try_from(index).ok()?.saturating_mul(STEP.as_milli());
    let hot = (LOWEST + MilliCelsius::from_milli(steps)).min(HIGHEST);
    Some(Knot { hot, force: Nanovolts::from_nv(i64::from(*FORCES_NV.get(index)?)) })
}

/// Nanovolts at -270, -265, ... 1,365, 1,370 and 1,372 degrees.
static FORCES_NV: [i32; 330] = [
    -6_457_738, -6_451_835, -6_441_090, -6_425_093, -6_403_606, -6_376_523, -6_343_828, -6_305_570,
    -6_261_838, -6_212_747, -6_158_424, -6_099_001, -6_034_608, -5_965_370, -5_891_404, -5_812_820,
    -5_729_720, -5_642_199, -5_550_347, -5_454_246, -5_353_976, -5_249_613, -5_141_233, -5_028_907,
    -4_912_708, -4_792_708, -4_668_978, -4_541_591, -4_410_619, -4_276_134, -4_138_211, -3_996_924,
    -3_852_348, -3_704_558, -3_553_631, -3_399_646, -3_242_679, -3_082_813, -2_920_126, -2_754_701,
    -2_586_621, -2_415_966, -2_242_821, -2_067_266, -1_889_383, -1_709_251, -1_526_948, -1_342_549,
    -1_156_131, -967_768, -777_540, -585_535, -391_854, -196_622, 0, 197_851, 396_862, 596_972, 798_120,
    1_000_242, 1_203_275, 1_407_149, 1_611_792, 1_817_128, 2_023_078, 2_229_555, 2_436_472, 2_643_734,
    2_851_249, 3_058_917, 3_266_642, 3_474_327, 3_681_879, 3_889_208, 4_096_230, 4_302_870, 4_509_060,
    4_714_746, 4_919_882, 5_124_438, 5_328_395, 5_531_749, 5_734_508, 5_936_695, 6_138_344, 6_339_499,
    6_540_216, 6_740_555, 6_940_588, 7_140_385, 7_340_023, 7_539_578, 7_739_124, 7_938_733, 8_138_473,
    8_338_407, 8_538_590, 8_739_071, 8_939_893, 9_141_089, 9_342_685, 9_544_702, 9_747_152, 9_950_040,
    10_153_369, 10_357_133, 10_561_326, 10_765_935, 10_970_948, 11_176_347, 11_382_118, 11_588_243,
    11_794_703, 12_001_483, 12_208_566, 12_415_935, 12_623_577, 12_831_479, 13_039_627, 13_248_010,
    13_456_620, 13_665_446, 13_874_481, 14_083_717, 14_293_149, 14_502_771, 14_712_576, 14_922_562,
    15_132_723, 15_343_054, 15_553_553, 15_764_215, 15_975_037, 16_186_014, 16_397_142, 16_608_418,
    16_819_837, 17_031_395, 17_243_088, 17_454_911, 17_666_860, 17_878_929, 18_091_113, 18_303_408,
    18_515_807, 18_728_306, 18_940_899, 19_153_579, 19_366_342, 19_579_180, 19_792_087, 20_005_058,
    20_218_086, 20_431_164, 20_644_286, 20_857_446, 21_070_635, 21_283_848, 21_497_078, 21_710_318,
    21_923_562, 22_136_801, 22_350_030, 22_563_241, 22_776_428, 22_989_584, 23_202_702, 23_415_775,
    23_628_796, 23_841_759, 24_054_656, 24_267_483, 24_480_231, 24_692_894, 24_905_467, 25_117_942,
    25_330_315, 25_542_577, 25_754_724, 25_966_750, 26_178_649, 26_390_415, 26_602_043, 26_813_528,
    27_024_863, 27_236_045, 27_447_068, 27_657_927, 27_868_617, 28_079_134, 28_289_474, 28_499_632,
    28_709_604, 28_919_386, 29_128_974, 29_338_365, 29_547_554, 29_756_539, 29_965_317, 30_173_883,
    30_382_236, 30_590_372, 30_798_289, 31_005_983, 31_213_454, 31_420_698, 31_627_713, 31_834_497,
    32_041_049, 32_247_366, 32_453_447, 32_659_290, 32_864_894, 33_070_258, 33_275_380, 33_480_259,
    33_684_895, 33_889_285, 34_093_431, 34_297_329, 34_500_981, 34_704_385, 34_907_541, 35_110_448,
    35_313_106, 35_515_515, 35_717_673, 35_919_582, 36_121_240, 36_322_647, 36_523_803, 36_724_708,
    36_925_362, 37_125_765, 37_325_915, 37_525_814, 37_725_461, 37_924_856, 38_123_998, 38_322_887,
    38_521_524, 38_719_907, 38_918_036, 39_115_912, 39_313_533, 39_510_899, 39_708_009, 39_904_863,
    40_101_461, 40_297_801, 40_493_883, 40_689_705, 40_885_267, 41_080_568, 41_275_606, 41_470_381,
    41_664_891, 41_859_135, 42_053_111, 42_246_817, 42_440_253, 42_633_416, 42_826_304, 43_018_915,
    43_211_248, 43_403_300, 43_595_069, 43_786_553, 43_977_749, 44_168_655, 44_359_268, 44_549_585,
    44_739_604, 44_929_322, 45_118_736, 45_307_843, 45_496_639, 45_685_123, 45_873_290, 46_061_138,
    46_248_663, 46_435_862, 46_622_731, 46_809_267, 46_995_468, 47_181_328, 47_366_846, 47_552_017,
    47_736_839, 47_921_307, 48_105_419, 48_289_171, 48_472_560, 48_655_584, 48_838_238, 49_020_520,
    49_202_427, 49_383_956, 49_565_105, 49_745_871, 49_926_251, 50_106_244, 50_285_848, 50_465_060,
    50_643_879, 50_822_304, 51_000_333, 51_177_965, 51_355_201, 51_532_039, 51_708_479, 51_884_522,
    52_060_168, 52_235_419, 52_410_275, 52_584_738, 52_758_810, 52_932_494, 53_105_793, 53_278_709,
    53_451_248, 53_623_412, 53_795_208, 53_966_640, 54_137_714, 54_308_436, 54_478_814, 54_648_856,
    54_818_569, 54_886_364,
];

#[cfg(test)]
mod tests {
    use super::*;

    fn every_degree() -> impl Iterator<Item = MilliCelsius> {
        (-270..=1_372).map(|degrees| MilliCelsius::from_milli(degrees * 1_000))
    }

    #[test]
    fn hotter_always_gives_more_force() {
        for hot in every_degree().filter(|&hot| hot < HIGHEST) {
            assert!(emf(hot) < emf(hot + MilliCelsius::from_milli(10)), "at {hot:?}");
        }
    }

    #[test]
    fn there_and_back_is_the_same_millidegree() {
        for hot in every_degree() {
            assert_eq!(emf(hot).and_then(temperature), Some(hot));
        }
    }

    #[test]
    fn outside_the_reference_function_there_is_no_answer() {
        let one = MilliCelsius::from_milli(1);
        assert!(emf(LOWEST - one).is_none() && emf(HIGHEST + one).is_none());
        assert!(emf(-MilliCelsius::MAX).is_none() && emf(MilliCelsius::MAX).is_none());
        // Range limits of the reference function: -6.457738 mV and 54.886364 mV.
        assert_eq!(temperature(Nanovolts::from_nv(-6_457_738)), Some(LOWEST));
        assert_eq!(temperature(Nanovolts::from_nv(-6_457_739)), None);
        assert_eq!(temperature(Nanovolts::from_nv(54_886_364)), Some(HIGHEST));
        assert_eq!(temperature(Nanovolts::from_nv(54_886_365)), None);
        assert!(temperature(-Nanovolts::MAX).is_none() && temperature(Nanovolts::MAX).is_none());
    }
}
