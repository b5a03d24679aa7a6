//! A run-in for settings that have none: the lane of the world's own oval, and the demonstration boat.
//!
//! A sweep needs a number to follow; where the settings name no lane, the truth's own is as good as a surveyed one.

use firmware::gnss::Position;
use firmware::run_in::RunInSettings;
use firmware::run_in::boat::BoatModel;
use firmware::run_in::lane::{Bend, LaneSettings, Turns};
use firmware::units::{Millimetres, NanoDegrees, Span};

use crate::world::course::{Course, CourseSettings, Turns as WorldTurns};
use crate::world::maths::{round, sin_cos};

/// The run-in of the oval that the boat truly runs: early accepted once in a hundred starts.
#[must_use]
pub fn of_the_world(settings: &CourseSettings) -> RunInSettings {
    let course = Course::new(settings);
    let (turns, inside) = match settings.turns {
        WorldTurns::Left => (Turns::Left, 1.0),
        WorldTurns::Right => (Turns::Right, -1.0),
    };
    let radius_m = course.turn_radius_m();
    // The first turn begins here, the last one ends there; the middle lies square to the path, on the inside.
    let ends = [course.until_turn(0.0), -course.turn_to_line_m()];
    let bends = ends.map(|s| {
        let place = course.place(s);
        let (sin, cos) = sin_cos(place.heading_rad);
        let (east, north) = (place.east_m - inside * radius_m * cos, place.north_m + inside * radius_m * sin);
        let (lat, lon) = course.degrees(east, north);
        let nano = |degrees: f64| NanoDegrees::from_nano(round(degrees * 1e9));
        Bend {
            centre: Position { lat: nano(lat), lon: nano(lon) },
            radius: Millimetres::from_mm(round(radius_m * 1e3)),
        }
    });
    RunInSettings {
        lane: LaneSettings {
            bends: bends.into_iter().collect(),
            turns,
            lane: 1,
            lane_width: Millimetres::ZERO,
            cut: None,
            entrance: None,
            tolerance: Millimetres::from_mm(30_000),
        },
        boat: BoatModel::demonstration(),
        risk_ppm: 10_000,
        response: Span::from_millis(250),
        sigma_most: Span::from_secs(1),
        speaks: false,
    }
}
