//! What page and server say to each other on a socket: small JSON texts, and the dash's picture as it stands.
//!
//! What the page may say is a closed list; a text with anything else in it is refused. What the server says carries whole
//! numbers where it can: times in microseconds, angles in 0.0001 radians, places in centimetres.

use firmware::input::Line;
use firmware::output::Output;
use firmware::view::{Phase, View};
use serde::{Deserialize, Serialize};

use super::plan::{Mode, Plan};
use super::session::Session;
use crate::json;
use crate::world::course::Course;
use crate::world::craft::{Hands, Pose};
use crate::world::guns::speed_of_sound_m_s;
use crate::world::maths::round;

/// The most bytes that a page's message may have.
pub const SAID_MAX: usize = 512;

/// What a page may say.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(tag = "say", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Said {
    /// A start, from its beginning. Without a seed one is drawn.
    Begin {
        /// How long it takes.
        length: super::plan::Length,
        /// What makes it harder.
        mode: Mode,
        /// With steering help.
        steered: bool,
        /// Every draw comes from this.
        seed: Option<u32>,
    },
    /// Throttle and helm are there now, in thousandths.
    Hands {
        /// 0 to 1000.
        throttle: u16,
        /// -1000 to 1000, to the right positive.
        helm: i16,
    },
    /// A button or switch.
    Button {
        /// Which.
        line: Switch,
        /// Down or up.
        down: bool,
        /// The page's number for it, by which it measures how long the dash takes to show it.
        #[serde(default)]
        id: u32,
    },
    /// The fuel lever is moved.
    Lever {
        /// True: it is open.
        open: bool,
        /// As for a button.
        #[serde(default)]
        id: u32,
    },
    /// Time stands still, or goes on.
    Pause {
        /// True: it stands.
        on: bool,
    },
    /// The start is over for him.
    End,
}

/// A button or switch by its name in a heat file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Switch {
    /// The start button.
    Button,
    /// The button that acknowledges.
    Acknowledge,
    /// The button that turns the page.
    Page,
    /// The igniters.
    Igniter,
    /// The starter, lower voltage.
    StarterLow,
    /// The starter, higher voltage.
    StarterHigh,
    /// Start fuel.
    StartFuel,
    /// External power.
    ExternalPower,
}

impl From<Switch> for Line {
    fn from(switch: Switch) -> Self {
        match switch {
            Switch::Button => Self::Button,
            Switch::Acknowledge => Self::Acknowledge,
            Switch::Page => Self::Page,
            Switch::Igniter => Self::Igniter,
            Switch::StarterLow => Self::StarterLow,
            Switch::StarterHigh => Self::StarterHigh,
            Switch::StartFuel => Self::StartFuel,
            Switch::ExternalPower => Self::ExternalPower,
        }
    }
}

/// Reads what a page said.
///
/// # Errors
/// What is wrong with it.
pub fn read(text: &str) -> Result<Said, serde_json::Error> {
    let said: Said = serde_json::from_str(text)?;
    let out_of_range = |throttle: u16, helm: i16| throttle > Hands::FULL || helm.unsigned_abs() > Hands::FULL;
    match said {
        Said::Hands { throttle, helm } if out_of_range(throttle, helm) => {
            Err(serde::de::Error::custom("throttle is 0 to 1000, helm -1000 to 1000"))
        }
        said => Ok(said),
    }
}

/// What the server says.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Says {
    /// A start begins: what does not change in it.
    Scene(Scene),
    /// The state of things, some sixty times a second.
    State(State),
    /// A gun has fired.
    Gun {
        /// Seconds before zero at which it was due.
        before_s: f64,
        /// How long until it is heard on the boat.
        delay_us: i64,
    },
    /// The dash decided something.
    Decided {
        /// As `gunline run --json` says it.
        line: json::Line,
    },
    /// The start is over and kept under this number.
    Kept {
        /// Its number in the history.
        id: i64,
    },
    /// Something that the driver should read.
    Notice {
        /// What it is about, for the page.
        about: &'static str,
        /// In words.
        text: String,
    },
}

/// Where it is run.
#[derive(Clone, Debug, Serialize)]
pub struct Scene {
    /// What is practised.
    pub plan: Plan,
    /// When it begins.
    pub begins_us: i64,
    /// The line's left and right end, metres east and north of its middle.
    pub line: [[f64; 2]; 2],
    /// The path, once round.
    pub path: Vec<[f64; 2]>,
    /// The buoys of the turns.
    pub buoys: Vec<[f64; 2]>,
    /// From where the guns are fired.
    pub guns: [f64; 2],
    /// A lap.
    pub lap_m: f64,
    /// +1 where the outside is to the right.
    pub outside: f64,
    /// From the antenna to the bow.
    pub bow_m: f64,
}

/// Everything at a moment. Of boats: east and north in cm, heading and skid in 1e-4 rad, speed in cm/s.
#[derive(Clone, Debug, Serialize)]
pub struct State {
    t_us: i64,
    paused: bool,
    own: [i64; 5],
    others: Vec<[i64; 4]>,
    throttle: u16,
    helm: i16,
    /// The fuel lever is open.
    open: bool,
    aside_cm: i64,
    to_line_cm: i64,
    egt_c: i64,
    n1_pm: i64,
    n2_pm: i64,
    lamps: [bool; 2],
    hertz: u16,
    /// The dash may be seen.
    seen: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    stopwatch_us: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    dash: Option<Facts>,
    /// What is said of the real board that is the dash.
    #[serde(skip_serializing_if = "Option::is_none")]
    board: Option<String>,
    /// The last press that was done.
    pressed: u32,
    called: bool,
}

/// What the dash shows, in words and figures, for those who cannot see the picture.
#[derive(Clone, Debug, Serialize)]
struct Facts {
    phase: &'static str,
    race_us: Option<i64>,
    advice: Option<String>,
    margin_us: Option<i64>,
    alert: Option<&'static str>,
}

impl Facts {
    fn of(view: &View) -> Self {
        Self {
            phase: match view.phase {
                Phase::Waiting => "waiting",
                Phase::Milling => "milling",
                Phase::Window => "window",
                Phase::Late => "late",
                Phase::Racing => "racing",
                Phase::Finished => "finished",
            },
            race_us: view.race.map(firmware::units::Span::as_micros),
            advice: view.run_in.map(|run_in| crate::words::kebab(run_in.advice)),
            margin_us: view.run_in.and_then(|run_in| run_in.margin).map(firmware::units::Span::as_micros),
            alert: view.alert.map(|alert| firmware::screen::alert_text(alert.id)),
        }
    }
}

/// How many points of the path are told.
const PATH_POINTS: u32 = 240;
/// Buoys in each turn, and how far inside the path they stand: half of a lane (see the settings).
const BUOYS: u32 = 5;
const BUOY_INSIDE_M: f64 = 10.0;
/// The guns stand so far beyond the line's left end.
const GUNS_BESIDE_M: f64 = 25.0;

impl Scene {
    /// The scene of a start.
    #[must_use]
    pub fn of(session: &Session) -> Self {
        let (course, world) = (session.course(), &session.heat().world);
        let beside = |s: f64, out_m: f64| beside(course, s, out_m);
        let on_line = |along_m: f64| {
            let (x, y) = course.on_line(along_m);
            [x, y]
        };
        let turns = [course.until_turn(0.0), course.lap_m() - course.turn_to_line_m() - bend_m(course)];
        let each = |k: u32| bend_m(course) * f64::from(k) / f64::from(BUOYS - 1);
        Self {
            plan: *session.plan(),
            begins_us: session.now().as_micros(),
            line: [on_line(0.0), on_line(course.line_m())],
            path: (0..PATH_POINTS)
                .map(|k| beside(course.lap_m() * f64::from(k) / f64::from(PATH_POINTS), 0.0))
                .collect(),
            buoys: turns
                .iter()
                .flat_map(|turn| (0..BUOYS).map(move |k| (turn, k)))
                .map(|(turn, k)| beside(turn + each(k), -BUOY_INSIDE_M))
                .collect(),
            guns: Self::of_guns(course),
            lap_m: course.lap_m(),
            outside: course.outside(),
            bow_m: world.boat.antenna_to_bow_m,
        }
    }

    fn of_guns(course: &Course) -> [f64; 2] {
        let (east, north) = course.on_line(-GUNS_BESIDE_M);
        [east, north]
    }
}

fn bend_m(course: &Course) -> f64 {
    core::f64::consts::PI * course.turn_radius_m()
}

/// A point so far outside of the path.
fn beside(course: &Course, s: f64, out_m: f64) -> [f64; 2] {
    let place = course.place(s);
    let (sin, cos) = crate::world::maths::sin_cos(place.heading_rad);
    let out = course.outside() * out_m;
    [place.east_m + out * cos, place.north_m - out * sin]
}

impl State {
    /// The state of a start, with what its panel shows.
    #[must_use]
    pub fn of(session: &mut Session, paused: bool, pressed: u32) -> (Self, super::panel::Look) {
        let (look, view) = session.panel();
        let seen = session.dash_is_seen();
        let now = session.now();
        let craft = session.live().craft();
        let (engine, (_, speed)) = (craft.engine(), craft.motion());
        let (wish, aside_m) = session.wish();
        let (s, _) = session.course().nearest(craft.pose().east_m, craft.pose().north_m);
        let left = session.course().lap_m() - s - session.heat().world.boat.antenna_to_bow_m;
        let stopwatch = session.stopwatch().filter(|_| session.plan().mode == Mode::Stopwatch);
        let state = Self {
            t_us: now.as_micros(),
            paused,
            own: boat(&craft.pose(), speed),
            others: session.rivals().at(now).map(|(pose, speed)| other(&pose, speed)).collect(),
            throttle: wish.throttle,
            helm: wish.helm,
            open: wish.open,
            aside_cm: centi(aside_m),
            to_line_cm: centi(left),
            egt_c: round(engine.egt_c),
            n1_pm: round(engine.n1_pct * 10.0),
            n2_pm: round(engine.n2_pct * 10.0),
            lamps: if seen { [look.lit.warning, look.lit.caution] } else { [false; 2] },
            hertz: if seen { look.hertz } else { 0 },
            seen,
            stopwatch_us: stopwatch.map(firmware::units::Span::as_micros),
            dash: view.as_ref().filter(|_| seen).map(Facts::of),
            board: session.board().map(|board| board.says()),
            pressed,
            called: session.is_made(),
        };
        (state, look)
    }
}

fn boat(pose: &Pose, speed: f64) -> [i64; 5] {
    let [east, north, heading, speed] = other(pose, speed);
    [east, north, heading, round(pose.skid_rad * 1e4), speed]
}

fn other(pose: &Pose, speed: f64) -> [i64; 4] {
    [centi(pose.east_m), centi(pose.north_m), round(pose.heading_rad * 1e4), centi(speed)]
}

fn centi(value: f64) -> i64 {
    round(value * 100.0)
}

/// The guns and decisions of a start that have not been told yet.
#[derive(Clone, Copy, Debug, Default)]
pub struct Told {
    guns: usize,
    decisions: usize,
}

impl Told {
    /// What has happened since the last call.
    pub fn news(&mut self, session: &Session) -> Vec<Says> {
        let mut news = Vec::new();
        let shots = session.shots().get(self.guns..).unwrap_or_default();
        for shot in shots.iter().take_while(|shot| shot.fired <= session.now()) {
            self.guns += 1;
            let pose = session.live().craft().pose();
            let [east, north] = Scene::of_guns(session.course());
            let (x, y) = (pose.east_m - east, pose.north_m - north);
            let sound = speed_of_sound_m_s(session.heat().world.guns.air_c);
            let delay_us = round((x * x + y * y).sqrt() / sound * 1e6);
            news.push(Says::Gun { before_s: shot.due_before_s, delay_us });
        }
        let decisions = session.rig().decisions();
        for decided in decisions.get(self.decisions..).unwrap_or_default() {
            if session.dash_is_seen() && !matches!(decided.output, Output::Cue(_)) {
                news.push(Says::Decided { line: json::Line::of(decided.t, decided) });
            }
        }
        self.decisions = decisions.len();
        news
    }
}
