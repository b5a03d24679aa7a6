//! How the turbine spools up: the share of the boat's full pull, from the moment the throttle was opened.
//!
//! The share is 1 - exp(-t / lag). What a step of time gains is the pull times the integral of the share over
//! it, which is the step less what lag x exp(-t / lag) falls by on the way. After six lags the engine counts as
//! spooled up: what is missing then, pull x lag x exp(-6), is under a centimetre a second.
//!
//! Knows the boat's lag. Ticks in, ticks out; see `curves` for the units.

use super::curves::TICKS;
use crate::units::{Span, mul_div};

/// Steps of the table in one lag.
const PER_LAG: i64 = 32;

/// After so many lags the engine counts as spooled up.
const LAGS: i64 = 6;

/// A lag, made ready.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spool {
    /// The time constant.
    lag: i32,
    /// Steps of the table in a tick, in units of 2^-24.
    per_tick: u32,
    /// From here on the engine counts as spooled up.
    done: i32,
}

/// A step of time, and what the lag still takes at its middle and its end; its worth in full pull is its length
/// less what that falls by.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spooling {
    pub step: i32,
    pub at_middle: i32,
    pub at_end: i32,
}

/// exp(-1/8), exp(-1/4) and exp(-1/2), in units of 2^-14.
const EIGHTH: i32 = 14_459;
const QUARTER: i32 = 12_760;
const HALF: i32 = 9_937;

impl Spool {
    /// Of no boat yet.
    pub const NONE: Self = Self { lag: 0, per_tick: 0, done: 0 };

    pub fn new(lag: Span) -> Self {
        let lag = ticks_of(lag).clamp(0, 4 * TICKS);
        let per_tick = if lag > 0 { (PER_LAG << 24) / lag } else { 0 };
        Self {
            lag: i32::try_from(lag).unwrap_or(0),
            per_tick: u32::try_from(per_tick).unwrap_or(u32::MAX),
            done: i32::try_from(LAGS * lag).unwrap_or(0),
        }
    }

    /// True when the throttle has been open long enough.
    pub const fn is_done(&self, open_for: i32) -> bool {
        open_for >= self.done
    }

    /// The time constant.
    pub const fn lag(&self) -> i32 {
        self.lag
    }

    /// When the engine is spooled up.
    pub const fn done(&self) -> i32 {
        self.done
    }

    /// The next step: a quarter of a lag, half a lag after four of them.
    ///
    /// `missing` is what the lag still takes at its beginning. It falls by the same factor in every step alike; with
    /// the last one nothing is left to be missed.
    pub fn next(&self, open_for: i32, missing: i32) -> Spooling {
        let (step, middle, end) = if open_for < 4 * self.lag {
            (self.lag / 4, EIGHTH, QUARTER)
        } else {
            (self.lag / 2, QUARTER, HALF)
        };
        let step = step.max(1);
        let left = |factor: i32| (missing * factor) >> 14;
        let at_end = if self.is_done(open_for + step) { 0 } else { left(end) };
        Spooling { step, at_middle: left(middle), at_end }
    }

    /// Any step up to half a lag.
    pub fn over(&self, open_for: i32, step: i32) -> Spooling {
        let (at_middle, at_end) = (self.missing(open_for + step / 2), self.missing(open_for + step));
        Spooling { step, at_middle, at_end }
    }

    /// lag x exp(-t / lag): what is still to be missed of full pull.
    pub fn missing(&self, open_for: i32) -> i32 {
        if self.is_done(open_for) {
            return 0;
        }
        let place = (i64::from(open_for.max(0)) * i64::from(self.per_tick)) >> 8;
        let (step, part) = ((place >> 16) as usize, (place & 0xFFFF) as i32);
        let decay = match DECAY.get(step..) {
            Some([a, b, ..]) => i32::from(*a) - (((i32::from(*a) - i32::from(*b)) * part) >> 16),
            _ => 0,
        };
        // 17 bits of lag times 14 of decay.
        (self.lag * (decay >> 2)) >> 14
    }

    /// How long the throttle has been open, by the share of full pull that is seen: thousandths.
    ///
    /// Less than nothing is nothing: a boat that slows down is taken for one that holds its speed.
    pub fn open_for(&self, share_permille: i32) -> i32 {
        let missing = ((1_000 - share_permille.clamp(0, 1_000)) * 65_535) / 1_000;
        let step = DECAY.partition_point(|decay| i32::from(*decay) > missing).saturating_sub(1);
        let part = match DECAY.get(step..) {
            Some([a, b, ..]) => ((i32::from(*a) - missing) << 10) / (i32::from(*a) - i32::from(*b)).max(1),
            _ => 0,
        };
        let steps = (i64::try_from(step).unwrap_or(0) << 10) + i64::from(part.clamp(0, 1 << 10));
        i32::try_from(mul_div(steps, i64::from(self.lag), PER_LAG << 10)).unwrap_or(0)
    }

    /// A share below nothing, in thousandths: how long after the throttle is opened it is still below, and what full
    /// pull would gain in the time that is lost by then.
    ///
    /// The gap, 1 - share, closes by exp(-t / lag). It is one, and the share nothing, after lag x ln(1 - share); the
    /// share's integral until then is that time plus lag x share.
    pub fn idle(&self, share_permille: i32) -> (i32, i32) {
        let below = -share_permille.clamp(-1_000, 0);
        let idle = self.open_for(1_000 * below / (1_000 + below));
        (idle, (self.lag * below / 1_000 - idle).max(0))
    }
}

/// To the nearest tick.
pub(super) const fn ticks_of(span: Span) -> i64 {
    mul_div(span.as_micros(), TICKS, 1_000_000)
}

/// round(65535 exp(-k / 32)) for k = 0 to 192, computed in double precision.
#[rustfmt::skip]
const DECAY: [u16; (LAGS * PER_LAG) as usize + 1] = [
    65_535, 63_519, 61_564, 59_670, 57_834, 56_055, 54_330, 52_659, 51_039, 49_468, 47_946, 46_471, 45_042,
    43_656, 42_313, 41_011, 39_749, 38_526, 37_341, 36_192, 35_078, 33_999, 32_953, 31_939, 30_957, 30_004,
    29_081, 28_186, 27_319, 26_479, 25_664, 24_874, 24_109, 23_367, 22_648, 21_951, 21_276, 20_622, 19_987,
    19_372, 18_776, 18_198, 17_639, 17_096, 16_570, 16_060, 15_566, 15_087, 14_623, 14_173, 13_737, 13_314,
    12_905, 12_508, 12_123, 11_750, 11_388, 11_038, 10_698, 10_369, 10_050, 9_741, 9_441, 9_151, 8_869,
    8_596, 8_332, 8_075, 7_827, 7_586, 7_353, 7_127, 6_907, 6_695, 6_489, 6_289, 6_096, 5_908, 5_726,
    5_550, 5_379, 5_214, 5_054, 4_898, 4_747, 4_601, 4_460, 4_323, 4_190, 4_061, 3_936, 3_815, 3_697,
    3_583, 3_473, 3_366, 3_263, 3_162, 3_065, 2_971, 2_879, 2_791, 2_705, 2_622, 2_541, 2_463, 2_387,
    2_314, 2_242, 2_173, 2_107, 2_042, 1_979, 1_918, 1_859, 1_802, 1_746, 1_693, 1_641, 1_590, 1_541,
    1_494, 1_448, 1_403, 1_360, 1_318, 1_278, 1_238, 1_200, 1_163, 1_128, 1_093, 1_059, 1_027, 995, 964,
    935, 906, 878, 851, 825, 800, 775, 751, 728, 706, 684, 663, 642, 623, 604, 585, 567, 550, 533, 516,
    500, 485, 470, 456, 442, 428, 415, 402, 390, 378, 366, 355, 344, 333, 323, 313, 303, 294, 285, 276,
    268, 260, 252, 244, 236, 229, 222, 215, 209, 202, 196, 190, 184, 178, 173, 168, 162,
];

#[cfg(test)]
mod tests {
    use super::*;

    /// A first-order lag, by its definition: after one lag 1 - 1/e of the gap is closed.
    #[test]
    fn what_a_step_is_worth_is_the_integral_of_a_first_order_lag() {
        let spool = Spool::new(Span::from_millis(1_300));
        let lag = 1.3;
        for (from, step) in [(0.0, 0.1), (0.0, 1.3), (0.7, 0.325), (2.0, 1.0), (5.0, 0.5)] {
            let ticks = |s: f64| (s * TICKS as f64).round() as i32;
            let exact = step - lag * (f64::exp(-from / lag) - f64::exp(-(from + step) / lag));
            let fallen = spool.missing(ticks(from)) - spool.over(ticks(from), ticks(step)).at_end;
            let ours = f64::from(ticks(step) - fallen) / TICKS as f64;
            assert!((ours - exact).abs() < 5e-4, "{from} {step}: {ours} {exact}");
        }
    }

    #[test]
    fn step_by_step_the_lag_takes_what_it_takes_at_once() {
        let spool = Spool::new(Span::from_millis(1_300));
        let (mut open_for, mut missing) = (0, spool.missing(0));
        while !spool.is_done(open_for) {
            let step = spool.next(open_for, missing);
            (open_for, missing) = (open_for + step.step, step.at_end);
            assert!((missing - spool.missing(open_for)).abs() <= 60, "{open_for}: {missing}");
        }
    }

    #[test]
    fn a_share_of_the_pull_tells_how_long_the_throttle_has_been_open() {
        let spool = Spool::new(Span::from_secs(1));
        // ln 2 lags for half of it, none for none and for less than none.
        let half = f64::from(spool.open_for(500)) / TICKS as f64;
        assert!((half - 2_f64.ln()).abs() < 0.04, "{half}");
        assert_eq!(spool.open_for(-300), 0);
        assert!(spool.is_done(spool.open_for(1_000)));
    }

    #[test]
    fn without_a_lag_the_engine_is_always_spooled_up() {
        assert!(Spool::new(Span::ZERO).is_done(0));
    }
}
