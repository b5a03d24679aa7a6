//! What the boat can do: how it gains speed flat out, how its turbine lags, how fast it takes a bend, how it
//! loses speed with the throttle closed.
//!
//! Four things are all the run-in needs. *Pull*: the flat-out acceleration at up to twelve speeds, straight
//! lines between. *Lag*: a gas generator closes its gap to the throttle in proportion to that gap, so the share
//! of the full pull grows as 1 - exp(-t / lag) (a first-order lag; a dead time would put the boat
//! pull x lag^2 / 2 too far back, some 3 m). *Bends*: a sideways acceleration that the hull holds. *Coasting*:
//! water drag goes with the square of speed, so each metre takes the same share of it.
//!
//! Knows units. Settings in, checked settings out.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::units::{Millimetres, MmPerSecond, Span, mul_div};

/// The most speeds at which the pull is given.
pub const PULLS_MAX: usize = 12;

/// No boat of this model is faster: 131 m/s is 293 mph.
pub const SPEED_MAX: MmPerSecond = MmPerSecond::from_mm_s(131_000);

/// The flat-out acceleration at one speed, engine spooled up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pull {
    /// The speed.
    pub speed: MmPerSecond,
    /// The acceleration there, mm/s^2.
    pub acceleration_mm_s2: i32,
}

/// The boat's figures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoatModel {
    /// Acceleration by rising speed; below the first speed as at the first, nothing beyond the last.
    pub pulls: Vec<Pull, PULLS_MAX>,
    /// Time constant of the turbine behind the throttle, as the boat's acceleration shows it.
    pub lag: Span,
    /// Sideways acceleration that the boat holds in a bend, mm/s^2.
    pub bend_mm_s2: i32,
    /// The share of its speed that the boat loses in each metre with the throttle closed, parts per million.
    pub coasting_ppm_per_m: i32,
    /// How well the pull is known, one standard deviation, in thousandths of it.
    pub pull_sd_permille: u16,
    /// How well the speed in bends is known, likewise.
    pub bend_sd_permille: u16,
    /// How well the lag is known, one standard deviation.
    pub lag_sd: Span,
    /// True while these figures are invented: nobody has measured this boat.
    pub demonstration: bool,
}

/// Why a set of figures makes no boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoatFault {
    /// No pull, speeds that do not rise, or a speed beyond [`SPEED_MAX`].
    Speeds,
    /// A pull below 0.1 m/s2 (the last may be nothing) or above 20 m/s2.
    Pull,
    /// A lag below nothing or above 4 s.
    Lag,
    /// A sideways acceleration below 1 m/s2 or above 50 m/s2.
    Bend,
    /// A loss below 0.01 % or above 5 % a metre.
    Coasting,
}

impl BoatModel {
    /// An invented boat: it marks itself as a demonstration, and is no real one.
    ///
    /// Its pull is 9 m/s2 x (1 - (v / 96 m/s)^2), thrust less drag; 96 m/s are 215 mph. Its lag is that of a boat
    /// whose engine closes its gap in 1.2 s and whose thrust goes with the square of power, gone from 48 m/s.
    #[must_use]
    pub fn demonstration() -> Self {
        const PULLS: [(i32, i32); PULLS_MAX] = [
            (0, 9_000),
            (12_000, 8_859),
            (24_000, 8_438),
            (36_000, 7_734),
            (48_000, 6_750),
            (58_000, 5_715),
            (66_000, 4_746),
            (74_000, 3_652),
            (81_000, 2_593),
            (87_000, 1_608),
            (92_000, 734),
            (96_000, 0),
        ];
        let pull = |&(speed, acceleration_mm_s2): &(i32, i32)| Pull {
            speed: MmPerSecond::from_mm_s(speed),
            acceleration_mm_s2,
        };
        Self {
            pulls: PULLS.iter().map(pull).collect(),
            lag: Span::from_millis(1_450),
            bend_mm_s2: 15_200,
            coasting_ppm_per_m: 2_440,
            pull_sd_permille: 30,
            bend_sd_permille: 15,
            lag_sd: Span::from_millis(150),
            demonstration: true,
        }
    }

    /// Looks for a figure that makes no boat.
    ///
    /// # Errors
    /// The first fault found.
    pub fn check(&self) -> Result<(), BoatFault> {
        let rising = self.pulls.windows(2).all(|pair| matches!(pair, [a, b] if a.speed < b.speed));
        let in_reach = |pull: &Pull| (MmPerSecond::ZERO..=SPEED_MAX).contains(&pull.speed);
        let Some((last, others)) = self.pulls.split_last() else { return Err(BoatFault::Speeds) };
        let faults = [
            (!rising || !self.pulls.iter().all(in_reach), BoatFault::Speeds),
            (!(0..=20_000).contains(&last.acceleration_mm_s2), BoatFault::Pull),
            (others.iter().any(|pull| !(100..=20_000).contains(&pull.acceleration_mm_s2)), BoatFault::Pull),
            (self.lag < Span::ZERO || self.lag > Span::from_secs(4), BoatFault::Lag),
            (!(1_000..=50_000).contains(&self.bend_mm_s2), BoatFault::Bend),
            (!(100..=50_000).contains(&self.coasting_ppm_per_m), BoatFault::Coasting),
        ];
        faults.iter().find(|(wrong, _)| *wrong).map_or(Ok(()), |(_, fault)| Err(*fault))
    }

    /// The flat-out acceleration at a speed, mm/s^2, with the engine spooled up.
    #[must_use]
    pub fn acceleration_mm_s2(&self, speed: MmPerSecond) -> i32 {
        let above = self.pulls.partition_point(|pull| pull.speed <= speed);
        let below = above.checked_sub(1).and_then(|place| self.pulls.get(place));
        match (below, self.pulls.get(above)) {
            (None, Some(first)) => first.acceleration_mm_s2,
            (Some(a), Some(b)) => {
                let (run, step) = (speed - a.speed, b.speed - a.speed);
                let rise = i64::from(b.acceleration_mm_s2) - i64::from(a.acceleration_mm_s2);
                let rise = mul_div(rise, i64::from(run.as_mm_s()), i64::from(step.as_mm_s()));
                a.acceleration_mm_s2.saturating_add(i32::try_from(rise).unwrap_or(0))
            }
            (_, None) => 0,
        }
    }

    /// The speed beyond which the boat gains nothing.
    #[must_use]
    pub fn top_speed(&self) -> MmPerSecond {
        self.pulls.last().map_or(MmPerSecond::ZERO, |pull| pull.speed)
    }

    /// The fastest speed in a bend: the root of sideways acceleration times radius.
    #[must_use]
    pub fn bend_speed(&self, radius: Millimetres) -> MmPerSecond {
        let square = u64::from(self.bend_mm_s2.unsigned_abs()).saturating_mul(radius.as_mm().unsigned_abs());
        MmPerSecond::from_mm_s(i32::try_from(square.isqrt()).unwrap_or(i32::MAX)).min(SPEED_MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Thrust less quadratic drag, by hand: 9 (1 - (48/96)^2) = 6.75; half way between two
    /// entries their mean, 6232.5.
    #[test]
    fn the_demonstration_boat_pulls_as_thrust_less_drag() {
        let boat = BoatModel::demonstration();
        assert_eq!(boat.check(), Ok(()));
        let pull = |mm_s| boat.acceleration_mm_s2(MmPerSecond::from_mm_s(mm_s));
        assert_eq!(
            [pull(-5), pull(0), pull(48_000), pull(96_000), pull(120_000)],
            [9_000, 9_000, 6_750, 0, 0]
        );
        assert_eq!(pull(53_000), 6_232);
    }

    /// Worked by hand: 20 m/s2 on a radius of 180 m is 60 m/s.
    #[test]
    fn a_bend_limits_speed_by_its_radius() {
        let boat = BoatModel { bend_mm_s2: 20_000, ..BoatModel::demonstration() };
        assert_eq!(boat.bend_speed(Millimetres::from_mm(180_000)), MmPerSecond::from_mm_s(60_000));
    }

    #[test]
    fn figures_that_make_no_boat_are_named() {
        let broken = |change: fn(&mut BoatModel)| {
            let mut boat = BoatModel::demonstration();
            change(&mut boat);
            boat.check().unwrap_err()
        };
        assert_eq!(broken(|b| b.pulls.clear()), BoatFault::Speeds);
        assert_eq!(broken(|b| b.pulls.swap(1, 2)), BoatFault::Speeds);
        assert_eq!(broken(|b| b.pulls[3].acceleration_mm_s2 = 99), BoatFault::Pull);
        assert_eq!(broken(|b| b.lag = Span::from_secs(5)), BoatFault::Lag);
        assert_eq!(broken(|b| b.bend_mm_s2 = 0), BoatFault::Bend);
        assert_eq!(broken(|b| b.coasting_ppm_per_m = 0), BoatFault::Coasting);
    }
}
