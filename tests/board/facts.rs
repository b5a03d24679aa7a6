//! What can be measured of a run: agreement with the simulator, stamps, pictures, lamps and beeper, restarts.
//!
//! Each function takes a played heat and gives figures; the tests hold them to their limits and print them.

use firmware::input::{Input, Line};
use firmware::output::{AlertState, Level, Output};
use firmware::screen;
use firmware::units::{Instant, Span};
use gunline::stimulus::Happening;

use crate::bench::{Edge, Look};
use crate::played::Played;
use crate::record::Life;

/// A decision about the race: what it is, and its numbers in microseconds, millimetres or millimetres a second.
pub type Fact = (String, Vec<i64>);

/// The facts of the race by the board and by the simulator.
pub fn both(played: &Played) -> (Vec<Fact>, Vec<Fact>) {
    let board = played.lives.iter().flat_map(|life| life.decisions().map(|(_, output)| output));
    let simulator = played.log.decisions.iter().map(|decided| &decided.output);
    (race_facts(board), race_facts(simulator))
}

/// The decisions about zero, start and laps, without those about sensors: the board reads its sensors by a schedule
/// of its own.
fn race_facts<'a>(decisions: impl Iterator<Item = &'a Output>) -> Vec<Fact> {
    decisions.filter_map(race_fact).collect()
}

fn race_fact(output: &Output) -> Option<Fact> {
    Some(match *output {
        Output::Zero { source, at, moved, sigma } => {
            let numbers =
                vec![at.as_micros() as i64, moved.unwrap_or_default().as_micros(), sigma.as_micros()];
            (format!("zero by {source:?}, moved {}", moved.is_some()), numbers)
        }
        Output::Stray { contact, why } => (format!("stray {contact} {why:?}"), Vec::new()),
        Output::Cleared => ("cleared".to_owned(), Vec::new()),
        Output::Crossing { at, sigma, forward, place, counted } => {
            let numbers = vec![at.as_micros() as i64, sigma.as_micros(), place.as_mm()];
            (format!("crossing {forward} {counted:?}"), numbers)
        }
        Output::Call { call, margin, sigma, revised } => {
            (format!("call {call:?} {revised}"), vec![margin.as_micros(), sigma.as_micros()])
        }
        Output::Lap { lap, time, speed, sigma } => {
            (format!("lap {lap}"), vec![time.as_micros(), i64::from(speed.as_mm_s()), sigma.as_micros()])
        }
        Output::Penalty { cause, laps, time } => {
            (format!("penalty {cause:?} {laps}"), vec![time.as_micros()])
        }
        Output::RunIn { forecast, actual, sigma } => {
            ("run-in".to_owned(), vec![forecast.as_micros(), actual.as_micros(), sigma.as_micros()])
        }
        Output::LapMissed { run } => ("lap missed".to_owned(), vec![run.as_mm()]),
        Output::Finish { laps, time, penalty } => {
            (format!("finish {laps}"), vec![time.as_micros(), penalty.as_micros()])
        }
        _ => return None,
    })
}

/// The most by which two lists of the same facts differ in a number.
pub fn apart(one: &[Fact], other: &[Fact]) -> i64 {
    let numbers = |facts: &[Fact]| facts.iter().flat_map(|(_, numbers)| numbers.clone()).collect::<Vec<_>>();
    numbers(one).iter().zip(numbers(other)).map(|(a, b)| (a - b).abs()).max().unwrap_or(0)
}

/// When a stimulus made an input active.
fn rises(played: &Played, wanted: &str) -> Vec<Instant> {
    let rise = |(at, happening): &(Instant, Happening)| match happening {
        Happening::Pin { name, active: true } if *name == wanted => Some(*at),
        _ => None,
    };
    played.stimulus.happenings().iter().filter_map(rise).collect()
}

/// The lines that are stamped at their edge. The page button is not among them: it is told apart from a long hold
/// before it counts.
const LINES: [(&str, Line); 7] = [
    ("button", Line::Button),
    ("gun_contact", Line::GunContact),
    ("acknowledge", Line::Acknowledge),
    ("igniter", Line::Igniter),
    ("starter_low", Line::StarterLow),
    ("starter_high", Line::StarterHigh),
    ("start_fuel", Line::StartFuel),
];

/// An edge so long after the one before is no bounce.
const BOUNCE: Span = Span::from_millis(25);

/// The first edge of each press or closure of a line.
fn presses(played: &Played, wanted: &str) -> Vec<Instant> {
    let (mut presses, mut last) = (Vec::new(), None);
    for (at, happening) in played.stimulus.happenings() {
        let Happening::Pin { name, active } = happening else { continue };
        if *name == wanted {
            if *active && last.is_none_or(|last| at.since(last) >= BOUNCE) {
                presses.push(*at);
            }
            last = Some(*at);
        }
    }
    presses
}

/// How late each press or closure was stamped, microseconds; none where its edge is not in the record. For a heat
/// without restarts, in which the board's time and the emulated time are one.
pub fn stamps_late_us(played: &Played) -> Vec<Option<i64>> {
    let life = &played.lives[0];
    let late = |(name, line): (&str, Line)| {
        presses(played, name).into_iter().map(move |edge| stamp_of(life, line, edge))
    };
    LINES.into_iter().flat_map(late).collect()
}

/// By how much the stamp of an edge lies after it.
fn stamp_of(life: &Life, line: Line, edge: Instant) -> Option<i64> {
    let down = Input::Edge { line, active: true };
    let stamps =
        life.steps.iter().filter(|step| step.input == down).map(|step| step.at.since(edge).as_micros());
    stamps.filter(|late| (0..1_000).contains(late)).min()
}

/// The level of an output at an emulated time.
fn level_at(edges: &[Edge], name: &str, t_us: f64) -> u32 {
    edges
        .iter()
        .take_while(|edge| edge.t_us <= t_us)
        .filter(|edge| edge.name == name)
        .last()
        .map_or(0, |e| e.level)
}

/// How long after an emulated time a dark or silent output came on.
fn comes_on(edges: &[Edge], name: &str, t_us: f64) -> f64 {
    let on = edges.iter().find(|edge| edge.t_us >= t_us && edge.name == name && edge.level > 0);
    on.map_or(f64::INFINITY, |edge| edge.t_us - t_us)
}

/// How long after each fact that sounds a silent beeper sounded, microseconds. The fact of a press is its edge.
pub fn beeper_after_us(played: &Played) -> Vec<f64> {
    let edges = &played.run.edges;
    let cues = played.lives[0].decisions().filter(|(_, output)| matches!(output, Output::Cue(_)));
    cues.map(|(at, _)| at.as_micros() as f64)
        .filter(|t| level_at(edges, "beeper", *t) == 0)
        .map(|t| comes_on(edges, "beeper", t))
        .collect()
}

/// How long after the edge of the first press or closure the beeper answered, microseconds.
pub fn first_answer_us(played: &Played) -> f64 {
    let edges = [rises(played, "button"), rises(played, "gun_contact")].concat();
    let first = edges.into_iter().min().map_or(f64::NAN, |edge| edge.as_micros() as f64);
    comes_on(&played.run.edges, "beeper", first)
}

/// How long after each alert its dark lamp was lit, microseconds.
pub fn lamps_after_us(played: &Played) -> Vec<f64> {
    let edges = &played.run.edges;
    let raised = played.lives[0].decisions().filter_map(|(at, output)| match output {
        Output::Alert { level, state: AlertState::Raised, .. } => Some((at.as_micros() as f64, *level)),
        _ => None,
    });
    raised
        .filter_map(|(t, level)| match level {
            Level::Warning => Some((t, "warning_lamp")),
            Level::Caution => Some((t, "caution_lamp")),
            Level::Advisory => None,
        })
        .filter(|(t, lamp)| level_at(edges, lamp, *t) == 0)
        .map(|(t, lamp)| comes_on(edges, lamp, t))
        .collect()
}

/// What the host would have on the display for a look: the same dash, fed the same inputs, drawn for the same moment.
pub fn picture(played: &Played, look: &Look) -> Option<screen::Frame> {
    let drawn = look.drawn?;
    let life = played.lives.get(played.life_at(look.t_us))?;
    let dash = life.again(drawn.inputs as usize)?;
    Some(screen::draw(&dash.view(Instant::from_micros(drawn.at_us)), &life.settings.screen))
}

/// The board's time less the emulated time in a life, microseconds: from its pulses, which come at known times.
pub fn clock_ahead_us(played: &Played, life: usize) -> f64 {
    let start = &played.run.stats.resets[life];
    // Good to a fraction of a second, which tells one pulse from the next.
    let about = match (start.first_drawn, start.first_picture_us) {
        (Some(drawn), Some(at_us)) if life > 0 => drawn.at_us as f64 - at_us,
        _ => 0.0,
    };
    let pulses = rises(played, "pps");
    let off = |stamp: Instant| {
        let t_us = stamp.as_micros() as f64 - about;
        let nearest = pulses
            .iter()
            .map(|p| p.as_micros() as f64)
            .min_by(|a, b| (a - t_us).abs().total_cmp(&(b - t_us).abs()));
        stamp.as_micros() as f64 - nearest.unwrap_or(t_us)
    };
    let stamped = played.lives[life].steps.iter().filter(|step| step.input == Input::Pps);
    let mut all: Vec<f64> = stamped.map(|step| off(step.at)).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(about)
}

/// What became of zero in one restart.
#[derive(Clone, Copy, Debug)]
pub struct Back {
    /// When the reset ended, emulated time, seconds.
    pub reset_s: f64,
    /// Until the dash knew zero again, milliseconds.
    pub known_ms: f64,
    /// Until a whole picture with the race time stood on the display; infinite when none did within the looks.
    pub shown_ms: f64,
    /// By how much zero lies beside where it was before, milliseconds.
    pub beside_ms: f64,
    /// One standard deviation that the dash stated.
    pub sigma_ms: f64,
}

/// What became of zero in the restart that began a life.
pub fn back(played: &Played, life: usize) -> Option<Back> {
    let reset_us = played.run.stats.resets[life].t_us;
    let zeros = |life: usize| {
        let ahead = clock_ahead_us(played, life);
        played.lives[life].decisions().filter_map(move |(stamp, output)| match output {
            Output::Zero { at, sigma, .. } => {
                let emulated = |instant: Instant| instant.as_micros() as f64 - ahead;
                Some((emulated(stamp), emulated(*at), sigma.as_micros() as f64))
            }
            _ => None,
        })
    };
    let (_, before_us, _) = (0..life).rev().find_map(|earlier| zeros(earlier).last())?;
    let (known_us, zero_us, sigma_us) = zeros(life).next()?;
    let shows = |look: &&Look| {
        look.t_us > reset_us
            && look.drawn.is_some_and(|drawn| drawn.settled == 1)
            && picture(played, look).is_some_and(|picture| picture.bytes()[..] == look.bytes())
            && race_is_shown(played, look)
    };
    let next = played.run.stats.resets.get(life + 1).map_or(f64::INFINITY, |start| start.t_us);
    let shown = played.run.looks.iter().filter(|look| look.t_us < next).find(shows);
    Some(Back {
        reset_s: reset_us / 1e6,
        known_ms: (known_us - reset_us) / 1e3,
        shown_ms: shown.map_or(f64::INFINITY, |look| (look.t_us - reset_us) / 1e3),
        beside_ms: (zero_us - before_us) / 1e3,
        sigma_ms: sigma_us / 1e3,
    })
}

fn race_is_shown(played: &Played, look: &Look) -> bool {
    let Some(drawn) = look.drawn else { return false };
    let dash = played.lives[played.life_at(look.t_us)].again(drawn.inputs as usize);
    dash.is_some_and(|dash| dash.view(Instant::from_micros(drawn.at_us)).race.is_some())
}
