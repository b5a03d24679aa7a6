//! The boat's figures as curves over speed: how far and how long it takes to reach a speed, and to lose it.
//!
//! Flat out, the speed depends on nothing but the speed before. So one table says for every speed how far and
//! how long the boat ran to reach it from rest; a run from v to w is the difference of two entries, in closed
//! form, however long it is. Coasting down has a table of its own. This is what makes the planner cheap.
//!
//! Units inside the run-in: ways in eighths of a millimetre, times in ticks of 2^-15 s (31 us), speeds in mm/s,
//! all in 32 bits. Cells are 1,024 mm/s wide; within a cell the acceleration is constant. Near top speed the
//! acceleration is taken as at least 20 mm/s^2, so that top speed is reached at all.
//!
//! Knows the boat's figures. Made once, read often.

use super::boat::{BoatModel, SPEED_MAX};
use crate::units::MmPerSecond;

/// Ticks in a second.
pub(super) const TICKS: i64 = 1 << 15;

/// Eighths of a millimetre in a millimetre.
pub(super) const EIGHTHS: i32 = 8;

/// A cell's width is 2^10 mm/s.
const CELL_BITS: u32 = 10;
const CELL: i32 = 1 << CELL_BITS;
const CELLS: usize = 128;

/// A boat within less than this of no acceleration is at its top speed, mm/s^2.
const LEAST_MM_S2: i32 = 20;

/// Parts in which a cell is summed up.
const PARTS: i32 = 16;

/// Way and time at each whole cell, both rising with speed.
#[derive(Clone, Debug)]
struct Curve {
    way: [i32; CELLS + 1],
    time: [i32; CELLS + 1],
}

/// Both curves of a boat, and its pull.
#[derive(Clone, Debug)]
pub(super) struct Curves {
    gain: Curve,
    coast: Curve,
    /// Flat-out acceleration at each whole cell, mm/s^2.
    pull: [i32; CELLS + 1],
    /// From here on the boat gains nothing.
    top: i32,
}

impl Curves {
    /// Curves of no boat yet: see [`Curves::draw`].
    pub const fn blank() -> Self {
        let none = Curve { way: [0; CELLS + 1], time: [0; CELLS + 1] };
        let still = Curve { way: [0; CELLS + 1], time: [0; CELLS + 1] };
        Self { gain: still, coast: none, pull: [0; CELLS + 1], top: 0 }
    }

    /// The curves of a boat, made where they stand.
    pub fn draw(&mut self, boat: &BoatModel) {
        let speed_at = |cell: i32| MmPerSecond::from_mm_s(cell << CELL_BITS);
        gain(&mut self.gain, boat);
        coast(&mut self.coast, boat);
        for (cell, pull) in (0..).zip(self.pull.iter_mut()) {
            *pull = boat.acceleration_mm_s2(speed_at(cell));
        }
        self.top = boat.top_speed().min(SPEED_MAX).as_mm_s().max(1);
    }

    /// From here on the boat gains nothing, mm/s.
    pub const fn top(&self) -> i32 {
        self.top
    }

    /// Way run flat out from rest to `speed`: within a cell it grows with the square of the speed.
    pub fn gain_way(&self, speed: i32) -> i32 {
        let (cell, part) = cell_of(speed);
        let (twice, part) = ((cell as u32) << 1, part.unsigned_abs());
        // ((v + part)^2 - v^2) / ((v + 1)^2 - v^2), in units of 2^-20.
        let share = if part == 0 { 0 } else { part * ((twice << CELL_BITS) + part) / (twice + 1) };
        at(&self.gain.way, cell, share, 2 * CELL_BITS)
    }

    /// Time run flat out from rest to `speed`.
    pub fn gain_time(&self, speed: i32) -> i32 {
        let (cell, part) = cell_of(speed);
        at(&self.gain.time, cell, part.unsigned_abs(), CELL_BITS)
    }

    /// Way that coasting from `speed` takes, less an arbitrary constant.
    pub fn coast_way(&self, speed: i32) -> i32 {
        let (cell, part) = cell_of(speed);
        at(&self.coast.way, cell, part.unsigned_abs(), CELL_BITS)
    }

    /// Time that coasting from `speed` takes, less an arbitrary constant.
    pub fn coast_time(&self, speed: i32) -> i32 {
        let (cell, part) = cell_of(speed);
        at(&self.coast.time, cell, part.unsigned_abs(), CELL_BITS)
    }

    /// Flat-out acceleration with the engine spooled up, mm/s^2.
    pub fn pull(&self, speed: i32) -> i32 {
        let (cell, part) = cell_of(speed);
        match self.pull.get(cell..) {
            Some([a, b, ..]) => a + (((b - a) * part) >> CELL_BITS),
            _ => 0,
        }
    }

    /// The speed between `low` and `high` to which a boat can gain so that the way is used up.
    pub fn speed_after_gain(&self, way: i32, low: i32, high: i32) -> i32 {
        solve(way, low, high, |speed| self.gain_way(speed))
    }

    /// The same, where the way of coasting down from that speed comes on top.
    pub fn speed_of_peak(&self, way: i32, low: i32, high: i32) -> i32 {
        solve(way, low, high, |speed| self.gain_way(speed) + self.coast_way(speed))
    }

    /// The speed to which a boat has come down, of those from which coasting takes `way`.
    pub fn speed_of_coast_way(&self, way: i32, low: i32, high: i32) -> i32 {
        solve(way, low, high, |speed| self.coast_way(speed))
    }
}

/// Which cell a speed lies in, and how far: 0 to 1,023.
const fn cell_of(speed: i32) -> (usize, i32) {
    let speed = if speed < 0 { 0 } else { speed };
    ((speed >> CELL_BITS) as usize, speed & (CELL - 1))
}

/// A column between two of its entries: `share` in units of 2^-`bits`.
fn at(column: &[i32; CELLS + 1], cell: usize, share: u32, bits: u32) -> i32 {
    match column.get(cell..) {
        Some([a, ..]) if share == 0 => *a,
        Some([a, b, ..]) => a + ((i64::from(b - a) * i64::from(share)) >> bits) as i32,
        _ => column.last().copied().unwrap_or(0),
    }
}

/// Where a rising function takes a value: the cell by halving, the place in it by a straight line.
fn solve(value: i32, low: i32, high: i32, of: impl Fn(i32) -> i32) -> i32 {
    let (mut a, mut b) = (low, high);
    // Most runs are short: ever longer strides from the low end first.
    let mut stride = CELL;
    while a + stride < b {
        let edge = (a + stride) & !(CELL - 1);
        if of(edge) > value {
            b = edge;
            break;
        }
        (a, stride) = (edge, stride << 1);
    }
    while b - a > CELL {
        // A middle on a cell's edge, as near the middle as can be.
        let edge = ((a + b) >> 1) & !(CELL - 1);
        let middle = if edge > a { edge } else { edge + CELL };
        if of(middle) <= value {
            a = middle;
        } else {
            b = middle;
        }
    }
    // One more, so that the straight line lies within one cell.
    let edge = b & !(CELL - 1);
    if edge > a && edge < b {
        if of(edge) <= value {
            a = edge;
        } else {
            b = edge;
        }
    }
    let (from, to) = (of(a), of(b));
    let inside = (value - from).min(to - from).max(0);
    a + scaled_share(inside, to - from, b - a)
}

/// `part / whole * of`, for a part of the whole and `of` up to a cell: one division of 32 bits.
fn scaled_share(part: i32, whole: i32, of: i32) -> i32 {
    if whole <= 0 {
        return 0;
    }
    // 11 bits for `of`: what is above 20 bits is dropped from both sides.
    let surplus = (32 - whole.leading_zeros()).saturating_sub(20);
    (part >> surplus) * of / (whole >> surplus).max(1)
}

/// Sums up way and time to each cell's end: in sixteenths of a cell, each at its middle's acceleration.
fn gain(curve: &mut Curve, boat: &BoatModel) {
    // In units of 2^-8 of what is kept.
    let (mut way, mut time) = (0_i64, 0_i64);
    let mut middle = CELL / PARTS / 2;
    let ends = curve.way.iter_mut().zip(curve.time.iter_mut()).skip(1);
    for (end_way, end_time) in ends {
        for _ in 0..PARTS {
            let pull = boat.acceleration_mm_s2(MmPerSecond::from_mm_s(middle)).max(LEAST_MM_S2);
            let gained = i64::from(CELL / PARTS);
            time += quotient((gained * TICKS) << 8, pull);
            way += quotient((gained * i64::from(middle) * i64::from(EIGHTHS)) << 8, pull);
            middle += CELL / PARTS;
        }
        *end_time = kept(time >> 8);
        *end_way = kept(way >> 8);
    }
}

/// A quotient of what is less than 2^40 by less than 2^24, both more than nothing: two divisions of 32 bits, because one of
/// 64 takes the board's chip many times as long, and a boat is drawn in 4,096 of them.
fn quotient(of: i64, by: i32) -> i64 {
    let (high, low, by) = ((of >> 8) as u32, (of & 0xFF) as u32, by.max(1).cast_unsigned());
    (i64::from(high / by) << 8) + i64::from(((high % by) << 8 | low) / by)
}

/// Sums up coasting: dv/dx = -k v, so the way between cells n and n + 1 is ln((n + 1) / n) / k and the time
/// (1 / n - 1 / (n + 1)) / (k cell). Below the first cell a boat counts as stopped.
fn coast(curve: &mut Curve, boat: &BoatModel) {
    // One over k in eighths of a millimetre: 1e6 / ppm metres.
    let e_fold = 8_000_000_000 / i64::from(boat.coasting_ppm_per_m.max(1));
    let (mut way, mut time) = (0_i64, 0_i64);
    let ends = curve.way.iter_mut().zip(curve.time.iter_mut()).skip(2);
    for (cell, (end_way, end_time)) in (1_i64..).zip(ends) {
        // ln((n + 1) / n) = 2 (z + z^3 / 3 + z^5 / 5 + ...) with z = 1 / (2 n + 1), in units of 2^-30.
        let z = (1 << 30) / (2 * cell + 1);
        let (square, one) = ((z * z) >> 30, 1_i64 << 30);
        let ln = 2 * ((z * (one + square / 3 + ((square * square) >> 30) / 5)) >> 30);
        way += (e_fold * ln) >> 20;
        time += (e_fold << 12).checked_div(cell * (cell + 1)).unwrap_or(0);
        *end_way = kept(way >> 10);
        // Eighths over cells of 1,024 mm/s: 2^15 ticks / (8 * 2^10) = 4.
        *end_time = kept(time >> 10);
    }
}

/// Sums stay below 2^30, so that two of them still fit 32 bits.
fn kept(sum: i64) -> i32 {
    i32::try_from(sum).unwrap_or(i32::MAX).min((1 << 30) - 1)
}

#[cfg(test)]
mod tests {
    use super::super::boat::Pull;
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Against the language's own division.
        #[test]
        fn two_short_divisions_make_a_long_one(of in 0..1_i64 << 40, by in 1..1 << 24) {
            prop_assert_eq!(quotient(of, by), of / i64::from(by));
        }
    }

    fn curves_of(boat: &BoatModel) -> Curves {
        let mut curves = Curves::blank();
        curves.draw(boat);
        curves
    }

    /// Constant acceleration: v^2 / 2 a and v / a (any book of mechanics).
    #[test]
    fn constant_pull_gives_the_textbooks_way_and_time() {
        let pull = |mm_s| Pull { speed: MmPerSecond::from_mm_s(mm_s), acceleration_mm_s2: 5_000 };
        let boat =
            BoatModel { pulls: [pull(0), pull(131_000)].into_iter().collect(), ..BoatModel::demonstration() };
        let curves = curves_of(&boat);
        for speed in [100, 1_024, 5_000, 33_333, 70_000, 100_001] {
            let (v, a) = (f64::from(speed) / 1e3, 5.0);
            let way_mm = f64::from(curves.gain_way(speed)) / 8.0;
            let time_s = f64::from(curves.gain_time(speed)) / 32_768.0;
            assert!((way_mm - v * v / (2.0 * a) * 1e3).abs() < 0.3 + 5e-5 * way_mm, "{speed}: {way_mm}");
            assert!((time_s - v / a).abs() < 1e-4, "{speed}: {time_s}");
        }
    }

    /// dv/dx = -k v: the way from v to w is ln(v / w) / k, the time (1/w - 1/v) / k.
    #[test]
    fn coasting_is_exponential_in_way() {
        let curves = curves_of(&BoatModel { coasting_ppm_per_m: 2_440, ..BoatModel::demonstration() });
        for (v, w) in [(90_000, 55_000), (60_000, 20_500), (120_000, 119_000)] {
            let way_m = f64::from(curves.coast_way(v) - curves.coast_way(w)) / 8e3;
            let time_s = f64::from(curves.coast_time(v) - curves.coast_time(w)) / 32_768.0;
            let (v, w, k) = (f64::from(v) / 1e3, f64::from(w) / 1e3, 2_440e-6);
            assert!((way_m - (v / w).ln() / k).abs() < 0.05, "{way_m}");
            assert!((time_s - (1.0 / w - 1.0 / v) / k).abs() < 3e-3, "{time_s}");
        }
    }

    #[test]
    fn speeds_come_back_from_their_ways() {
        let curves = curves_of(&BoatModel::demonstration());
        for speed in (3_000..95_000).step_by(777) {
            let back = curves.speed_after_gain(curves.gain_way(speed), 0, curves.top());
            assert!((back - speed).abs() <= 45, "{speed}: {back}");
            let sum = curves.gain_way(speed) + curves.coast_way(speed);
            let back = curves.speed_of_peak(sum, 0, curves.top());
            assert!((back - speed).abs() <= 45, "{speed}: {back}");
        }
    }
}
