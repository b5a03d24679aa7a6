//! The coach: what a start came to, where it was lost, and what the best start from there would have been.
//!
//! Everything is made from the heat file of the start, played as `gunline run` plays it: so what the coach tells is what
//! anybody can replay. The margin "if flat out now" is that of the true boat on the lane that she was on.
//!
//! A finished start in, a review out. Knows the replay, the world and the drill of a sweep; not the store, not the page.

use firmware::output::{Call, Output};
use firmware::units::Span;
use serde::{Deserialize, Serialize};

use super::foot::{Lift, hands_by_step, lifts, went};
use super::plan::{Files, Plan};
use super::session::{Finished, NoStart, Session};
use crate::log::Log;
use crate::play;
use crate::scenario::Heat;
use crate::sweep::drill::Drill;
use crate::timeline::hex;
use crate::world::boat::Boat;
use crate::world::course::{Course, CourseSettings};
use crate::world::craft::Hands;
use crate::world::faults::Faults;
use crate::world::guns::shots;
use crate::world::helm::{Helm, LOOK_S, Spool};
use crate::world::maths::seconds;
use crate::world::truth::{STEP_S, TrueCrossing, Truth};

/// Distances are also told in lengths of this boat, which is invented.
pub const LENGTH_M: f64 = 9.0;

/// What came of a start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Review {
    /// What was practised.
    pub plan: Plan,
    /// The dash's call; none when the line was not crossed.
    pub call: Option<Called>,
    /// The bow's true crossing less the true zero; none when the line was not crossed.
    pub margin_us: Option<i64>,
    /// Speed over the line.
    pub speed_m_s: Option<f64>,
    /// What the start cost against one that crossed at zero flat out.
    pub lost: Option<Lost>,
    /// When he went flat out for good, and when the best start from where he was would have gone.
    pub went_us: Option<i64>,
    /// The first moment from which flat out would not have been early.
    pub best_us: Option<i64>,
    /// Where he eased after he had gone.
    pub lifts: Vec<Lift>,
    /// What the dash had foretold when he went, against what came of it.
    pub foretold: Option<Foretold>,
    /// His presses: seconds before zero of the gun, and how late he was.
    pub reactions: Vec<Reaction>,
    /// What went wrong on purpose, in words.
    pub faults: Vec<String>,
    /// Ten times a second.
    pub trace: Trace,
    /// SHA-256 of the dash's decisions.
    pub digest: String,
    /// The replay of the files gave the digest of the drive.
    pub replays: bool,
}

/// The dash's call.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Called {
    /// `early`, `legal` or `too-close`.
    pub call: String,
    /// Crossing less zero as the dash has it.
    pub margin_us: i64,
    /// One standard deviation.
    pub sigma_us: i64,
}

/// What a start cost, 300 m past the line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lost {
    /// Behind a start at zero flat out, in metres; negative is ahead of it, which is early.
    pub metres: f64,
    /// In lengths of the boat.
    pub lengths: f64,
    /// The part of it that came from crossing after zero.
    pub by_time_m: f64,
    /// The part that came from crossing slower than flat out.
    pub by_speed_m: f64,
}

/// A forecast and what came of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Foretold {
    /// The margin that the dash foretold when he went.
    pub forecast_us: i64,
    /// What it became.
    pub margin_us: i64,
    /// One standard deviation of the forecast.
    pub sigma_us: i64,
}

/// One press at a gun.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reaction {
    /// Seconds before zero at which the gun was due.
    pub before_s: f64,
    /// How late the press was after it fired.
    pub late_us: i64,
}

/// The start sample by sample; all lists have one entry for each.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// Race time.
    pub t_ms: Vec<i64>,
    /// Place, east and north of the line's middle, in cm.
    pub east_cm: Vec<i64>,
    /// North.
    pub north_cm: Vec<i64>,
    /// Where the bow points, 1e-4 rad.
    pub heading: Vec<i64>,
    /// Speed in cm/s.
    pub speed: Vec<i64>,
    /// In thousandths.
    pub throttle: Vec<u16>,
    /// In thousandths.
    pub helm: Vec<i16>,
    /// The dash's margin in ms, where it showed one.
    pub margin_ms: Vec<Option<i64>>,
    /// Its standard deviation.
    pub sigma_ms: Vec<Option<i64>>,
    /// The true boat's margin if flat out from there.
    pub true_ms: Vec<Option<i64>>,
    /// EGT, degrees Celsius.
    pub egt_c: Vec<i64>,
    /// N1 in thousandths.
    pub n1_pm: Vec<i64>,
}

/// Before this nobody goes for the line.
const TRACED_FROM_S: f64 = -60.0;

/// Plays a finished start and says what it came to.
///
/// # Errors
/// When its own files cannot be read, which only a mistake of this program can cause.
pub fn of(finished: &Finished) -> Result<Review, NoStart> {
    let heat = finished.files.load()?;
    let log = play::play(&heat);
    let truth = Truth::run(&heat.world, 0.0);
    let coach = Coach::new(&heat, &truth);
    let crossing = coach.crossing;
    let hands = hands_by_step(&heat, &truth);
    let went = went(&hands, crossing.as_ref());
    let trace = coach.trace(&log, &hands);
    let faults = Faults::drawn(&heat.world.faults, heat.seed);
    let reactions = Session::reactions(&shots(&heat.world.guns, &faults), &heat.world.presses);
    Ok(Review {
        plan: finished.plan,
        call: called(&log),
        margin_us: crossing.map(|it| it.at.as_micros()),
        speed_m_s: crossing.map(|it| it.speed_m_s),
        lost: crossing.map(|it| coach.lost(&it)),
        went_us: went.map(Span::as_micros),
        best_us: best(&trace),
        lifts: went.map_or(Vec::new(), |went| lifts(&hands, went, crossing.as_ref())),
        foretold: foretold(&log),
        reactions: reactions
            .into_iter()
            .map(|(before_s, late_s)| Reaction { before_s, late_us: (late_s * 1e6).round() as i64 })
            .collect(),
        faults: in_words(&heat),
        digest: hex(&log.digest),
        replays: log.digest == finished.digest && log.journal == finished.journal,
        trace,
    })
}

/// The first moment of the trace from which flat out would not have been early, if it was early just before.
fn best(trace: &Trace) -> Option<i64> {
    let margins = trace.t_ms.iter().zip(&trace.true_ms).filter_map(|(t, margin)| Some((*t, (*margin)?)));
    let pairs: Vec<_> = margins.collect();
    let turn = pairs.windows(2).rev().find(|pair| matches!(pair, [(_, a), (_, b)] if *a < 0 && *b >= 0))?;
    let [(t0, a), (t1, b)] = turn else { return None };
    Some((t0 * 1_000) + (t1 - t0) * 1_000 * -a / (b - a).max(1))
}

fn called(log: &Log) -> Option<Called> {
    let calls = log.decisions.iter().rev().filter_map(|decided| match decided.output {
        Output::Call { call, margin, sigma, .. } => Some((call, margin, sigma)),
        _ => None,
    });
    let (call, margin, sigma) = calls.into_iter().next()?;
    let call = match call {
        Call::Early => "early",
        Call::Legal => "legal",
        Call::TooClose => "too-close",
    };
    Some(Called { call: call.to_owned(), margin_us: margin.as_micros(), sigma_us: sigma.as_micros() })
}

fn foretold(log: &Log) -> Option<Foretold> {
    log.decisions.iter().find_map(|decided| match decided.output {
        Output::RunIn { forecast, actual, sigma } => Some(Foretold {
            forecast_us: forecast.as_micros(),
            margin_us: actual.as_micros(),
            sigma_us: sigma.as_micros(),
        }),
        _ => None,
    })
}

/// What was made to go wrong.
fn in_words(heat: &Heat) -> Vec<String> {
    let clock = |t: Span| crate::words::clock(t);
    let mut told: Vec<String> = heat
        .world
        .faults
        .iter()
        .map(|fault| format!("no fix from {} for {:.1} s", clock(fault.at), seconds(fault.lasts)))
        .collect();
    let late = heat.world.guns.signals_s.iter().zip(&heat.world.guns.late_s).filter(|(_, late)| **late > 0.0);
    told.extend(
        late.map(|(before, late)| format!("the gun due {before} s before zero fired {late:.2} s late")),
    );
    if heat.world.engine.start_fuel > 1.0 {
        let rich = (heat.world.engine.start_fuel - 1.0) * 100.0;
        told.push(format!("the start fuel was set {rich:.0} % too rich: a hot start unless the fuel is cut"));
    }
    told
}

/// What the coach knows of boat and course.
struct Coach<'a> {
    heat: &'a Heat,
    truth: &'a Truth,
    /// The start: the first crossing in racing direction that is no milling by the rules of the settings.
    crossing: Option<TrueCrossing>,
    helm: Helm,
    course: Course,
    /// An ideal start: speed over the line, and seconds from there to where starts are compared.
    ideal: (f64, f64),
}

impl<'a> Coach<'a> {
    fn new(heat: &'a Heat, truth: &'a Truth) -> Self {
        let world = &heat.world;
        let course = Course::new(&world.course);
        let spool = Spool { lag_s: world.engine.spool_lag_s, dt: STEP_S };
        let helm = Helm::new(Boat::new(&world.boat), spool, &course);
        let exit = (course.turn_to_line_m(), helm.corner_m_s, helm.boat.power_to_hold(helm.corner_m_s));
        let (_, speed) = Drill::flat_out(&helm, &course, exit, STEP_S);
        let past = Drill::past_the_line(&helm, speed, 1.0);
        let window = heat.settings.race.early_window;
        let crossing = truth.crossings().into_iter().find(|it| it.forward && it.at >= -window);
        Self { heat, truth, crossing, course, ideal: (speed, past), helm }
    }

    fn power(&self, n1_pct: f64) -> f64 {
        let idle = self.heat.world.engine.idle_n1_pct;
        ((n1_pct - idle) / (100.0 - idle).max(1.0)).clamp(0.0, 1.0)
    }

    fn lost(&self, crossing: &TrueCrossing) -> Lost {
        let power = self.power(self.truth.at(crossing.at).engine.n1_pct);
        let (ideal_m_s, ideal_s) = self.ideal;
        let slower = Drill::past_the_line(&self.helm, crossing.speed_m_s, power) - ideal_s;
        let (by_time_m, by_speed_m) = (seconds(crossing.at) * ideal_m_s, slower * ideal_m_s);
        let metres = by_time_m + by_speed_m;
        Lost { metres, lengths: metres / LENGTH_M, by_time_m, by_speed_m }
    }

    /// The margin if he gave all from `t` on, on the lane that he is on.
    fn flat_out_ms(&self, t: Span) -> Option<i64> {
        let state = self.truth.at(t);
        let (_, aside) = self.course.nearest(state.place.east_m, state.place.north_m);
        let lane =
            CourseSettings { lane_offset_m: aside.clamp(-20.0, 200.0), ..self.heat.world.course.clone() };
        let lane = Course::new(&lane);
        let (s, _) = lane.nearest(state.place.east_m, state.place.north_m);
        let left = lane.lap_m() - s - self.helm.boat.antenna_to_bow_m;
        let power = self.power(state.engine.n1_pct);
        let from = (left.max(0.0), state.speed_m_s, power);
        let (takes, _) = Drill::flat_out(&self.helm, &lane, from, LOOK_S);
        Some(((seconds(t) + takes) * 1e3).round() as i64).filter(|ms| ms.abs() < 30_000)
    }

    fn trace(&self, log: &Log, hands: &[(Span, Hands)]) -> Trace {
        let mut trace = Trace::default();
        let mut hands = hands.iter().peekable();
        let mut now = Hands::default();
        for sample in log.samples.iter().filter(|sample| seconds(sample.t) >= TRACED_FROM_S - 15.0) {
            while let Some((_, hands)) = hands.next_if(|(t, _)| *t <= sample.t) {
                now = *hands;
            }
            let state = self.truth.at(sample.t);
            let cm = |metres: f64| (metres * 100.0).round() as i64;
            let run_in = sample.view.run_in;
            let ms = |span: Span| span.as_micros() / 1_000;
            let asked = seconds(sample.t) >= TRACED_FROM_S && self.crossing.is_none_or(|it| sample.t < it.at);
            trace.t_ms.push(ms(sample.t));
            trace.east_cm.push(cm(state.place.east_m));
            trace.north_cm.push(cm(state.place.north_m));
            trace.heading.push((state.place.heading_rad * 1e4).round() as i64);
            trace.speed.push(cm(state.speed_m_s));
            trace.throttle.push(now.throttle);
            trace.helm.push(now.helm);
            trace.margin_ms.push(run_in.and_then(|it| it.margin).map(ms));
            trace.sigma_ms.push(run_in.and_then(|it| it.sigma).map(ms));
            trace.true_ms.push(if asked { self.flat_out_ms(sample.t) } else { None });
            trace.egt_c.push(state.engine.egt_c.round() as i64);
            trace.n1_pm.push((state.engine.n1_pct * 10.0).round() as i64);
        }
        trace
    }
}

/// What a review and the files that it was made from are kept as.
#[derive(Clone, Debug)]
pub struct Start {
    /// The review.
    pub review: Review,
    /// The heat.
    pub files: Files,
    /// What the dash recorded.
    pub journal: Vec<u8>,
}

impl Start {
    /// Reviews a finished start.
    ///
    /// # Errors
    /// As [`of`].
    pub fn of(finished: Finished) -> Result<Self, NoStart> {
        Ok(Self { review: of(&finished)?, files: finished.files, journal: finished.journal })
    }
}
