//! A journal gone through: its fixes, and what was decided, each with its moment in UTC and its place.
//!
//! A journal in, a heat out. Gauges and phase are what a fresh dash shows that is fed the record's inputs.

use firmware::course::{CourseSettings, StartLine};
use firmware::dash::Dash;
use firmware::gnss::Position;
use firmware::input::Input;
use firmware::output::{Counted, Output};
use firmware::settings::Settings;
use firmware::units::{Instant, Millimetres, NanoDegrees, Span, Utc};

use super::{Event, Exported, Point};
use crate::judge::record::{Life, heats, lives};
use crate::judge::second::tie::Tie;
use crate::log::Decided;
use crate::{timeline, words};

/// Goes through heat `number` of a journal, 1 for the first; the last one in which a clock was set without it.
///
/// # Errors
/// Words, when there is no such heat, or its settings cannot be read.
pub fn gather(journal: &[u8], number: Option<usize>, title: &str) -> Result<Exported, String> {
    let lives = lives(journal);
    let heats = heats(&lives);
    let asked = number.unwrap_or(heats.len());
    let heat = asked.checked_sub(1).and_then(|place| heats.get(place));
    let heat =
        heat.ok_or_else(|| format!("this journal holds {} heats; there is no heat {asked}", heats.len()))?;
    let settings = heat.settings(&lives).ok_or("the settings in this journal cannot be read")?;
    let mut found = Exported {
        title: title.into(),
        remark: format!("What the dash recorded. {}", words::CAUTION),
        course: settings.course.clone(),
        points: Vec::new(),
        events: Vec::new(),
    };
    for part in &heat.0 {
        let Some(life) = lives.get(part.life) else { continue };
        let zero = heat.zero_in(part.life, &lives);
        Walk::new(life, settings, zero).go(part.steps.clone(), &mut found);
    }
    Ok(found)
}

/// Goes through one life.
struct Walk<'a> {
    life: &'a Life,
    settings: &'a Settings,
    tie: Tie,
    zero: Option<Instant>,
    here: Option<Position>,
    /// The crossings that a call and a lap rest on: when, and how far from the line's left end.
    start: Option<(Instant, Millimetres)>,
    lap: Option<(Instant, Millimetres)>,
}

impl<'a> Walk<'a> {
    fn new(life: &'a Life, settings: &'a Settings, zero: Option<Instant>) -> Self {
        let tie = Tie::of(&life.steps, settings, 0.0);
        Self { life, settings, tie, zero, here: None, start: None, lap: None }
    }

    fn go(mut self, wanted: std::ops::Range<usize>, found: &mut Exported) {
        let mut dash = Dash::new(self.life.settings.as_ref().unwrap_or(self.settings));
        for (number, step) in self.life.steps.iter().enumerate() {
            let _ = dash.feed(step.at, step.input);
            if !wanted.contains(&number) {
                continue;
            }
            if let Input::Fix(fix) = step.input {
                self.here = fix.valid.then_some(fix.position).or(self.here);
                let view = dash.view(step.at);
                found.points.push(Point {
                    utc: fix.utc,
                    race: self.zero.and_then(|zero| self.utc(zero)).map(|zero| fix.utc.since(zero)),
                    position: fix.position,
                    speed: fix.speed,
                    course: fix.course,
                    valid: fix.valid,
                    phase: view.phase,
                    gauges: view.gauges,
                });
            }
            for output in &step.decided {
                found.events.extend(self.event(step.at, *output));
            }
        }
    }

    fn event(&mut self, at: Instant, output: Output) -> Option<Event> {
        match output {
            Output::Crossing { at, place, counted: Counted::Start, .. } => self.start = Some((at, place)),
            Output::Crossing { at, place, counted: Counted::Lap, .. } => self.lap = Some((at, place)),
            _ => {}
        }
        let crossed = match output {
            Output::Call { .. } => self.start,
            // A race of no laps but the start has its finish there.
            Output::Lap { .. } | Output::Finish { .. } => self.lap.or(self.start),
            _ => None,
        };
        let at = crossed.map_or(at, |(at, _)| at);
        let race = self.zero.map(|zero| at.since(zero));
        let decided = Decided { t: race.unwrap_or(Span::ZERO), at, race, output };
        let on_line = crossed.zip(self.settings.course.as_ref());
        let on_line = on_line.and_then(|((_, place), course)| on_line_at(course, place));
        Some(Event {
            utc: self.utc(at),
            race,
            position: on_line.or(self.here),
            says: timeline::sentence(&decided, self.settings.screen.units)?,
            output,
        })
    }

    /// The moment in UTC of a moment on the board's clock, where anything ties the two.
    fn utc(&self, at: Instant) -> Option<Utc> {
        let board_s = at.since(Instant::BOOT).as_micros() as f64 / 1e6;
        (!self.tie.is_none()).then(|| Utc::from_unix_micros((self.tie.utc(board_s).s * 1e6).round() as i64))
    }
}

/// The point of the start line so far from its left end, in a straight line between the two.
fn on_line_at(course: &CourseSettings, place: Millimetres) -> Option<Position> {
    let length = StartLine::new(course).ok()?.length().as_mm() as f64;
    let share = place.as_mm() as f64 / length;
    let (left, right) = (course.line_left, course.line_right);
    let between = |from: NanoDegrees, to: NanoDegrees| {
        // The shorter way round, where the line lies across the meridian of 180 degrees.
        let way =
            (to.as_nano() - from.as_nano() + 180_000_000_000).rem_euclid(360_000_000_000) - 180_000_000_000;
        NanoDegrees::from_nano(from.as_nano() + (way as f64 * share).round() as i64)
    };
    Some(Position { lat: between(left.lat, right.lat), lon: between(left.lon, right.lon) })
}
