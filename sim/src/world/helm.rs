//! What every driver knows by heart of his boat: how to hold a speed, when to lift for a turn, and how a run goes
//! if he drives it so.
//!
//! He has it from practice, so it is worked out once, by running the boat in his head. Knows boat and course;
//! drivers know it.

use super::boat::Boat;
use super::course::Course;
use super::maths::exp;

/// How the gas generator follows the throttle.
#[derive(Clone, Copy, Debug)]
pub struct Spool {
    /// Time constant, seconds.
    pub lag_s: f64,
    /// The model's step, seconds.
    pub dt: f64,
}

impl Spool {
    /// What it closes of its gap in a time.
    #[must_use]
    pub fn share(self, dt: f64) -> f64 {
        1.0 - exp(-dt / self.lag_s.max(1e-3))
    }
}

/// From one look of the driver to the next.
pub const LOOK_S: f64 = 0.05;
/// Throttle for each m/s that the boat is too slow.
const GAIN: f64 = 0.07;
/// A turn may be entered so much above its speed.
const ENTRY_M_S: f64 = 0.5;
/// What he knows by heart of slowing down.
const WAYS: usize = 40;
const WAY_STEP_M_S: f64 = 2.0;
/// He thinks no further ahead than this.
const LONGEST_S: f64 = 120.0;

/// A boat and a course as a driver knows them.
#[derive(Clone, Debug)]
pub struct Helm {
    /// The boat.
    pub boat: Boat,
    /// Its gas generator.
    pub spool: Spool,
    /// The fastest speed in the course's turns.
    pub corner_m_s: f64,
    /// How far he runs from lifting, with full power, until he is slow enough for a turn: at `WAYS` speeds,
    /// `WAY_STEP_M_S` apart, from the turn's own speed on.
    ways: [f64; WAYS],
}

impl Helm {
    /// Learns a boat on a course.
    #[must_use]
    pub fn new(boat: Boat, spool: Spool, course: &Course) -> Self {
        let corner_m_s = boat.corner_speed(course.turn_radius_m());
        let mut helm = Self { boat, spool, corner_m_s, ways: [0.0; WAYS] };
        helm.ways = core::array::from_fn(|k| helm.way_from(corner_m_s + k as f64 * WAY_STEP_M_S));
        helm
    }

    /// The same driver on another day: what he knows by heart of slowing down stays that of the usual one.
    #[must_use]
    pub fn today(&self, boat: Boat, spool: Spool, corner_m_s: f64) -> Self {
        Self { boat, spool, corner_m_s, ways: self.ways }
    }

    /// The throttle that brings the boat to a speed and keeps it there.
    #[must_use]
    pub fn hold(&self, wanted: f64, speed: f64) -> f64 {
        (self.boat.power_to_hold(wanted) + GAIN * (wanted - speed)).clamp(0.0, 1.0)
    }

    /// Would lifting here, `left` metres before a turn, bring the boat to its turning speed only just in time?
    #[must_use]
    pub fn must_lift(&self, speed: f64, left: f64) -> bool {
        let step = (speed - self.corner_m_s) / WAY_STEP_M_S;
        if step <= 0.0 {
            return false;
        }
        let k = (step as usize).min(WAYS - 2);
        let way = match self.ways.get(k..=k + 1) {
            Some([low, high]) => low + (high - low) * (step - k as f64),
            _ => 0.0,
        };
        left <= way + speed * LOOK_S
    }

    /// The throttle of a driver who gives all that the course allows; `lifted` is his memory from one look to the next.
    ///
    /// Out of a turn he opens the throttle one spool lag before it ends, so that the engine pulls when it does: a
    /// practised driver's habit, and what the dash's run-in reckons with.
    pub fn flat_out(&self, course: &Course, s: f64, speed: f64, lifted: &mut bool) -> f64 {
        let (until_turn, until_straight) = (course.until_turn(s), course.until_straight(s));
        if until_straight > speed * self.spool.lag_s {
            *lifted = false;
            return self.hold(self.corner_m_s, speed);
        }
        *lifted = until_straight == 0.0 && (*lifted || self.must_lift(speed, until_turn));
        if *lifted { self.hold(self.corner_m_s, speed) } else { 1.0 }
    }

    /// One of the ways.
    fn way_from(&self, speed: f64) -> f64 {
        let corner = self.corner_m_s;
        let slow = |_, speed| speed < corner + ENTRY_M_S;
        self.imagine((speed, 1.0), LOOK_S, |_, speed| self.hold(corner, speed), slow).1
    }

    /// Runs the boat in his head from a speed and power until it is `done`; throttle and end go by way run and
    /// speed. Returns time, way and speed.
    pub fn imagine(
        &self,
        (mut speed, mut power): (f64, f64),
        dt: f64,
        mut throttle: impl FnMut(f64, f64) -> f64,
        done: impl Fn(f64, f64) -> bool,
    ) -> (f64, f64, f64) {
        let share = self.spool.share(dt);
        let (mut time, mut run) = (0.0, 0.0);
        while time < LONGEST_S && !done(run, speed) {
            power += share * (throttle(run, speed) - power);
            let (step, next) = self.boat.step(speed, power, dt);
            run += step;
            time += dt;
            speed = next;
        }
        (time, run, speed)
    }
}
