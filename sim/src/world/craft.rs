//! A boat that a hand drives: free on the water, with throttle and helm, weight and skid.
//!
//! Along her course she is the boat of [`boat`](super::boat): the same thrust, the same drag. Beside that she has a
//! heading that the helm turns, and a course that follows it as far as the water holds her sideways. Asked for more,
//! she skids, and a skid costs speed. All figures of the turning are invented, so that a bend at the speed that the
//! boat holds in it skids by about six degrees.
//!
//! Hands go in step by step, place and engine come out. Same hands, same bits. This room knows course, boat and engine.

use core::f64::consts::{PI, TAU};

use firmware::input::Line;
use firmware::units::Span;

use super::boat::Boat;
use super::course::{Course, Place};
use super::engine::{Engine, EngineState};
use super::maths::{exp, once_round, seconds, sin_cos, span};
use super::settings::WorldSettings;
use super::switches::SwitchPanel;
use super::truth::STEP_S;

/// Where throttle and helm are, in thousandths, so that a recording holds them exactly.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Hands {
    /// 0 is closed, 1000 is open.
    pub throttle: u16,
    /// -1000 is hard to the left, 1000 hard to the right.
    pub helm: i16,
    /// The fuel lever is open: main fuel may flow. The dash sees nothing of it.
    pub open: bool,
}

impl Hands {
    /// The most that either can be.
    pub const FULL: u16 = 1_000;

    /// From shares: 0 to 1 and -1 to 1; beyond, the ends. The fuel lever is open.
    #[must_use]
    pub fn of(throttle: f64, helm: f64) -> Self {
        let full = f64::from(Self::FULL);
        Self {
            throttle: (throttle.clamp(0.0, 1.0) * full + 0.5) as u16,
            helm: super::maths::round(helm.clamp(-1.0, 1.0) * full) as i16,
            open: true,
        }
    }
}

/// From this moment on the hands are so; a whole number of hundredths of a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HandsAt {
    /// Race time.
    pub at: Span,
    /// Where they are from then on.
    pub hands: Hands,
}

/// A recorded drive: where the boat lies when the world begins, and every move of the hands.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// So far before the line along the path.
    pub to_line_m: f64,
    /// So far outside of the path.
    pub aside_m: f64,
    /// How fast she runs then.
    pub speed_m_s: f64,
    /// The engine idles already.
    pub engine_runs: bool,
    /// In the order of time; before the first all is at rest.
    pub hands: Vec<HandsAt>,
}

impl Drive {
    /// The hands before they do anything: the fuel lever is open where the engine runs.
    #[must_use]
    pub const fn at_rest(&self) -> Hands {
        Hands { throttle: 0, helm: 0, open: self.engine_runs }
    }
}

impl Default for Drive {
    fn default() -> Self {
        Self { to_line_m: 2_200.0, aside_m: 0.0, speed_m_s: 0.0, engine_runs: true, hands: Vec::new() }
    }
}

/// Where she is and how she lies.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    /// Metres east of the middle of the start line.
    pub east_m: f64,
    /// Metres north of it.
    pub north_m: f64,
    /// Where the bow points, clockwise from north.
    pub heading_rad: f64,
    /// By how much her course lies to the right of that.
    pub skid_rad: f64,
}

/// The boat under way.
#[derive(Clone, Debug)]
pub struct Craft {
    boat: Boat,
    engine: Engine,
    panel: SwitchPanel,
    begins_s: f64,
    steps: usize,
    grip_m_s2: f64,
    helm_share: f64,
    pose: Pose,
    yaw_rad_s: f64,
    speed: f64,
    run: f64,
}

/// She turns no faster than this, however slow she is.
const YAW_MOST_RAD_S: f64 = 0.7;
/// The helm asks for this share of the sideways acceleration that the boat holds in a bend, and the water gives that.
const ASKS: f64 = 1.25;
const GIVES: f64 = 1.15;
/// The hull follows the helm with this time constant.
const HELM_LAG_S: f64 = 0.18;
/// The skid at which the water gives seven tenths of all it can give.
const SKID_RAD: f64 = 0.06;
/// What a skid costs: metres per second squared for the square of its sine.
const SKID_DRAG_M_S2: f64 = 60.0;
/// Below this her course comes round as if she ran at it.
const SLOW_M_S: f64 = 4.0;

impl Craft {
    /// The boat where the drive begins.
    #[must_use]
    pub fn new(settings: &WorldSettings, drive: &Drive, course: &Course) -> Self {
        let boat = Boat::new(&settings.boat);
        let at = course.place(-drive.to_line_m);
        let (sin, cos) = sin_cos(at.heading_rad);
        let outside = course.outside() * drive.aside_m;
        let engine = if drive.engine_runs {
            Engine::running(&settings.engine, STEP_S, boat.power_to_hold(drive.speed_m_s), drive.speed_m_s)
        } else {
            Engine::new(&settings.engine, &settings.dock, STEP_S)
        };
        Self {
            grip_m_s2: settings.boat.cornering_m_s2.max(0.1),
            helm_share: 1.0 - exp(-STEP_S / HELM_LAG_S),
            begins_s: settings.begins_s,
            steps: 0,
            pose: Pose {
                east_m: at.east_m + outside * cos,
                north_m: at.north_m - outside * sin,
                heading_rad: at.heading_rad,
                skid_rad: 0.0,
            },
            yaw_rad_s: 0.0,
            speed: drive.speed_m_s,
            run: 0.0,
            boat,
            engine,
            panel: SwitchPanel::default(),
        }
    }

    /// The moment at which she is where she is.
    #[must_use]
    pub fn now(&self) -> Span {
        span(self.now_s())
    }

    fn now_s(&self) -> f64 {
        self.begins_s + self.steps as f64 * STEP_S
    }

    /// Where she is.
    #[must_use]
    pub const fn pose(&self) -> Pose {
        self.pose
    }

    /// Metres run since the world began, and metres a second.
    #[must_use]
    pub const fn motion(&self) -> (f64, f64) {
        (self.run, self.speed)
    }

    /// What the engine does.
    #[must_use]
    pub const fn engine(&self) -> EngineState {
        self.engine.state()
    }

    /// A switch of the engine is thrown, and counts from the next step on; of other lines she knows nothing.
    pub const fn throw(&mut self, line: Line, on: bool) {
        self.panel.throw(line, on);
    }

    /// What she is and has: for whoever works out how she would run on.
    #[must_use]
    pub const fn parts(&self) -> (&Boat, &Engine) {
        (&self.boat, &self.engine)
    }

    /// One step of the model with the hands as they are.
    pub fn step(&mut self, hands: Hands) {
        let full = f64::from(Hands::FULL);
        let switches = self.panel.switches(hands.open);
        self.engine.worked(self.now_s(), switches, f64::from(hands.throttle) / full, self.speed);
        let before = self.speed;
        let (sin_skid, _) = sin_cos(self.pose.skid_rad);
        let slowed = SKID_DRAG_M_S2 * sin_skid * sin_skid;
        let gain = self.boat.acceleration(before, self.engine.power()) - slowed;
        self.speed = (before + gain * STEP_S).max(0.0);
        let way = 0.5 * (before + self.speed) * STEP_S;
        let (sin, cos) = sin_cos(self.pose.heading_rad + self.pose.skid_rad);
        self.pose.east_m += way * sin;
        self.pose.north_m += way * cos;
        self.run += way;
        self.turn(f64::from(hands.helm) / full);
        self.steps += 1;
    }

    /// The helm turns her heading, and the water her course.
    fn turn(&mut self, helm: f64) {
        let speed = self.speed.max(SLOW_M_S);
        let asked =
            helm * (ASKS * self.grip_m_s2 / speed).min(YAW_MOST_RAD_S) * (self.speed / SLOW_M_S).min(1.0);
        self.yaw_rad_s += self.helm_share * (asked - self.yaw_rad_s);
        let x = -self.pose.skid_rad / SKID_RAD;
        let sideways = GIVES * self.grip_m_s2 * x / (1.0 + x * x).sqrt();
        let skid = self.pose.skid_rad + (sideways / speed - self.yaw_rad_s) * STEP_S;
        self.pose.heading_rad = once_round(self.pose.heading_rad + self.yaw_rad_s * STEP_S);
        self.pose.skid_rad = once_round(skid + PI) - PI;
    }
}

impl Pose {
    /// Between two poses, `share` of the way from this to the other; the shorter way round.
    #[must_use]
    pub fn towards(&self, other: &Self, share: f64) -> Self {
        let mix = |from: f64, to: f64| from + share * (to - from);
        let turned = once_round(other.heading_rad - self.heading_rad + PI) - PI;
        Self {
            east_m: mix(self.east_m, other.east_m),
            north_m: mix(self.north_m, other.north_m),
            heading_rad: once_round(self.heading_rad + share * turned + TAU),
            skid_rad: mix(self.skid_rad, other.skid_rad),
        }
    }

    /// The place on the water. A free boat is on no path, so there is no curvature.
    #[must_use]
    pub const fn place(&self) -> Place {
        Place {
            east_m: self.east_m,
            north_m: self.north_m,
            heading_rad: self.heading_rad,
            curvature_per_m: 0.0,
        }
    }
}

/// The hands of a recording, asked for with growing time.
#[derive(Clone, Debug)]
pub struct Played<'a> {
    rows: &'a [HandsAt],
    hands: Hands,
}

impl<'a> Played<'a> {
    /// From the beginning.
    #[must_use]
    pub fn new(drive: &'a Drive) -> Self {
        Self { rows: &drive.hands, hands: drive.at_rest() }
    }

    /// Where the hands are at a moment no earlier than what was asked before.
    pub fn at(&mut self, t: Span) -> Hands {
        while let Some((row, rest)) = self.rows.split_first().filter(|(row, _)| row.at <= t) {
            (self.hands, self.rows) = (row.hands, rest);
        }
        self.hands
    }
}

/// The steps from one moment to another.
#[must_use]
pub fn steps_between(from_s: f64, to: Span) -> usize {
    super::maths::round((seconds(to) - from_s) / STEP_S).max(0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    fn craft(drive: &Drive) -> (Craft, Course) {
        let settings = WorldSettings::default();
        let course = Course::new(&settings.course);
        (Craft::new(&settings, drive, &course), course)
    }

    fn run(craft: &mut Craft, seconds: f64, hands: Hands) {
        for _ in 0..(seconds / STEP_S) as usize {
            craft.step(hands);
        }
    }

    /// On a straight she is the boat on the path: 96 m/s is where full thrust equals drag.
    #[test]
    fn flat_out_and_straight_she_ends_at_her_top_speed_without_skid() {
        let (mut craft, _) = craft(&Drive::default());
        run(&mut craft, 90.0, Hands::of(1.0, 0.0));
        assert!((craft.motion().1 - 96.0).abs() < 0.05, "{:?}", craft.motion());
        assert_eq!(craft.pose().skid_rad, 0.0);
    }

    /// Circular motion: the sideways acceleration is speed times the rate of turn. The water gives 1.15 of 15.2 m/s2.
    #[test]
    fn a_turn_is_no_tighter_than_the_water_holds_her_and_she_skids_outwards() {
        let (mut craft, _) = craft(&Drive { speed_m_s: 55.0, ..Drive::default() });
        let hold = craft.boat.power_to_hold(55.0);
        run(&mut craft, 3.0, Hands::of(hold, -0.7));
        let (before, speed) = (craft.pose(), craft.motion().1);
        craft.step(Hands::of(hold, -0.7));
        let course = |pose: Pose| pose.heading_rad + pose.skid_rad;
        let rate = (once_round(course(craft.pose()) - course(before) + PI) - PI) / STEP_S;
        assert!(rate < 0.0, "helm to the left turns left");
        assert!(rate.abs() * speed <= 1.15 * 15.2 + 1e-6, "{}", rate * speed);
        assert!(rate.abs() * speed > 0.6 * 15.2, "{}", rate * speed);
        assert!(craft.pose().skid_rad > 0.02, "she runs wide: her course lies outside of her bow");
    }

    #[test]
    fn a_skid_costs_speed() {
        let (mut straight, _) = craft(&Drive { speed_m_s: 60.0, ..Drive::default() });
        let (mut turning, _) = craft(&Drive { speed_m_s: 60.0, ..Drive::default() });
        run(&mut straight, 3.0, Hands::of(0.7, 0.0));
        run(&mut turning, 3.0, Hands::of(0.7, 1.0));
        assert!(turning.motion().1 < straight.motion().1 - 2.0);
    }

    #[test]
    fn she_begins_where_she_is_told_outside_of_the_path() {
        let (craft, course) = craft(&Drive { to_line_m: 500.0, aside_m: 30.0, ..Drive::default() });
        let (s, aside) = course.nearest(craft.pose().east_m, craft.pose().north_m);
        assert!((s - (course.lap_m() - 500.0)).abs() < 1e-6 && (aside - 30.0).abs() < 1e-6, "{s} {aside}");
    }
}
