//! A heat for other people's programs: GPX 1.1, KML 2.2, and two tables.
//!
//! All of it is made from a journal, so what is exported is what the dash recorded, and never what a simulator knew
//! besides. Times are UTC: of a fix, the moment for which it holds; of a start and a lap, the moment of the crossing; of
//! anything else, the moment of the decision.
//!
//! `gather` goes through the journal; `gpx`, `kml` and `tables` write what it found. The same journal gives the
//! same bytes.

pub mod command;
mod gather;
mod gpx;
mod kml;
mod tables;
#[cfg(test)]
mod tests;

use firmware::course::CourseSettings;
use firmware::gnss::Position;
use firmware::output::{Gauges, Output};
use firmware::units::{CentiDegrees, MmPerSecond, Span, Utc};
use firmware::view::Phase;

pub use gather::gather;

/// One heat, ready to be written down.
#[derive(Clone, Debug)]
pub struct Exported {
    /// What to call it: the file's name, or the heat's title.
    pub title: String,
    /// Where its figures come from, and who decides, in a sentence or two.
    pub remark: String,
    /// The course, where one was set.
    pub course: Option<CourseSettings>,
    /// Every fix that the dash was given.
    pub points: Vec<Point>,
    /// What happened.
    pub events: Vec<Event>,
}

/// A fix, and what the dash showed then.
#[derive(Clone, Copy, Debug)]
pub struct Point {
    /// The moment for which it holds.
    pub utc: Utc,
    /// The same from the dash's last word on zero.
    pub race: Option<Span>,
    /// The antenna.
    pub position: Position,
    /// Over ground.
    pub speed: MmPerSecond,
    /// Over ground, clockwise from true north.
    pub course: CentiDegrees,
    /// The receiver vouches for it.
    pub valid: bool,
    /// Where in the heat the dash was.
    pub phase: Phase,
    /// The engine, as the dash showed it.
    pub gauges: Gauges,
}

/// Something that happened.
#[derive(Clone, Debug)]
pub struct Event {
    /// When, where UTC was known.
    pub utc: Option<Utc>,
    /// The same from the dash's last word on zero.
    pub race: Option<Span>,
    /// Where: the bow on the line for a start or a lap, else the antenna by the last fix.
    pub position: Option<Position>,
    /// What the dash decided.
    pub output: Output,
    /// In plain words.
    pub says: String,
}

impl Event {
    /// Its name on a map; none for what does not belong there.
    #[must_use]
    pub fn name(&self) -> Option<String> {
        use firmware::output::AlertState::Raised;
        Some(match self.output {
            Output::Call { .. } => "start".into(),
            Output::Lap { lap, .. } => format!("lap {lap}"),
            Output::Finish { .. } => "finish".into(),
            Output::Penalty { .. } => "penalty".into(),
            Output::LapMissed { .. } => "crossing missed".into(),
            Output::Exceedance { over: false, .. } => "limit exceeded".into(),
            Output::Alert { level, state: Raised, .. } => crate::words::kebab(level),
            _ => return None,
        })
    }
}

impl Exported {
    /// The fixes that the receiver vouches for, cut wherever more than a second is missing.
    #[must_use]
    pub fn stretches(&self) -> Vec<Vec<Point>> {
        let mut stretches: Vec<Vec<Point>> = Vec::new();
        for point in self.points.iter().filter(|point| point.valid) {
            let last = stretches.last_mut().filter(|stretch| {
                stretch.last().is_some_and(|last| point.utc.since(last.utc) <= Span::from_secs(1))
            });
            match last {
                Some(stretch) => stretch.push(*point),
                None => stretches.push(vec![*point]),
            }
        }
        stretches
    }
}

/// Degrees to the billionth, as text; longitudes from -180 to below 180, as GPX wants them.
fn degrees(position: Position) -> (String, String) {
    let lon = (position.lon.as_nano() + 180_000_000_000).rem_euclid(360_000_000_000) - 180_000_000_000;
    (nano(position.lat.as_nano()), nano(lon))
}

fn nano(value: i64) -> String {
    let (sign, size) = (if value < 0 { "-" } else { "" }, value.unsigned_abs());
    format!("{sign}{}.{:09}", size / 1_000_000_000, size % 1_000_000_000)
}

/// Seconds to the microsecond, as text.
fn seconds(span: Span) -> String {
    let (sign, size) = (if span < Span::ZERO { "-" } else { "" }, span.as_micros().unsigned_abs());
    format!("{sign}{}.{:06}", size / 1_000_000, size % 1_000_000)
}

/// Metres a second to the millimetre, as text.
fn metres_a_second(speed: MmPerSecond) -> String {
    format!("{:.3}", f64::from(speed.as_mm_s()) / 1e3)
}

/// Degrees of a course to the hundredth, as text.
fn course(course: CentiDegrees) -> String {
    format!("{:.2}", f64::from(course.as_centi()) / 100.0)
}
