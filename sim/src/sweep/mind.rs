//! Where a driver's number comes from: how early he would be if he went flat out now.
//!
//! One reads the dash. The other reads a stopwatch and landmarks, and knows by heart how long a run takes. What he
//! makes of them is a model of a practised man, not of a beginner; every figure is common practice, no source.

use firmware::units::Span;

use super::drill::Drill;
use super::sensors::{Sensors, presses};
use super::start::REFLEX_S;
use crate::world::draw::{Draw, Purpose};

/// How well he reads a stopwatch while he drives: one standard deviation.
const READING_SD_S: f64 = 0.15;
/// He glances at it so often, and counts the seconds between glances so well.
const GLANCE_EVERY_S: f64 = 2.0;
const COUNTING_SD: f64 = 0.02;
/// From one landmark to the next (buoys, marks ashore), and how well he tells that he is abeam of one.
const LANDMARK_EVERY_M: f64 = 150.0;
const LANDMARK_SD_M: f64 = 4.0;
/// How well he feels his speed, as a share of it.
const FEEL_SD: f64 = 0.03;
/// By how much the dash's number dances from fix to fix.
const DANCE_S: f64 = 0.02;
/// How often the dash draws its number.
const REFRESH_S: f64 = 0.1;

/// What a driver believes at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief {
    /// The margin, were he to make up his mind now to go flat out.
    pub margin_s: f64,
    /// The margin he wants to keep.
    pub hold_s: f64,
    /// By so much his number dances without meaning anything.
    pub noise_s: f64,
}

/// The mind of one driver.
pub enum Mind {
    /// He reads the dash.
    Dash {
        /// When the dash draws next.
        refresh_at: f64,
        /// What it shows.
        shown: Option<Belief>,
    },
    /// He has a stopwatch.
    Stopwatch(Box<Stopwatch>),
}

/// A man with a stopwatch.
pub struct Stopwatch {
    /// How late the watch was started, as far as he does not allow for it.
    late_s: f64,
    aim_s: f64,
    draw: Draw,
    /// The last glance: when, what he read off it, and how fast he counts since.
    glance: (f64, f64, f64),
    /// The last landmark: its place and by how much he misjudges it, and how he feels his speed since.
    landmark: (f64, f64, f64),
}

impl Mind {
    /// A driver who reads the dash.
    #[must_use]
    pub const fn of_the_dash() -> Self {
        Self::Dash { refresh_at: f64::NEG_INFINITY, shown: None }
    }

    /// A driver with a stopwatch, which he has pressed at the guns; he starts it anew at each of them, and allows
    /// for his thumb's usual lateness.
    #[must_use]
    pub fn of_the_stopwatch(drill: &Drill<'_>, seed: u64, aim_s: f64) -> Self {
        let presses = presses(drill, seed);
        let last = drill.world.thumb.presses_at_s.last().zip(presses.last());
        let late_s = last.map_or(0.0, |(before, at)| at + before - drill.world.thumb.reaction_mean_s);
        let never = (f64::NEG_INFINITY, 0.0, 0.0);
        let draw = Draw::new(seed, Purpose::Eyes);
        Self::Stopwatch(Box::new(Stopwatch { late_s, aim_s, draw, glance: never, landmark: never }))
    }

    /// What he believes at true time `t`, with his bow `left_m` before the line at `speed_m_s`.
    pub fn belief(
        &mut self,
        drill: &Drill<'_>,
        sensors: Option<&Sensors<'_>>,
        (t, left_m, speed_m_s): (f64, f64, f64),
    ) -> Option<Belief> {
        match self {
            Self::Dash { refresh_at, shown } => {
                if t >= *refresh_at {
                    *refresh_at = t + REFRESH_S - 1e-6;
                    *shown = sensors.and_then(|sensors| read(sensors, t));
                }
                *shown
            }
            Self::Stopwatch(man) => Some(man.belief(drill, (t, left_m, speed_m_s))),
        }
    }
}

/// The dash's number, which allows for his response already; none when it shows none.
fn read(sensors: &Sensors<'_>, t: f64) -> Option<Belief> {
    let run_in = sensors.view(t).run_in?;
    let seconds = |span: Span| span.as_micros() as f64 * 1e-6;
    Some(Belief { margin_s: seconds(run_in.margin?), hold_s: seconds(run_in.hold), noise_s: DANCE_S })
}

impl Stopwatch {
    fn belief(&mut self, drill: &Drill<'_>, (t, left_m, speed_m_s): (f64, f64, f64)) -> Belief {
        if t - self.glance.0 >= GLANCE_EVERY_S {
            let read = t - self.late_s + self.draw.normal(0.0, READING_SD_S);
            self.glance = (t, read, self.draw.normal(0.0, COUNTING_SD));
        }
        let mark = (left_m / LANDMARK_EVERY_M).ceil() * LANDMARK_EVERY_M;
        if mark != self.landmark.0 {
            self.landmark = (mark, self.draw.normal(0.0, LANDMARK_SD_M), self.draw.normal(0.0, FEEL_SD));
        }
        let (at, read, counting) = self.glance;
        let now = read + (t - at) * (1.0 + counting);
        let (mark, off_m, feel) = self.landmark;
        let left = mark + off_m - (mark - left_m) * (1.0 + feel);
        let felt = speed_m_s * (1.0 + feel);
        let meanwhile = REFLEX_S * drill.by_heart.growth(left, felt).max(0.0);
        let margin_s = now + drill.by_heart.seconds(left, felt) + meanwhile;
        Belief { margin_s, hold_s: self.aim_s, noise_s: 0.5 * READING_SD_S }
    }
}
