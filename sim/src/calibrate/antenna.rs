//! How far the bow is ahead of the antenna.
//!
//! With a tape, along the keel. Or with the receiver: the bow is held at one mark, a buoy or a pile, first on one heading
//! and then on the opposite one. The antenna lies behind the mark the first time and as far on its other side the
//! second, so half the distance between its two places is what is sought, and where the mark itself lies does not matter.
//! A receiver wanders by half a metre in those minutes, so the tape is better where a tape can be laid.
//!
//! Positions or a length in; what was found out.

use firmware::gnss::Position;
use firmware::settings::Settings;
use geographiclib_rs::{Geodesic, InverseGeodesic};

use super::{Edit, Figure, Found, Nonsense};

/// What an averaged place may be off after a minute, along one direction, metres: a receiver wanders slowly, and averaging
/// does not help against that (common practice, no source).
const WANDER_M: f64 = 0.5;

/// Two places nearer than this may be one place seen twice: two standard deviations of their difference.
const NEAREST_M: f64 = 2.0 * WANDER_M * std::f64::consts::SQRT_2;

/// The longest boat there is, metres.
const LONGEST_M: f64 = 30.0;

/// What was measured.
#[derive(Clone, Copy, Debug)]
pub enum Measured {
    /// By tape: the length and its standard deviation, metres.
    Tape(f64, f64),
    /// The antenna's place on either heading.
    Headings(Position, Position),
}

/// What it comes to.
///
/// # Errors
/// [`Nonsense`] when no boat is like that.
pub fn find(measured: Measured, settings: &Settings) -> Result<Found, Nonsense> {
    let (length, sd, note) = match measured {
        Measured::Tape(length, sd) => (
            length,
            sd,
            "by tape, along the keel, from below the antenna to the foremost part of the bow".to_owned(),
        ),
        Measured::Headings(first, second) => {
            let apart = apart_m(first, second);
            if apart < NEAREST_M {
                return Err(Nonsense(format!(
                    "the antenna's two places are {apart:.2} m apart, no more than a receiver wanders: was the bow at the same \
                     mark on two opposite headings? A short lever arm wants a tape"
                )));
            }
            let note = format!(
                "the antenna's two places are {apart:.2} m apart; each is good to about {WANDER_M} m. A tape is better"
            );
            (apart / 2.0, WANDER_M / 2.0_f64.sqrt(), note)
        }
    };
    if !(length.is_finite() && length.abs() <= LONGEST_M) {
        return Err(Nonsense(format!(
            "{length} m from antenna to bow: no boat is so long. In metres, up to {LONGEST_M}"
        )));
    }
    if !(sd.is_finite() && (0.001..=5.0).contains(&sd)) {
        return Err(Nonsense(format!("{sd} m is no standard deviation of a measurement: 0.001 to 5 m")));
    }
    let boat = &settings.crossing;
    let metres = |mm: i64| mm as f64 / 1e3;
    let mut notes = vec![note];
    let speed = 62.6;
    notes.push(format!("at {speed} m/s (140 mph) {:.2} m are {:.0} ms at the line", sd, sd / speed * 1e3));
    let number = |key, value| Edit::Number { table: "boat", key, value, decimals: 3 };
    Ok(Found {
        what: "antenna to bow".to_owned(),
        figures: vec![
            Figure::new("antenna to bow, m", Some(metres(boat.antenna_to_bow.as_mm())), length, 3),
            Figure::new("known within, m", Some(metres(boat.antenna_to_bow_sd.as_mm())), sd, 3),
        ],
        notes,
        edits: vec![
            number("antenna_to_bow_m", length),
            number("antenna_to_bow_sd_m", sd),
            Edit::Made("antenna_made"),
        ],
    })
}

/// Metres between two places (Karney 2013, by its library).
fn apart_m(first: Position, second: Position) -> f64 {
    let degrees = |nano: i64| nano as f64 / 1e9;
    let at = |place: Position| (degrees(place.lat.as_nano()), degrees(place.lon.as_nano()));
    let ((lat1, lon1), (lat2, lon2)) = (at(first), at(second));
    Geodesic::wgs84().inverse(lat1, lon1, lat2, lon2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use firmware::units::NanoDegrees;

    fn place(lat_nano: i64) -> Position {
        Position { lat: NanoDegrees::from_nano(lat_nano), lon: NanoDegrees::from_nano(-30_000_000_000) }
    }

    /// A degree of latitude near 45 is 111,131.78 m (any table of WGS 84, from memory): 10 m are 89,983 billionths.
    #[test]
    fn half_of_the_way_between_two_opposite_headings_is_the_lever_arm() {
        let (first, second) = (place(45_000_000_000), place(45_000_089_983));
        let found = find(Measured::Headings(first, second), &Settings::bare()).unwrap();
        assert_eq!(found.figures[0].after, "5.000");
        assert_eq!(found.figures[1].after, "0.354");
    }

    /// 10,000 billionths of a degree of latitude are 1.1 m: the same heading twice, and a receiver that wandered.
    #[test]
    fn one_heading_seen_twice_is_no_lever_arm() {
        let (first, second) = (place(45_000_000_000), place(45_000_010_000));
        let told = find(Measured::Headings(first, second), &Settings::bare()).unwrap_err().to_string();
        assert!(told.contains("opposite headings"), "{told}");
    }

    #[test]
    fn no_boat_is_a_hundred_metres_long() {
        assert!(find(Measured::Tape(100.0, 0.02), &Settings::bare()).is_err());
        assert!(find(Measured::Tape(4.2, 0.0), &Settings::bare()).is_err());
        assert!(find(Measured::Tape(4.2, 0.02), &Settings::bare()).is_ok());
    }
}
