//! What long practice has taught a driver: how many seconds a flat-out run takes from any place at any speed.
//!
//! Worked out once, with the boat as it is on an ordinary day. Distances are of the bow to the line, along the path.

use super::drill::Drill;
use crate::world::course::Course;
use crate::world::helm::{Helm, LOOK_S};

/// The farthest place known, and the step from one to the next.
const FAR_M: f64 = 3_600.0;
const STEP_M: f64 = 20.0;
const PLACES: usize = (FAR_M / STEP_M) as usize + 1;

/// The lowest speed known, the step, and how many.
const SLOW_M_S: f64 = 10.0;
const STEP_M_S: f64 = 5.0;
const SPEEDS: usize = 19;

/// The table.
#[derive(Clone, Debug)]
pub struct ByHeart(Vec<f64>);

impl ByHeart {
    /// Learns it.
    #[must_use]
    pub fn learn(helm: &Helm, course: &Course) -> Self {
        let at = |place: usize, speed: usize| {
            let speed = SLOW_M_S + speed as f64 * STEP_M_S;
            Drill::flat_out(
                helm,
                course,
                (place as f64 * STEP_M, speed, helm.boat.power_to_hold(speed)),
                LOOK_S,
            )
            .0
        };
        Self((0..PLACES * SPEEDS).map(|k| at(k / SPEEDS, k % SPEEDS)).collect())
    }

    /// Seconds from `left_m` before the line at `speed_m_s`, flat out from now; beyond the table, its edge.
    #[must_use]
    pub fn seconds(&self, left_m: f64, speed_m_s: f64) -> f64 {
        let (place, far) = split(left_m / STEP_M, PLACES);
        let (speed, fast) = split((speed_m_s - SLOW_M_S) / STEP_M_S, SPEEDS);
        let at = |place: usize, speed: usize| self.0.get(place * SPEEDS + speed).copied().unwrap_or_default();
        let along = |place: usize| at(place, speed) * (1.0 - fast) + at(place, speed + 1) * fast;
        along(place) * (1.0 - far) + along(place + 1) * far
    }

    /// By how much the margin grows in each second in which he holds his speed instead of going.
    #[must_use]
    pub fn growth(&self, left_m: f64, speed_m_s: f64) -> f64 {
        let (near, far) = (left_m - STEP_M, left_m + STEP_M);
        let per_m = (self.seconds(far, speed_m_s) - self.seconds(near, speed_m_s)) / (far - near);
        1.0 - speed_m_s * per_m
    }
}

/// The place in a table and the share of the way to the next one.
fn split(x: f64, len: usize) -> (usize, f64) {
    let x = x.clamp(0.0, (len - 1) as f64);
    let k = (x as usize).min(len - 2);
    (k, x - k as f64)
}
