//! What really happened: the whole heat, worked out once at a fixed step and kept.
//!
//! Course, boat, engine and driver are run together from the dock to the end of the cool-down; afterwards any
//! moment can be asked for, and the bow's crossings of the line are found by root finding on the same motion
//! that the sensors see. Sensors and reports read from here; nothing here knows a sensor.

use firmware::input::Line;
use firmware::units::Span;

use super::boat::Boat;
use super::course::{Course, Place};
use super::craft::{Craft, Drive, Played, Pose, steps_between};
use super::driver::{Driver, Seen};
use super::engine::{Engine, EngineState};
use super::helm::{Helm, Spool};
use super::maths::{seconds, span};
use super::settings::WorldSettings;
use super::switches::Thrown;

/// The step of the model. Between steps acceleration is constant and the rest is straight.
pub const STEP_S: f64 = 0.01;

/// No heat is followed longer than this after zero, whatever the driver does.
const LONGEST_S: f64 = 3_600.0;

/// Where the boat is on its path, and what the engine does.
#[derive(Clone, Copy, Debug)]
struct Sample {
    s: f64,
    speed: f64,
    engine: EngineState,
}

/// The truth at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueState {
    /// Path length of the antenna, zero at the line for the start, negative before it.
    pub s_m: f64,
    /// Along the path.
    pub speed_m_s: f64,
    /// The antenna's place on the water.
    pub place: Place,
    /// By how much its course lies to the right of where the bow points; zero on a path.
    pub skid_rad: f64,
    /// Temperature at the thermocouple and shaft speeds.
    pub engine: EngineState,
}

/// The bow crossing the start line between its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueCrossing {
    /// Race time.
    pub at: Span,
    /// True in racing direction.
    pub forward: bool,
    /// Metres from the left end of the line.
    pub place_m: f64,
    /// Speed along the path.
    pub speed_m_s: f64,
}

/// The heat as it really went.
#[derive(Clone, Debug)]
pub struct Truth {
    course: Course,
    bow_m: f64,
    begins_s: f64,
    samples: Vec<Sample>,
    moves: Vec<(f64, Line, bool)>,
    /// Where a boat that is on no path was, sample by sample; empty for one that is.
    poses: Vec<Pose>,
    /// It goes on: what comes after the last sample is not known yet.
    open: bool,
}

/// A driver whose propeller is gone closes the throttle so long after, s (common practice, no source).
const LIFTS_AFTER_S: f64 = 0.8;

impl Truth {
    /// Runs the heat until the cool-down is over, or until the settings say. `error_s` is by how much the driver
    /// misjudges the start.
    #[must_use]
    pub fn run(settings: &WorldSettings, error_s: f64) -> Self {
        if let Some(drive) = &settings.drive {
            return Self::driven(settings, drive);
        }
        let (begins_s, ends_s) = (settings.begins_s, settings.ends_s);
        let course = Course::new(&settings.course);
        let boat = Boat::new(&settings.boat);
        let mut engine = Engine::new(&settings.engine, &settings.dock, STEP_S);
        let spool = Spool { lag_s: settings.engine.spool_lag_s, dt: STEP_S };
        let helm = Helm::new(boat, spool, &course);
        let mut driver = Driver::new(&settings.driver, &course, helm, error_s);
        let (mut s, mut speed) = (driver.dock(), 0.0);
        let longest = ends_s.unwrap_or(LONGEST_S).min(LONGEST_S) - begins_s;
        let steps = (longest / STEP_S).max(1.0) as usize;
        let mut samples = Vec::with_capacity(steps.min(65_536));
        for k in 0..=steps {
            let t = begins_s + k as f64 * STEP_S;
            samples.push(Sample { s, speed, engine: engine.state() });
            let mut throttle = driver.throttle(Seen { t, s, speed, engine_runs: engine.runs() });
            if settings.engine.propeller_lost_at_s.is_some_and(|lost| t >= lost + LIFTS_AFTER_S) {
                throttle = 0.0;
            }
            if driver.is_done() && ends_s.is_none() {
                break;
            }
            engine.step(t, throttle, speed);
            let (run, next) = boat.step(speed, engine.power(), STEP_S);
            s += run;
            speed = next;
        }
        let moves = engine.moves().to_vec();
        Self {
            bow_m: boat.antenna_to_bow_m,
            course,
            begins_s,
            samples,
            moves,
            poses: Vec::new(),
            open: false,
        }
    }

    /// The truth of a boat that hands drive, up to its first moment, and the boat.
    #[must_use]
    pub fn set_out(settings: &WorldSettings, drive: &Drive) -> (Self, Craft) {
        let course = Course::new(&settings.course);
        let craft = Craft::new(settings, drive, &course);
        let bow_m = settings.boat.antenna_to_bow_m;
        let begins_s = settings.begins_s;
        let (samples, moves, poses) = (Vec::new(), Vec::new(), Vec::new());
        let mut truth = Self { bow_m, course, begins_s, samples, moves, poses, open: true };
        truth.note(&craft);
        (truth, craft)
    }

    /// Writes down where the boat has come to.
    pub fn note(&mut self, craft: &Craft) {
        let (s, speed) = craft.motion();
        self.samples.push(Sample { s, speed, engine: craft.engine() });
        self.poses.push(craft.pose());
    }

    /// A recorded drive, to the end that the settings say.
    fn driven(settings: &WorldSettings, drive: &Drive) -> Self {
        let (mut truth, mut craft) = Self::set_out(settings, drive);
        let mut hands = Played::new(drive);
        let mut thrown = Thrown::of(&settings.presses, span(settings.thumb.held_ms * 1e-3));
        let last = drive.hands.last().map_or(0.0, |row| seconds(row.at));
        let ends_s = settings.ends_s.unwrap_or(last).min(LONGEST_S);
        // One step more, so that at the last moment there is something to look at on both sides.
        for _ in 0..=steps_between(settings.begins_s, span(ends_s)) {
            thrown.until(craft.now()).for_each(|(line, on)| craft.throw(line, on));
            craft.step(hands.at(craft.now()));
            truth.note(&craft);
        }
        truth.open = false;
        truth
    }

    /// Runs the engine alone at the dock, to the settings' end.
    #[must_use]
    pub fn at_dock(settings: &WorldSettings) -> Self {
        let begins_s = settings.begins_s;
        let mut engine = Engine::new(&settings.engine, &settings.dock, STEP_S);
        let longest = settings.ends_s.unwrap_or(LONGEST_S).min(LONGEST_S) - begins_s;
        let steps = (longest / STEP_S).max(1.0) as usize;
        let s = -settings.driver.dock_to_line_m;
        let step = |k: usize| {
            let now = engine.state();
            engine.step(begins_s + k as f64 * STEP_S, 0.0, 0.0);
            Sample { s, speed: 0.0, engine: now }
        };
        let samples = (0..=steps).map(step).collect();
        let moves = engine.moves().to_vec();
        let (bow_m, course) = (settings.boat.antenna_to_bow_m, Course::new(&settings.course));
        Self { bow_m, course, begins_s, samples, moves, poses: Vec::new(), open: false }
    }

    /// Every switch that the hand at the dock moved: race time, line, on or off.
    #[must_use]
    pub fn moves(&self) -> &[(f64, Line, bool)] {
        &self.moves
    }

    /// The engine at every step of the model, and when.
    pub fn engine_steps(&self) -> impl Iterator<Item = (f64, EngineState)> {
        let at = |(k, sample): (usize, &Sample)| (self.begins_s + k as f64 * STEP_S, sample.engine);
        self.samples.iter().enumerate().map(at)
    }

    /// The course it was run on.
    #[must_use]
    pub const fn course(&self) -> &Course {
        &self.course
    }

    /// The first and the last moment there is anything to tell of.
    #[must_use]
    pub fn extent(&self) -> (Span, Span) {
        let beyond = usize::from(!self.poses.is_empty());
        let steps = self.samples.len().saturating_sub(1 + beyond);
        (span(self.begins_s), span(self.begins_s + steps as f64 * STEP_S))
    }

    /// The truth at a moment; before the first and after the last, what held there.
    #[must_use]
    pub fn at(&self, t: Span) -> TrueState {
        self.at_s(seconds(t))
    }

    /// Shaft speeds and temperature at a moment.
    #[must_use]
    pub fn engine(&self, t: f64) -> EngineState {
        let (a, b, share) = self.between(t);
        let mix = |from: f64, to: f64| from + share * (to - from);
        EngineState {
            egt_c: mix(a.engine.egt_c, b.engine.egt_c),
            n1_pct: mix(a.engine.n1_pct, b.engine.n1_pct),
            n2_pct: mix(a.engine.n2_pct, b.engine.n2_pct),
        }
    }

    /// Every crossing of the line by the bow, first to last.
    ///
    /// A coarse look every tenth of a second finds the change of sides (no boat passes the line twice in that
    /// time), halving finds the moment to the microsecond.
    #[must_use]
    pub fn crossings(&self) -> Vec<TrueCrossing> {
        let coarse = 10.0 * STEP_S;
        let looks = self.samples.len().div_ceil(10);
        let time = |k: usize| self.begins_s + k as f64 * coarse;
        let past = |t: f64| self.bow(t).0 >= 0.0;
        let mut found = Vec::new();
        let mut before = past(time(0));
        for k in 1..=looks {
            let after = past(time(k));
            if after != before {
                let at = halve(time(k - 1), time(k), |t| past(t) == before);
                let (_, place_m) = self.bow(at);
                if (0.0..=self.course.line_m()).contains(&place_m) {
                    let speed_m_s = self.motion(at).1;
                    found.push(TrueCrossing { at: span(at), forward: after, place_m, speed_m_s });
                }
            }
            before = after;
        }
        found
    }

    /// True for a step that nothing will change any more.
    pub(super) const fn is_known(&self, step: usize) -> bool {
        !self.open || step < self.samples.len()
    }

    /// The engine at a step of the model; what held last after the last one.
    pub(super) fn engine_at_step(&self, step: usize) -> EngineState {
        self.samples.get(step).or(self.samples.last()).map_or_else(EngineState::default, |s| s.engine)
    }

    fn at_s(&self, t: f64) -> TrueState {
        let (s_m, speed_m_s) = self.motion(t);
        let engine = self.engine(t);
        match self.pose(t) {
            Some(pose) => TrueState { s_m, speed_m_s, place: pose.place(), skid_rad: pose.skid_rad, engine },
            None => TrueState { s_m, speed_m_s, place: self.course.place(s_m), skid_rad: 0.0, engine },
        }
    }

    /// How a boat on no path lay at a moment.
    fn pose(&self, t: f64) -> Option<Pose> {
        let (k, share) = self.step_of(t);
        let from = self.poses.get(k).or(self.poses.last())?;
        Some(self.poses.get(k + 1).map_or(*from, |to| from.towards(to, share)))
    }

    /// The bow: metres past the line, metres from its left end.
    fn bow(&self, t: f64) -> (f64, f64) {
        let place = self.pose(t).map_or_else(|| self.course.place(self.motion(t).0), |pose| pose.place());
        let (east, north) = place.ahead(self.bow_m);
        self.course.from_line(east, north)
    }

    /// Path length and speed.
    fn motion(&self, t: f64) -> (f64, f64) {
        let (a, b, share) = self.between(t);
        let gain = b.speed - a.speed;
        (a.s + STEP_S * share * (a.speed + 0.5 * share * gain), a.speed + share * gain)
    }

    /// The samples on both sides of a moment, and how far it is from the first to the second.
    fn between(&self, t: f64) -> (&Sample, &Sample, f64) {
        const NONE: Sample =
            Sample { s: 0.0, speed: 0.0, engine: EngineState { egt_c: 0.0, n1_pct: 0.0, n2_pct: 0.0 } };
        let (k, share) = self.step_of(t);
        match (self.samples.get(k), self.samples.get(k + 1)) {
            (Some(a), Some(b)) => (a, b, share),
            _ => {
                let last = self.samples.last().unwrap_or(&NONE);
                (last, last, 0.0)
            }
        }
    }

    /// The step before a moment, and the share of the way to the next.
    fn step_of(&self, t: f64) -> (usize, f64) {
        let steps = ((t - self.begins_s) / STEP_S).max(0.0);
        let k = steps as usize;
        (k, steps - k as f64)
    }
}

/// The end of the stretch from `low` on which `holds` is true, to 0.1 microseconds.
fn halve(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    while high - low > 1e-7 {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    const MPH: f64 = 0.447_04; // exact: 1609.344 m in 3600 s

    /// 153 mph round a 2.5 mile oval and 204 mph on its straights, both at once (common practice, no source).
    #[test]
    fn a_flat_out_lap_averages_153_mph_and_peaks_at_204_mph() {
        let truth = Truth::run(&WorldSettings::default(), 0.0);
        let starts: Vec<_> =
            truth.crossings().into_iter().filter(|c| c.at.as_micros() > -10_000_000).collect();
        let lap = seconds(starts[2].at - starts[1].at);
        let average = 4_023.36 / lap / MPH;
        let peak = truth.samples.iter().map(|s| s.speed).fold(0.0, f64::max) / MPH;
        assert!((average - 153.0).abs() < 2.0, "average {average}");
        assert!((peak - 204.0).abs() < 4.0, "peak {peak}");
        let corner = Boat::new(&WorldSettings::default().boat).corner_speed(truth.course.turn_radius_m());
        let turning = |sample: &&Sample| truth.course.until_turn(sample.s) == 0.0;
        let fastest = truth.samples.iter().filter(turning).map(|s| s.speed).fold(0.0, f64::max);
        assert!(fastest < corner + 1.0, "in the turns {fastest}, limit {corner}");
    }
}
