//! How fast the exhaust gas heats, and when it will be at a limit if it goes on like this.
//!
//! Three things stand between the gas and a number to act on, and each has its answer here:
//!
//! * *Noise and single wild reads.* Each read is replaced by the median of itself and its two neighbours; fifteen
//!   of those are kept, in three blocks of five, and a straight line by least squares goes through each block.
//! * *The thermocouple's lag.* A junction that follows with a time constant T shows the gas of `value + T * rate`
//!   (first-order lag, any handbook of measurement). So each block gives the gas as it was in its middle.
//! * *The curve.* A start that will peak below the limit heats ever more slowly. Two rates come out of three blocks;
//!   each further step is taken to be smaller than the one before as the second was smaller than the first (a
//!   geometric series). A rise that gathers pace is carried on at its older, smaller rate: the instant of light-off
//!   is steep in every start.
//!
//! That takes 1.4 s of reads, and a violent start leaves less. So a second answer comes from the last six reads alone:
//! what the junction will show shortly if the gas stays as it is.
//!
//! This file knows the units. Temperatures flow in, a moment flows out.

use crate::units::{Instant, MilliCelsius, Span, mul_div};

/// Reads in a block: at ten a second the block is 0.4 s long.
const BLOCK: usize = 5;

/// Reads kept.
const READS: usize = 3 * BLOCK;

/// Reads kept as they came: two times three for two rates.
const RAWS: usize = 6;

/// Reads closer together than this are passed over, so that quick chips do not shorten the blocks.
const CLOSEST_MS: u32 = 80;

/// After such a gap the older reads say nothing about the present.
const GAP_MS: u32 = 1_000;

/// A limit farther off than so many steps is no news.
const STEPS: u8 = 20;

/// Shrinking of one step to the next, in parts of this.
const WHOLE: i64 = 1_024;

/// A step that is shorter by less than this part may be so by noise alone: it counts as no shorter.
const GRACE: i64 = WHOLE / 8;

/// A read may be lower than the one before it by this for noise alone: 8 degrees.
const NOISE_DECI: i32 = 80;

/// One temperature: 0.1 degrees, milliseconds of the board's clock as far as 32 bits hold them.
#[derive(Clone, Copy, Debug, Default)]
struct Read {
    at_ms: u32,
    deci: i32,
}

/// The last reads, and what they come to.
#[derive(Clone, Debug, Default)]
pub(super) struct Rise {
    /// The last ones as they came, oldest first.
    raw: [Read; RAWS],
    /// Medians, oldest first; the last `count` of them are in use.
    reads: [Read; READS],
    raws: u8,
    count: u8,
}

/// The gas in the middle of a block.
#[derive(Clone, Copy)]
struct Gas {
    /// Before the newest read, so never positive.
    at_ms: i64,
    deci: i64,
}

impl Rise {
    /// Takes a temperature; says whether it was used.
    pub(super) fn read(&mut self, at: Instant, egt: MilliCelsius) -> bool {
        let read = Read { at_ms: millis(at), deci: egt.as_milli() / 100 };
        let [.., older, newest] = self.raw;
        let gap = read.at_ms.wrapping_sub(newest.at_ms);
        if self.raws > 0 && gap < CLOSEST_MS {
            return false;
        }
        if gap > GAP_MS {
            self.forget();
        }
        self.raw.rotate_left(1);
        if let Some(last) = self.raw.last_mut() {
            *last = read;
        }
        self.raws = self.raws.saturating_add(1).min(RAWS as u8);
        if self.raws >= 3 {
            let deci = median(older.deci, newest.deci, read.deci);
            self.reads.rotate_left(1);
            if let Some(last) = self.reads.last_mut() {
                *last = Read { at_ms: newest.at_ms, deci };
            }
            self.count = self.count.saturating_add(1).min(READS as u8);
        }
        true
    }

    /// Nothing is known of the temperature any more.
    pub(super) fn forget(&mut self) {
        (self.raws, self.count) = (0, 0);
    }

    /// The newest temperature that a single wild read cannot have made.
    pub(super) fn level(&self) -> Option<MilliCelsius> {
        self.reads.last().filter(|_| self.count > 0).map(celsius)
    }

    /// The one before that.
    pub(super) fn before(&self) -> Option<MilliCelsius> {
        self.reads.iter().rev().nth(1).filter(|_| self.count > 1).map(celsius)
    }

    /// The oldest temperature kept.
    pub(super) fn oldest(&self) -> Option<MilliCelsius> {
        let first = READS.saturating_sub(usize::from(self.count));
        self.reads.get(first).map(celsius)
    }

    /// What the junction will show two thirds of its lag from now, as its rate changes; nothing before six reads.
    ///
    /// A junction that lags behind steady gas by T comes nearer to it by half in the first 0.7 T (first-order lag);
    /// its end is the gas itself, so this never says more than the gas has.
    pub(super) fn soon(&self, lag: Span) -> Option<MilliCelsius> {
        let [a, _, c, d, _, f] = self.raw;
        if usize::from(self.raws) < RAWS {
            return None;
        }
        let per_second = |from: Read, to: Read| {
            mul_div(i64::from(to.deci - from.deci), 1_000, i64::from(to.at_ms.wrapping_sub(from.at_ms)))
        };
        let (older, newer) = (per_second(a, c), per_second(d, f));
        // From the middle of the newer three to the last read is a third of the way from middle to middle.
        let rate = newer + (newer - older) / 3;
        let ahead = mul_div(rate, lag.as_micros(), 1_500_000);
        let deci = i64::from(f.deci).saturating_add(ahead);
        Some(MilliCelsius::from_milli(i32::try_from(deci.saturating_mul(100)).unwrap_or(i32::MAX)))
    }

    /// What the junction will show so long from now if the last five reads go on as a parabola's end does, in 0.1
    /// degrees, and the milliseconds that all six kept took. Only for a rise in which no read is wild: each is above
    /// the one before, but for noise.
    ///
    /// Value and slope at the end of a parabola by least squares through five even reads: weights (3, -5, -3, 9, 31) /
    /// 35 and (26, -27, -40, -13, 54) / 70 (smoothing polynomials, worked by hand).
    pub(super) fn ahead(&self, ahead: Span) -> Option<(i64, i64)> {
        let [first, reads @ ..] = &self.raw;
        let [oldest, .., newest] = reads;
        let mut pairs = self.raw.iter().zip(reads);
        if usize::from(self.raws) < RAWS || !pairs.all(|(older, newer)| rises(older, newer)) {
            return None;
        }
        let sum = |weights: [i64; 5]| {
            let terms =
                reads.iter().zip(weights).map(|(read, weight)| weight.saturating_mul(i64::from(read.deci)));
            terms.fold(0_i64, i64::saturating_add)
        };
        let span_ms = i64::from(newest.at_ms.wrapping_sub(oldest.at_ms)).max(1);
        let (value, slope) = (sum([3, -5, -3, 9, 31]) / 35, sum([26, -27, -40, -13, 54]));
        let more = mul_div(slope, ahead.as_micros().saturating_mul(4), span_ms.saturating_mul(70_000));
        Some((value.saturating_add(more), i64::from(newest.at_ms.wrapping_sub(first.at_ms))))
    }

    /// How long from `at` until the gas is at `limit`, if it goes on like this; nothing when it will not be, or not
    /// soon, or too little is known.
    pub(super) fn until(&self, at: Instant, limit: MilliCelsius, lag: Span) -> Option<Span> {
        if usize::from(self.count) < READS {
            return None;
        }
        let lag_ms = lag.as_micros() / 1_000;
        let [old, mid, new] = [0, 1, 2].map(|block| self.block(block, lag_ms));
        let (limit, age_ms) = (i64::from(limit.as_milli() / 100), self.age_ms(at) - new?.at_ms);
        let after_ms = steps(old?, mid?, new?, limit)?;
        Some(Span::from_millis((after_ms - age_ms).max(0)))
    }

    /// How old the newest median is, milliseconds.
    fn age_ms(&self, at: Instant) -> i64 {
        let newest = self.reads.last().map_or(0, |read| read.at_ms);
        i64::from(millis(at).wrapping_sub(newest))
    }

    /// The gas in the middle of a block, by least squares, led by the probe's lag.
    fn block(&self, block: usize, lag_ms: i64) -> Option<Gas> {
        let newest = self.reads.last()?.at_ms;
        let from = block.saturating_mul(BLOCK);
        let reads = self.reads.get(from..from.saturating_add(BLOCK))?;
        let before = |read: &Read| -i64::from(newest.wrapping_sub(read.at_ms));
        let count = BLOCK as i64;
        let at_ms = reads.iter().map(before).sum::<i64>() / count;
        let sum: i64 = reads.iter().map(|read| i64::from(read.deci)).sum();
        let (mut along, mut square) = (0_i64, 0_i64);
        for read in reads {
            let off = before(read) - at_ms;
            along = along.saturating_add(off.saturating_mul(i64::from(read.deci)));
            square = square.saturating_add(off.saturating_mul(off));
        }
        // The middle is rounded to a millisecond: what that leaves of the sum's own weight is taken off.
        let lean = reads.iter().map(before).sum::<i64>() - at_ms * count;
        let along = along - mul_div(lean, sum, count);
        Some(Gas { at_ms, deci: sum / count + mul_div(along, lag_ms, square) })
    }
}

/// Milliseconds from the newest block's middle until the limit, in steps as long as that from block to block.
fn steps(old: Gas, mid: Gas, new: Gas, limit: i64) -> Option<i64> {
    if new.deci >= limit {
        return Some(0);
    }
    let (step_ms, before_ms) = (new.at_ms - mid.at_ms, mid.at_ms - old.at_ms);
    let latest = new.deci - mid.deci;
    let before = mul_div(mid.deci - old.deci, step_ms, before_ms);
    if latest <= 0 || before <= 0 {
        return None;
    }
    let shrinks = mul_div(latest, WHOLE, before).saturating_add(GRACE).min(WHOLE);
    let (mut rise, mut at, mut after_ms) = (latest.min(before), new.deci, 0);
    for _ in 0..STEPS {
        rise = mul_div(rise, shrinks, WHOLE);
        if rise <= 0 {
            return None;
        }
        if at + rise >= limit {
            return Some(after_ms + mul_div(limit - at, step_ms, rise));
        }
        (at, after_ms) = (at + rise, after_ms + step_ms);
    }
    None
}

/// The second of two reads is no lower than the first, but for noise.
const fn rises(older: &Read, newer: &Read) -> bool {
    newer.deci >= older.deci - NOISE_DECI
}

fn millis(at: Instant) -> u32 {
    (at.as_micros() / 1_000) as u32
}

fn celsius(read: &Read) -> MilliCelsius {
    MilliCelsius::from_milli(read.deci.saturating_mul(100))
}

const fn median(a: i32, b: i32, c: i32) -> i32 {
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    if c < low {
        low
    } else if c > high {
        high
    } else {
        c
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAG: Span = Span::from_millis(700);

    fn fed(curve: impl Fn(f64) -> f64, until_s: f64) -> (Rise, Instant) {
        let (mut rise, mut at) = (Rise::default(), Instant::BOOT);
        let mut read = 0_u32;
        while f64::from(read) * 0.1 <= until_s + 1e-9 {
            let t = f64::from(read) * 0.1;
            at = Instant::from_micros(1_000_000 + u64::from(read) * 100_000);
            rise.read(at, MilliCelsius::from_milli((curve(t) * 1e3) as i32));
            read += 1;
        }
        (rise, at)
    }

    fn limit(degrees: i32) -> MilliCelsius {
        MilliCelsius::from_milli(degrees * 1_000)
    }

    /// Arithmetic: at 100 degrees a second, behind a lag of 0.7 s, the gas is 70 degrees ahead of the junction.
    /// From 500 shown it is 570; to 900 are 330 degrees more, 3.3 s.
    #[test]
    fn a_steady_rise_reaches_the_limit_when_arithmetic_says() {
        let (rise, at) = fed(|t| 100.0 * t, 5.0);
        let until = rise.until(at, limit(900), LAG).unwrap();
        assert!((until.as_micros() - 3_300_000).abs() < 20_000, "{until:?}");
    }

    /// The step response of a first-order lag of 0.7 s (any handbook of measurement): the gas stands at 600 all
    /// the while, however fast the junction follows.
    #[test]
    fn a_lagging_junction_in_steady_gas_is_no_rise() {
        let (rise, at) = fed(|t| if t < 1.0 { 20.0 } else { 600.0 - 580.0 * (-(t - 1.0) / 0.7).exp() }, 2.9);
        assert_eq!(rise.until(at, limit(900), LAG), None);
    }

    /// An approach with a time constant of 2 s to 850 never comes to 900; a straight line would, in 0.9 s.
    #[test]
    fn a_rise_that_levels_off_below_the_limit_is_not_near_it() {
        let (rise, at) = fed(|t| 850.0 - 800.0 * (-t / 2.0).exp(), 3.0);
        let until = rise.until(at, limit(900), Span::ZERO);
        assert!(until.is_none_or(|until| until > Span::from_millis(2_500)), "{until:?}");
    }

    /// A parabola goes on as its own formula says: 100 t^2 at 3.0 s is 900, and its tangent adds 600 in a second.
    #[test]
    fn a_look_ahead_follows_the_tangent_of_a_parabola() {
        let (rise, _) = fed(|t| 100.0 * t * t, 3.0);
        let (ahead, span_ms) = rise.ahead(Span::from_secs(1)).unwrap();
        assert!((ahead - 15_000).abs() <= 20 && span_ms == 500, "{ahead} {span_ms}");
        let (wild, _) = fed(|t| if (t - 2.8).abs() < 0.01 { 100.0 } else { 100.0 * t * t }, 3.0);
        assert_eq!(wild.ahead(Span::from_secs(1)), None);
    }

    #[test]
    fn one_wild_read_changes_nothing() {
        let (rise, at) = fed(|t| if (t - 3.5).abs() < 0.01 { 1_300.0 } else { 600.0 }, 4.0);
        assert_eq!((rise.until(at, limit(900), LAG), rise.level()), (None, Some(limit(600))));
    }

    #[test]
    fn a_gap_or_too_few_reads_give_no_answer() {
        let (mut rise, at) = fed(|t| 300.0 * t, 1.5);
        assert_eq!(rise.until(at, limit(900), LAG), None, "fourteen medians");
        let (full, at) = fed(|t| 300.0 * t, 1.7);
        assert!(full.until(at, limit(900), LAG).is_some());
        rise.read(at.plus(Span::from_secs(2)), limit(880));
        assert_eq!(rise.level(), None);
    }
}
