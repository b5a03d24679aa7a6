//! A scripted driver who knows the course: the dock, the milling, the run at the line, the race.
//!
//! He works backwards. A flat-out run from the last turn, begun at milling speed, takes the bow to the line
//! in a known time; so he must leave that turn just so long before zero. He chooses the number of milling
//! laps that makes his speed nearest the one he likes and then holds it by remaining way over remaining time.
//! After the line he runs flat out, lifting for the turns, and then cools down.
//!
//! He sees the truth, not the sensors. Time steps, place and speed go in; a throttle comes out.

use serde::Deserialize;

use super::course::Course;
use super::helm::{Helm, LOOK_S};

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
    helm: Helm,
    doing: Doing,
    /// When he means the bow to cross, misjudgement included, and when he must go for that.
    cross_at: f64,
    go_at: f64,
    /// The milling speed for which `go_at` was worked out.
    planned_m_s: f64,
    milling_m_s: f64,
    /// Where the antenna is at the end of the race and of the heat.
    race_end: f64,
    heat_end: f64,
    /// When he looks up next, and where his foot rests until then.
    looks_at: f64,
    throttle: f64,
}

/// Nearer to the go than this he no longer corrects his speed.
const SETTLED_S: f64 = 2.0;
/// He leaves this margin to a turn's limit while milling.
const MILLING_SHARE: f64 = 0.97;
/// With an engine that will not run he stays at the dock, and goes home so long after zero.
const GIVES_UP_S: f64 = 60.0;
/// How far past the line the heat is followed.
const RUN_OUT_M: f64 = 100.0;

impl<'a> Driver<'a> {
    /// Makes the plan. `error_s` is by how much he will misjudge the start.
    #[must_use]
    pub fn new(plan: &'a DriverSettings, course: &'a Course, helm: Helm, error_s: f64) -> Self {
        let after = |laps: u16| f64::from(laps) * course.lap_m() - helm.boat.antenna_to_bow_m;
        let mut driver = Self {
            plan,
            course,
            doing: Doing::Docked,
            cross_at: plan.target_margin_s + error_s,
            go_at: 0.0,
            planned_m_s: 0.0,
            milling_m_s: plan.milling_speed_m_s.min(MILLING_SHARE * helm.corner_m_s),
            race_end: after(plan.race_laps),
            heat_end: after(plan.race_laps.saturating_add(plan.cool_down_laps)) + RUN_OUT_M,
            looks_at: f64::NEG_INFINITY,
            throttle: 0.0,
            helm,
        };
        driver.replan();
        driver
    }

    /// The dock: path length, counted so that the start is at zero and the milling laps lie before it.
    ///
    /// Their number is the one that brings the milling speed nearest the one he likes, as long as the turns
    /// can be taken at it.
    #[must_use]
    pub fn dock(&self) -> f64 {
        let speed = self.milling_m_s;
        let (time, run, _) = self.helm.imagine(
            (0.0, 0.0),
            LOOK_S,
            |_, now| self.hold(speed, now),
            |_, now| now > 0.98 * speed,
        );
        let lost = time - run / speed;
        let time = (self.go_at - self.plan.leaves_dock_s - lost).max(1.0);
        let one_way = self.plan.dock_to_line_m - self.course.turn_to_line_m();
        let laps_at = |speed: f64| (speed * time - one_way) / self.course.lap_m();
        let nearest = (laps_at(self.plan.milling_speed_m_s) + 0.5).floor();
        let most = laps_at(self.fastest_milling()).floor();
        let fewest = if one_way < 0.0 { 1.0 } else { 0.0 };
        -self.plan.dock_to_line_m - self.course.lap_m() * nearest.min(most).max(fewest)
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
            let next = seen.t + LOOK_S - 0.5 * self.helm.spool.dt;
            self.looks_at = if self.doing == Doing::Milling { next.min(self.go_at) } else { next };
        }
        self.throttle
    }

    fn look(&mut self, seen: Seen) -> f64 {
        self.doing = self.decide(seen);
        match self.doing {
            Doing::Docked | Doing::Done => 0.0,
            Doing::FlatOut => 1.0,
            Doing::Lifting | Doing::Turning => self.hold(self.helm.corner_m_s, seen.speed),
            Doing::Milling => {
                self.adjust(seen);
                self.hold(self.milling_m_s, seen.speed)
            }
            Doing::CoolingDown => {
                self.hold(self.plan.milling_speed_m_s.min(self.helm.corner_m_s), seen.speed)
            }
        }
    }

    fn decide(&self, seen: Seen) -> Doing {
        match self.doing {
            Doing::Docked if seen.t > GIVES_UP_S => Doing::Done,
            Doing::Docked if seen.engine_runs && seen.t >= self.plan.leaves_dock_s => Doing::Milling,
            Doing::Milling if seen.t >= self.go_at => Doing::FlatOut,
            Doing::FlatOut | Doing::Lifting | Doing::Turning => self.race(seen),
            Doing::CoolingDown if seen.s >= self.heat_end => Doing::Done,
            doing => doing,
        }
    }

    fn race(&self, seen: Seen) -> Doing {
        let left = self.course.until_turn(seen.s);
        if seen.s >= self.race_end {
            Doing::CoolingDown
        } else if left <= 0.0 {
            Doing::Turning
        } else if self.doing == Doing::Lifting || self.helm.must_lift(seen.speed, left) {
            Doing::Lifting
        } else {
            Doing::FlatOut
        }
    }

    /// Milling speed: remaining way over remaining time.
    fn adjust(&mut self, seen: Seen) {
        let left = self.go_at - seen.t;
        if left < SETTLED_S {
            return;
        }
        let way = -self.course.turn_to_line_m() - seen.s;
        self.milling_m_s = (way / left).clamp(1.0, self.fastest_milling());
        if (self.milling_m_s - self.planned_m_s).abs() > 0.1 {
            self.replan();
        }
    }

    /// Works out when to go, by running the last stretch flat out from milling speed in his head. When the turn
    /// after the line is near, he lifts before the line.
    fn replan(&mut self) {
        let way = self.course.turn_to_line_m() - self.helm.boat.antenna_to_bow_m;
        let straight = self.course.straight_m();
        let milling = (self.milling_m_s, self.helm.boat.power_to_hold(self.milling_m_s));
        let mut lifted = false;
        let throttle = |run: f64, speed: f64| {
            lifted = lifted || self.helm.must_lift(speed, straight - run);
            if lifted { self.hold(self.helm.corner_m_s, speed) } else { 1.0 }
        };
        let (time, run, speed) =
            self.helm.imagine(milling, self.helm.spool.dt, throttle, |run, _| run >= way);
        self.go_at = self.cross_at - (time - (run - way) / speed.max(1.0));
        self.planned_m_s = self.milling_m_s;
    }

    fn fastest_milling(&self) -> f64 {
        MILLING_SHARE * self.helm.corner_m_s
    }

    fn hold(&self, wanted: f64, speed: f64) -> f64 {
        self.helm.hold(wanted, speed)
    }
}
