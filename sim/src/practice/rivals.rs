//! The other boats: the simulator's own drivers, each in a lane of its own, one of them aggressive.
//!
//! They are worked out before the start and see nobody, so they are the same for the same seed. The aggressive one comes
//! across from the outside into the driver's lane on the last stretch and means to be on the line at zero.
//!
//! World settings and a seed in; places at any moment out.

use crate::world::craft::Pose;
use crate::world::draw::{Draw, Purpose};
use crate::world::maths::sin_cos;
use crate::world::truth::Truth;
use crate::world::{TrueState, WorldSettings};
use firmware::units::Span;

/// All of them.
#[derive(Clone, Debug)]
pub struct Rivals(Vec<Rival>);

#[derive(Clone, Debug)]
struct Rival {
    truth: Truth,
    /// Metres to the outside, positive, from when on it comes across, and how far.
    comes_across: Option<(f64, f64)>,
    outside: f64,
}

/// How many, and how far outside of the path each runs.
const LANES_M: [f64; 4] = [20.0, 40.0, 60.0, 80.0];
/// Which of them is aggressive.
const AGGRESSIVE: usize = 1;
/// He comes across in so many seconds.
const ACROSS_S: f64 = 5.0;

impl Rivals {
    /// Draws them.
    #[must_use]
    pub fn new(world: &WorldSettings, seed: u64) -> Self {
        let mut draw = Draw::new(seed, Purpose::Milling);
        let rival = |(number, lane_m): (usize, &f64)| {
            let mut settings = WorldSettings { drive: None, ..world.clone() };
            let aggressive = number == AGGRESSIVE;
            settings.course.lane_offset_m = *lane_m;
            settings.begins_s = -345.0;
            settings.ends_s = Some(30.0);
            settings.engine = crate::world::engine::EngineSettings::default();
            settings.driver.milling_speed_m_s = 40.0 + 12.0 * draw.uniform();
            settings.driver.target_margin_s = if aggressive { 0.02 } else { 0.15 + 0.9 * draw.uniform() };
            let outside = crate::world::course::Course::new(&settings.course).outside();
            let across = (-20.0 + 4.0 * draw.uniform(), -*lane_m + 8.0);
            Rival { truth: Truth::run(&settings, 0.0), comes_across: aggressive.then_some(across), outside }
        };
        Self(LANES_M.iter().enumerate().map(rival).collect())
    }

    /// Where they are, and how fast.
    pub fn at(&self, t: Span) -> impl Iterator<Item = (Pose, f64)> {
        self.0.iter().map(move |rival| rival.at(t))
    }
}

impl Rival {
    fn at(&self, t: Span) -> (Pose, f64) {
        let TrueState { place, speed_m_s, .. } = self.truth.at(t);
        let aside = self.comes_across.map_or(0.0, |(from, way)| {
            let share = ((crate::world::maths::seconds(t) - from) / ACROSS_S).clamp(0.0, 1.0);
            // Eased at both ends.
            way * share * share * (3.0 - 2.0 * share)
        });
        let (sin, cos) = sin_cos(place.heading_rad);
        let out = self.outside * aside;
        let pose = Pose {
            east_m: place.east_m + out * cos,
            north_m: place.north_m - out * sin,
            heading_rad: place.heading_rad,
            skid_rad: 0.0,
        };
        (pose, speed_m_s)
    }
}
