//! The board's crystal against the receiver's pulse per second.
//!
//! Pulses mark whole seconds to well under a microsecond, so a straight line through their stamps tells how fast the
//! board's clock is. What remains is temperature: the figure is that day's.
//!
//! A record's pulses or the board's own figure in; what was found out.

use firmware::settings::Settings;

use super::{Edit, Figure, Found, Nonsense};
use crate::clock_check::Fit;

/// No crystal of a board is further off.
const WORST_PPM: f64 = 200.0;

/// How far a plain crystal moves over the temperatures of a boat, one standard deviation, parts per million (common
/// practice, no source; ten to fifteen over the whole range of a plain one, from memory).
const TEMPERATURE_PPM: f64 = 3.0;

/// A board that knows its crystal worse than this has not heard enough pulses: well below what temperature does.
const WELL_PPM: f64 = 1.0;

/// Shorter than this nothing much can be said.
const LEAST_S: f64 = 60.0;

/// What a line through the pulses comes to.
///
/// # Errors
/// [`Nonsense`] when it is no crystal's, or too short.
pub fn find(fit: &Fit, settings: &Settings) -> Result<Found, Nonsense> {
    let (ppm, sd) = (fit.drift * 1e6, fit.drift_sd * 1e6);
    let seconds = fit.last_s - fit.first_s;
    if seconds < LEAST_S {
        return Err(Nonsense(format!(
            "{seconds:.0} s of pulses are too few: at least {LEAST_S} s, better ten minutes"
        )));
    }
    let note = format!("{} pulses over {seconds:.0} s: {ppm:.3} ± {sd:.3} ppm that day", fit.count);
    found(ppm, sd, note, settings)
}

/// What the board itself has measured comes to: the error and one standard deviation of it, ppm; nothing before pulses
/// have measured it.
///
/// # Errors
/// [`Nonsense`] when it is no crystal's, or not known well yet.
pub fn live(measured: Option<(f64, f64)>, settings: &Settings) -> Result<Found, Nonsense> {
    let Some((ppm, sd)) = measured else {
        return Err(Nonsense::because(
            "no pulses have measured the crystal yet: the receiver's pulse must come, and the board be off the bench",
        ));
    };
    if sd > WELL_PPM {
        return Err(Nonsense(format!(
            "the board knows {ppm:.3} ppm only within {sd:.3}: leave it on with pulses, better ten minutes"
        )));
    }
    found(ppm, sd, format!("the board's own figure now: {ppm:.3} ± {sd:.3} ppm"), settings)
}

fn found(ppm: f64, sd: f64, note: String, settings: &Settings) -> Result<Found, Nonsense> {
    if ppm.abs() > WORST_PPM {
        return Err(Nonsense(format!(
            "{ppm:.1} ppm is no crystal of a board: is it the receiver's pulse on that pin?"
        )));
    }
    let within = sd.hypot(TEMPERATURE_PPM);
    let was = &settings.timebase;
    let parts = |ppb: i64| ppb as f64 / 1e3;
    let number = |key, value| Edit::Number { table: "crystal", key, value, decimals: 3 };
    Ok(Found {
        what: "crystal".to_owned(),
        figures: vec![
            Figure::new("fast by, ppm", Some(parts(was.crystal.as_ppb())), ppm, 3),
            Figure::new("within, ppm", Some(parts(was.crystal_sd.as_ppb())), within, 3),
            Figure::new(
                "not known of 300 s, ms",
                Some(parts(was.crystal_sd.as_ppb()) * 0.3),
                within * 0.3,
                2,
            ),
        ],
        notes: vec![
            note,
            format!("temperature moves a plain crystal: {TEMPERATURE_PPM} ppm are allowed for it"),
        ],
        edits: vec![number("fast_ppm", ppm), number("sd_ppm", within), Edit::Made("crystal_made")],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock_check::{Pair, fit};

    fn line(seconds: u32, ppm: f64) -> Fit {
        let pair = |s: u32| Pair { reference_s: s.into(), board_s: f64::from(s) * (1.0 + ppm * 1e-6) };
        fit(&(0..=seconds).map(pair).collect::<Vec<_>>(), 2e-6).unwrap()
    }

    /// The definition of a part per million; 600 stamps good to 2 us each lie on a line good to 2e-6 / root(600^3 / 12).
    #[test]
    fn a_crystal_is_as_fast_as_its_pulses_say() {
        let found = find(&line(600, 26.8), &Settings::bare()).unwrap();
        assert_eq!(found.figures[0].after, "26.800");
        assert_eq!(found.figures[1].after, "3.000");
        assert_eq!((found.figures[2].before.as_str(), found.figures[2].after.as_str()), ("9.00", "0.90"));
    }

    #[test]
    fn the_board_s_own_figure_counts_once_it_is_known_well() {
        let found = live(Some((26.8, 0.02)), &Settings::bare()).unwrap();
        assert_eq!((found.figures[0].after.as_str(), found.figures[1].after.as_str()), ("26.800", "3.000"));
        for measured in [None, Some((26.8, 20.0)), Some((900.0, 0.02))] {
            assert!(live(measured, &Settings::bare()).is_err(), "{measured:?}");
        }
    }

    #[test]
    fn what_is_no_crystal_and_what_is_too_short_is_refused() {
        assert!(find(&line(30, 5.0), &Settings::bare()).is_err());
        assert!(find(&line(600, 900.0), &Settings::bare()).is_err());
    }
}
