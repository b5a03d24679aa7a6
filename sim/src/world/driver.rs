//! A scripted driver who knows the course: the dock, the milling, the run at the line, the race.
//!
//! He works backwards. A flat-out run from the last turn, begun at milling speed, takes the bow to the line
//! in a known time; so he must leave that turn just so long before zero. He chooses the number of milling
//! laps that makes his speed nearest the one he likes and then holds it by remaining way over remaining time.
//! After the line he runs flat out, lifting for the turns, and then cools down.
//!
//! He sees the truth, not the sensors. Time steps, place and speed go in; a throttle comes out.

use serde::Deserialize;

use super::boat::Boat;
use super::course::Course;
use super::maths::ln;

/// The driver's plan.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DriverSettings {
    /// When he leaves the dock, race time; later when the engine does not run yet.
    pub leaves_dock_s: f64,
    /// The dock's place: so far before the line along the path.
    pub dock_to_line_m: f64,
    /// The speed he likes to mill at.
    pub milling_speed_m_s: f64,
    /// When he means the bow to cross the line; negative jumps the gun.
    pub target_margin_s: f64,
    /// How well he judges it: one standard deviation.
    pub timing_sd_s: f64,
    /// Laps he races before he cools down.
    pub race_laps: u16,
    /// Laps at milling speed after that.
    pub cool_down_laps: u16,
}

impl Default for DriverSettings {
    fn default() -> Self {
        Self {
            leaves_dock_s: -300.0,
            dock_to_line_m: 2_200.0,
            milling_speed_m_s: 48.0,
            target_margin_s: 0.20,
            timing_sd_s: 0.10,
            race_laps: 3,
            cool_down_laps: 1,
        }
    }
}

/// What the driver sees at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// Race time, seconds.
    pub t: f64,
    /// Path length of the antenna, zero at the line for the start.
    pub s: f64,
    /// Speed, m/s.
    pub speed: f64,
    /// The engine answers the throttle.
    pub engine_runs: bool,
}

/// What he is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doing {
    Docked,
    Milling,
    FlatOut,
    Lifting,
    Turning,
    CoolingDown,
    Done,
}

/// The driver at the wheel.
#[derive(Clone, Debug)]
pub struct Driver<'a> {
    plan: &'a DriverSettings,
    course: &'a Course,
    boat: Boat,
    spool: Spool,
    doing: Doing,
    /// When he means the bow to cross, misjudgement included, and when he must go for that.
    cross_at: f64,
    go_at: f64,
    /// The milling speed for which `go_at` was worked out.
    planned_m_s: f64,
    milling_m_s: f64,
    corner_m_s: f64,
    /// Where the antenna is at the end of the race and of the heat.
    race_end: f64,
    heat_end: f64,
    /// When he looks up next, and where his foot rests until then.
    looks_at: f64,
    throttle: f64,
}

/// How the gas generator follows the throttle.
#[derive(Clone, Copy, Debug)]
pub struct Spool {
    /// Time constant, seconds.
    pub lag_s: f64,
    /// What it closes of its gap in one step.
    pub share: f64,
    /// The step, seconds.
    pub dt: f64,
}

/// From one look to the next.
const LOOK_S: f64 = 0.05;
/// Throttle for each m/s that the boat is too slow.
const GAIN: f64 = 0.05;
/// Share of the spool lag for which a closing throttle still pushes; found by trial on the default boat.
const SPOOL_PUSH: f64 = 0.2;
/// Nearer to the go than this he no longer corrects his speed.
const SETTLED_S: f64 = 2.0;
/// He leaves this margin to a turn's limit while milling.
const MILLING_SHARE: f64 = 0.97;

impl<'a> Driver<'a> {
    /// Makes the plan. `error_s` is by how much he will misjudge the start.
    #[must_use]
    pub fn new(plan: &'a DriverSettings, course: &'a Course, boat: Boat, spool: Spool, error_s: f64) -> Self {
        let corner_m_s = boat.corner_speed(course.turn_radius_m());
        let after = |laps: u16| f64::from(laps) * course.lap_m() - boat.antenna_to_bow_m;
        let mut driver = Self {
            plan,
            course,
            boat,
            spool,
            doing: Doing::Docked,
            cross_at: plan.target_margin_s + error_s,
            go_at: 0.0,
            planned_m_s: 0.0,
            milling_m_s: plan.milling_speed_m_s.min(MILLING_SHARE * corner_m_s),
            corner_m_s,
            race_end: after(plan.race_laps),
            heat_end: after(plan.race_laps.saturating_add(plan.cool_down_laps)),
            looks_at: f64::NEG_INFINITY,
            throttle: 0.0,
        };
        driver.replan();
        driver
    }

    /// The dock: path length, counted so that the start is at zero and the milling laps lie before it.
    ///
    /// Their number is the one that brings the milling speed nearest the one he likes.
    #[must_use]
    pub fn dock(&self) -> f64 {
        let time = (self.go_at - self.plan.leaves_dock_s).max(0.0);
        let one_way = self.plan.dock_to_line_m - self.course.turn_to_line_m();
        let laps = (self.plan.milling_speed_m_s * time - one_way) / self.course.lap_m();
        let fewest = if one_way < 0.0 { 1.0 } else { 0.0 };
        -self.plan.dock_to_line_m - self.course.lap_m() * (laps + 0.5).floor().max(fewest)
    }

    /// True when the cool-down is over.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.doing == Doing::Done
    }

    /// The throttle, 0 to 1. He looks twenty times a second, and at the moment to go.
    pub fn throttle(&mut self, seen: Seen) -> f64 {
        if seen.t >= self.looks_at {
            self.throttle = self.look(seen);
            let next = seen.t + LOOK_S - 0.5 * self.spool.dt;
            self.looks_at = if self.doing == Doing::Milling { next.min(self.go_at) } else { next };
        }
        self.throttle
    }

    fn look(&mut self, seen: Seen) -> f64 {
        self.doing = self.decide(seen);
        match self.doing {
            Doing::Docked | Doing::Done => 0.0,
            Doing::FlatOut => 1.0,
            Doing::Lifting | Doing::Turning => self.hold(self.corner_m_s, seen.speed),
            Doing::Milling => {
                self.adjust(seen);
                self.hold(self.milling_m_s, seen.speed)
            }
            Doing::CoolingDown => self.hold(self.plan.milling_speed_m_s.min(self.corner_m_s), seen.speed),
        }
    }

    fn decide(&self, seen: Seen) -> Doing {
        match self.doing {
            Doing::Docked if seen.engine_runs && seen.t >= self.plan.leaves_dock_s => Doing::Milling,
            Doing::Milling if seen.t >= self.go_at => Doing::FlatOut,
            Doing::FlatOut | Doing::Lifting | Doing::Turning => self.race(seen),
            Doing::CoolingDown if seen.s >= self.heat_end => Doing::Done,
            doing => doing,
        }
    }

    fn race(&self, seen: Seen) -> Doing {
        let left = self.course.until_turn(seen.s);
        match self.doing {
            _ if seen.s >= self.race_end => Doing::CoolingDown,
            _ if left <= 0.0 => Doing::Turning,
            Doing::Lifting => Doing::Lifting,
            _ if self.must_lift(seen.speed, left) => Doing::Lifting,
            _ => Doing::FlatOut,
        }
    }

    /// Would coasting from here bring the boat to its turning speed only just in time?
    fn must_lift(&self, speed: f64, left: f64) -> bool {
        if speed <= self.corner_m_s {
            return false;
        }
        let coasting = ln(speed / self.corner_m_s) / self.boat.coasting_loss_per_m();
        left <= coasting + speed * self.spool.lag_s * SPOOL_PUSH
    }

    /// Milling speed: remaining way over remaining time.
    fn adjust(&mut self, seen: Seen) {
        let left = self.go_at - seen.t;
        if left < SETTLED_S {
            return;
        }
        let way = -self.course.turn_to_line_m() - seen.s;
        self.milling_m_s = (way / left).clamp(1.0, MILLING_SHARE * self.corner_m_s);
        if (self.milling_m_s - self.planned_m_s).abs() > 0.1 {
            self.replan();
        }
    }

    /// Works out when to go, by running the last stretch flat out from milling speed in his head.
    fn replan(&mut self) {
        let way = self.course.turn_to_line_m() - self.boat.antenna_to_bow_m;
        let (mut run, mut time, mut speed) = (0.0, 0.0, self.milling_m_s);
        let mut power = self.boat.power_to_hold(speed);
        while run < way && time < 600.0 {
            power += self.spool.share * (1.0 - power);
            let (step, next) = self.boat.step(speed, power, self.spool.dt);
            run += step;
            time += self.spool.dt;
            speed = next;
        }
        let over = (run - way) / speed.max(1.0);
        self.go_at = self.cross_at - (time - over);
        self.planned_m_s = self.milling_m_s;
    }

    fn hold(&self, wanted: f64, speed: f64) -> f64 {
        (self.boat.power_to_hold(wanted) + GAIN * (wanted - speed)).clamp(0.0, 1.0)
    }
}
