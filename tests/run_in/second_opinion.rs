//! An independent planner, to hold against the core's: floating point, one millisecond at a time.
//!
//! It was written from the model's words alone: the pull goes in straight lines between its speeds, times
//! 1 - exp(-t / lag); no speed above a stretch's limit, nor above what coasting (dv/dx = -k v) can bring down in
//! time; a boat that is too fast coasts. It shares no code and no table with the core.

use firmware::run_in::boat::BoatModel;
use firmware::run_in::planner::Stretch;
use firmware::units::MmPerSecond;

/// Distance between two points of the limit, metres.
const GRID_M: f64 = 0.1;

/// The step, seconds.
const DT: f64 = 0.001;

/// A lane and a boat.
pub struct SecondOpinion {
    lap: f64,
    /// The fastest that a boat may be so far before the line, at multiples of the grid.
    most: Vec<f64>,
    pulls: Vec<(f64, f64)>,
    lag: f64,
    coasting: f64,
}

impl SecondOpinion {
    pub fn new(stretches: &[Stretch], boat: &BoatModel) -> Self {
        let metres = |stretch: &Stretch| stretch.length.as_mm() as f64 / 1e3;
        let lap: f64 = stretches.iter().map(metres).sum();
        let points = (lap / GRID_M).ceil() as usize + 1;
        let coasting = f64::from(boat.coasting_ppm_per_m) * 1e-6;
        let mut limits = vec![f64::INFINITY; points];
        let mut end = lap;
        for stretch in stretches {
            let begin = end;
            end -= metres(stretch);
            if stretch.limit != MmPerSecond::MAX {
                for (k, limit) in limits.iter_mut().enumerate() {
                    let place = k as f64 * GRID_M;
                    if place >= end && place <= begin {
                        *limit = limit.min(f64::from(stretch.limit.as_mm_s()) / 1e3);
                    }
                }
            }
        }
        // From the line outwards, twice round: what lies nearer the line binds what lies farther out.
        let mut most = limits.clone();
        for _ in 0..2 {
            most[0] = most[0].min(most[points - 1]);
            for k in 1..points {
                most[k] = limits[k].min(most[k - 1] * f64::exp(coasting * GRID_M));
            }
        }
        let pulls = boat
            .pulls
            .iter()
            .map(|p| (f64::from(p.speed.as_mm_s()) / 1e3, f64::from(p.acceleration_mm_s2) / 1e3))
            .collect();
        Self { lap, most, pulls, lag: boat.lag.as_micros() as f64 / 1e6, coasting }
    }

    pub fn lap(&self) -> f64 {
        self.lap
    }

    fn pull(&self, speed: f64) -> f64 {
        let above = self.pulls.iter().position(|(v, _)| *v > speed);
        match above {
            Some(0) => self.pulls[0].1,
            Some(k) => {
                let ((v0, a0), (v1, a1)) = (self.pulls[k - 1], self.pulls[k]);
                a0 + (a1 - a0) * (speed - v0) / (v1 - v0)
            }
            None => 0.0,
        }
    }

    fn most(&self, to_line: f64) -> f64 {
        let place = (to_line / GRID_M).max(0.0);
        let k = (place as usize).min(self.most.len() - 2);
        let share = place - k as f64;
        match (self.most[k], self.most[k + 1]) {
            (a, b) if a.is_infinite() || b.is_infinite() => a.min(b),
            (a, b) => a + (b - a) * share,
        }
    }

    /// Seconds until the line, from a place, a speed, and how long the throttle has been open.
    pub fn time(&self, to_line: f64, speed: f64, open_for: f64) -> f64 {
        let (mut left, mut v, mut t) = (to_line, speed, 0.0);
        while left > 0.0 && t < 600.0 {
            let share =
                |t: f64| if self.lag > 0.0 { 1.0 - f64::exp(-(open_for + t) / self.lag) } else { 1.0 };
            let allowed = self.most(left);
            let next = if v > allowed + 1e-9 {
                (v - self.coasting * v * v * DT).max(allowed.min(v))
            } else {
                let a = self.pull(v) * share(t);
                let middle = self.pull(v + a * DT / 2.0) * share(t + DT / 2.0);
                (v + middle * DT).min(self.most(left - v * DT).max(allowed.min(v)))
            };
            let step = (v + next) / 2.0 * DT;
            if step >= left {
                return t + left / ((v + next) / 2.0).max(1e-9);
            }
            left -= step;
            v = next;
            t += DT;
        }
        t
    }
}
