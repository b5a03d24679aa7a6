//! What all starts of a sweep share: the course, the boat as its drivers know it, and how sure they want to be.

use rayon::prelude::*;

use super::by_heart::ByHeart;
use super::tally::quantile;
use super::{NoSweep, Plan, Who, start};
use crate::scenario::{BoatSource, Heat};
use crate::world::WorldSettings;
use crate::world::boat::Boat;
use crate::world::course::Course;
use crate::world::helm::{Helm, Spool};
use crate::world::maths::seconds;
use crate::world::truth::STEP_S;
use firmware::settings::Settings;

/// Starts with which the stopwatch's driver finds out how much he must aim late. Their numbers lie far beyond those
/// of any sweep, so they are no part of it.
const PILOT_STARTS: u64 = 4_000;
const PILOT_FROM: u64 = 1 << 48;
/// The margin he aims at while he finds out.
const PILOT_AIM_S: f64 = 1.0;

/// What all starts share.
pub struct Drill<'a> {
    /// What the dash was told.
    pub settings: &'a Settings,
    /// The world's figures.
    pub world: &'a WorldSettings,
    /// Where the boats run.
    pub course: Course,
    /// The boat as it is on an ordinary day.
    pub helm: Helm,
    /// What the drivers know by heart of it.
    pub by_heart: ByHeart,
    /// The seed of all draws.
    pub seed: u64,
    /// The accepted share of early starts.
    pub risk: f64,
    /// The response that the dash reckons with.
    pub response_s: f64,
    /// An ideal start: speed over the line, and seconds from there to where starts are compared.
    pub ideal: (f64, f64),
}

impl<'a> Drill<'a> {
    /// Prepares a sweep over a heat's course, boat and settings.
    ///
    /// # Errors
    /// [`NoSweep`] when the heat leaves nothing to compare.
    pub fn new(heat: &'a Heat, settings: &'a Settings, seed: u64) -> Result<Self, NoSweep> {
        if matches!(heat.boat, BoatSource::Recording { .. }) {
            return Err(NoSweep::Recorded);
        }
        let run_in = settings.run_in.as_ref().ok_or(NoSweep::NoRunIn)?;
        if settings.course.is_none() || settings.check().is_err() {
            return Err(NoSweep::NoRunIn);
        }
        let world = &heat.world;
        let course = Course::new(&world.course);
        let spool = Spool { lag_s: world.engine.spool_lag_s, dt: STEP_S };
        let helm = Helm::new(Boat::new(&world.boat), spool, &course);
        let exit = (course.turn_to_line_m(), helm.corner_m_s, helm.boat.power_to_hold(helm.corner_m_s));
        let (_, speed) = Self::flat_out(&helm, &course, exit, STEP_S);
        let past = Self::past_the_line(&helm, speed, 1.0);
        Ok(Self {
            by_heart: ByHeart::learn(&helm, &course),
            settings,
            world,
            course,
            helm,
            seed,
            risk: f64::from(run_in.risk_ppm) * 1e-6,
            response_s: seconds(run_in.response),
            ideal: (speed, past),
        })
    }

    /// Runs a boat flat out until its bow is on the line, lifting for turns: seconds and speed there.
    ///
    /// `left` metres, `speed` and `power` tell where it begins.
    #[must_use]
    pub fn flat_out(
        helm: &Helm,
        course: &Course,
        (left, speed, power): (f64, f64, f64),
        dt: f64,
    ) -> (f64, f64) {
        let antenna = -left - helm.boat.antenna_to_bow_m;
        let mut lifted = false;
        let throttle = |run: f64, speed: f64| helm.flat_out(course, antenna + run, speed, &mut lifted);
        let (time, run, speed) = helm.imagine((speed, power), dt, throttle, |run, _| run >= left);
        (time - (run - left) / speed.max(1.0), speed)
    }

    /// Seconds from the line to [`COMPARED_AT_M`] beyond it with the throttle open.
    #[must_use]
    pub fn past_the_line(helm: &Helm, speed: f64, power: f64) -> f64 {
        let done = |run: f64, _| run >= COMPARED_AT_M;
        let (time, run, speed) = helm.imagine((speed, power), STEP_S, |_, _| 1.0, done);
        time - (run - COMPARED_AT_M) / speed.max(1.0)
    }

    /// The margin at which a driver with a stopwatch must aim to be early as often as the risk allows: found by
    /// practice, as he would find it.
    #[must_use]
    pub fn stopwatch_aim_s(&self) -> f64 {
        let plan = Plan {
            heat: String::new(),
            seed: self.seed,
            starts: PILOT_STARTS,
            risk: self.risk,
            stopwatch_aim_s: PILOT_AIM_S,
        };
        let mut margins: Vec<f64> = (PILOT_FROM..PILOT_FROM + PILOT_STARTS)
            .into_par_iter()
            .filter_map(|number| start::run(self, number, Who::Stopwatch, &plan).margin_s)
            .collect();
        margins.sort_by(f64::total_cmp);
        PILOT_AIM_S - quantile(&margins, self.risk).unwrap_or_default()
    }
}

/// Starts are compared so far beyond the line: a boat that crossed slowly is still behind there.
pub const COMPARED_AT_M: f64 = 300.0;
