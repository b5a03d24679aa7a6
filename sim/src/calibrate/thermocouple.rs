//! A thermocouple in melting ice and in boiling water.
//!
//! Two points make a line, and the core undoes it (rule K1). At 800 degrees the line is stretched eightfold: half a degree
//! wrong in the boiling water is four degrees there, and the words say so.
//!
//! Readings in degrees in; what was found out.

use firmware::calibration::{Date, FURTHEST_OFF, TwoPoint};
use firmware::settings::Settings;
use firmware::units::MilliCelsius;

use super::{Edit, Figure, Found, Nonsense, mean_and_sd, steam};

/// Where people look: near a running engine's limit.
const AT_C: f64 = 800.0;

/// A pot that is not pure water, not stirred, or a barometer that is a little off: what is not known of either point
/// (common practice, no source).
const POINT_SD_C: f64 = 0.2;

/// What a wire of class 2 may be off at [`AT_C`]: 0.75 % (IEC 60584-1, from memory). A line that moves a reading by more
/// says that something else is wrong.
const CLASS_2_C: f64 = 6.0;

/// A line that is steeper or flatter than this moves 800 degrees by 40, which is no wire's doing: such a line would take
/// an engine past its limit unseen, so it is refused (rule K1).
const STEEPEST: f64 = 0.05;

/// What a figure read in whole degrees, as the self-test page shows them, may be off: 1 / root of 12.
const WHOLE_SD_C: f64 = 0.289;

/// Readings that scatter by more than this are not steady.
const STEADY_C: f64 = 1.0;

/// What was read.
#[derive(Clone, Debug)]
pub struct Read {
    /// Which thermocouple, counted from 1.
    pub number: u8,
    /// In ice, degrees.
    pub ice_c: Vec<f64>,
    /// In boiling water, degrees.
    pub boiling_c: Vec<f64>,
    /// The pressure of the air.
    pub hpa: f64,
    /// The pressure was guessed from the height.
    pub by_height: bool,
}

/// What two points make.
///
/// # Errors
/// [`Nonsense`] when it was no ice, no boiling water, no air, or not steady.
pub fn find(read: &Read, settings: &Settings) -> Result<Found, Nonsense> {
    if !(500.0..=1_100.0).contains(&read.hpa) {
        return Err(Nonsense(format!("{:.1} hPa is no pressure of air: 500 to 1100", read.hpa)));
    }
    let boils = steam::boils_at_c(read.hpa);
    let ice = steady(&read.ice_c, "ice")?;
    let boiling = steady(&read.boiling_c, "boiling water")?;
    let furthest = f64::from(FURTHEST_OFF.as_milli()) / 1e3;
    if ice.abs() > furthest {
        return Err(Nonsense(format!(
            "{ice:.2} degrees is not melting ice: crushed ice with a little water, stirred, the junction in the middle"
        )));
    }
    if (boiling - boils).abs() > furthest {
        return Err(Nonsense(format!(
            "{boiling:.2} degrees is not boiling water, which is at {boils:.2} today: wait until it boils hard"
        )));
    }
    let milli = |degrees: f64| MilliCelsius::from_milli((degrees * 1e3).round() as i32);
    let points = TwoPoint { ice: milli(ice), boiling: milli(boiling), boils_at: milli(boils), made: Date(0) };
    let steep = f64::from(points.boils_at.as_milli()) / f64::from((points.boiling - points.ice).as_milli());
    if (steep - 1.0).abs() > STEEPEST {
        return Err(Nonsense(format!(
            "the line through both points would move {AT_C} degrees by {:+.0}: no wire is off by that. Look at connectors, \
             extension wires and their polarity, and at the pot",
            (steep - 1.0) * AT_C
        )));
    }
    if !points.is_sound() {
        return Err(Nonsense::because(
            "the points are further off than a working probe can be: look for the fault",
        ));
    }
    let index = usize::from(read.number).saturating_sub(1);
    let before = settings.engine.calibrated.0.get(index).copied().flatten();
    Ok(found(read, settings, before, &points))
}

fn found(read: &Read, settings: &Settings, before: Option<TwoPoint>, points: &TwoPoint) -> Found {
    let celsius = |value: MilliCelsius| f64::from(value.as_milli()) / 1e3;
    let at = |points: &TwoPoint| celsius(points.corrected(MilliCelsius::from_milli((AT_C * 1e3) as i32)));
    let (ice_c, boiling_c, boils_at_c) =
        (celsius(points.ice), celsius(points.boiling), celsius(points.boils_at));
    let of = |readings: &[f64]| match readings {
        [only] if only.fract() == 0.0 => POINT_SD_C.hypot(WHOLE_SD_C),
        _ => POINT_SD_C,
    };
    let (far, near) = (AT_C / boils_at_c, AT_C / boils_at_c - 1.0);
    let stretched = (of(&read.boiling_c) * far).hypot(of(&read.ice_c) * near);
    let moved = at(points) - AT_C;
    let mut notes = Vec::new();
    if moved.abs() > CLASS_2_C {
        notes.push(format!(
            "CAUTION: this moves {AT_C} degrees by {moved:+.1}, more than the {CLASS_2_C} that a wire of class 2 may be off \
             (IEC 60584-1). A connector, an extension wire or the pot is likelier than the probe: do it again before you \
             trust it."
        ));
    }
    notes.push(format!(
        "at {AT_C} degrees this line is good to about {stretched:.1} degrees (one standard deviation): two points below 100 \
         say little of the heat. The engine maker's way of checking the probe goes before this one."
    ));
    if read.by_height {
        notes.push(format!(
            "the pressure {:.1} hPa is the standard atmosphere's, not today's: up to half a degree off. A barometer is better.",
            read.hpa
        ));
    }
    if read.number > settings.engine.probes {
        notes.push(format!("the settings know {} probes: set engine.probes", settings.engine.probes));
    }
    let number = read.number;
    Found {
        what: format!("thermocouple {number}"),
        figures: vec![
            Figure::new("shown in ice, degrees C", before.map(|it| celsius(it.ice)), ice_c, 2),
            Figure::new(
                "shown in boiling water, degrees C",
                before.map(|it| celsius(it.boiling)),
                boiling_c,
                2,
            ),
            Figure::new("water boils at, degrees C", before.map(|it| celsius(it.boils_at)), boils_at_c, 2),
            Figure::new(
                "where it shows 800, it means",
                Some(before.as_ref().map_or(AT_C, at)),
                at(points),
                1,
            ),
        ],
        notes,
        edits: vec![Edit::Probe { number, ice_c, boiling_c, boils_at_c }],
    }
}

/// The mean of readings that stand still.
fn steady(readings: &[f64], place: &str) -> Result<f64, Nonsense> {
    match (readings, mean_and_sd(readings)) {
        ([], _) => Err(Nonsense(format!("there is no reading in {place}"))),
        _ if readings.iter().any(|reading| !reading.is_finite()) => {
            Err(Nonsense(format!("a reading in {place} is no number")))
        }
        ([only], _) => Ok(*only),
        (_, Some((_, sd))) if sd > STEADY_C => Err(Nonsense(format!(
            "the readings in {place} scatter by {sd:.2} degrees: wait until they stand still, and stir"
        ))),
        (_, Some((mean, _))) => Ok(mean),
        (_, None) => Err(Nonsense(format!("there is no reading in {place}"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(ice_c: &[f64], boiling_c: &[f64]) -> Read {
        Read {
            number: 1,
            ice_c: ice_c.to_vec(),
            boiling_c: boiling_c.to_vec(),
            hpa: 1_013.25,
            by_height: false,
        }
    }

    /// By hand: 1.0 in ice and 97.97 in water at 99.974 is a line of 99.974 / 96.97; 799 * 1.030978 = 823.75.
    #[test]
    fn two_points_make_the_line_that_a_pocket_calculator_makes() {
        let found = find(&read(&[1.0, 1.0], &[97.97]), &Settings::bare()).unwrap();
        assert_eq!(found.figures[2].after, "99.97");
        assert_eq!(found.figures[3].before, "800.0");
        assert_eq!(found.figures[3].after, "823.8");
        assert!(found.notes[0].contains("moves 800 degrees by +23.8, more than the 6"), "{}", found.notes[0]);
        assert!(found.notes[1].contains("good to about 2.1 degrees"), "{}", found.notes[1]);
    }

    #[test]
    fn what_is_no_ice_and_what_does_not_boil_is_refused_with_what_to_do() {
        let words = |read: &Read| find(read, &Settings::bare()).unwrap_err().to_string();
        assert!(words(&read(&[13.0], &[99.0])).contains("crushed ice"));
        assert!(words(&read(&[0.5], &[80.0])).contains("is at 99.97 today"));
        assert!(words(&read(&[0.5, 4.0, 9.0], &[99.0])).contains("stand still"));
        assert!(words(&read(&[], &[99.0])).contains("no reading in ice"));
        assert!(words(&read(&[f64::NAN], &[99.0])).contains("no number"));
        assert!(words(&Read { hpa: 30.0, ..read(&[0.5], &[99.0]) }).contains("no pressure of air"));
    }

    /// By hand: water at 99.974 shown as 106.0 makes a line of 0.943, 45 degrees less at 800, and 105.0 one of 0.952, 38 less;
    /// 99.5 makes 1.0048, 4 more, within the tolerance of class 2 wire, 0.75 % (IEC 60584-1, from memory).
    #[test]
    fn a_line_that_no_wire_draws_is_refused_and_one_beyond_its_class_is_cautioned() {
        let find = |boiling: f64| find(&read(&[0.0], &[boiling]), &Settings::bare());
        assert!(find(106.0).unwrap_err().to_string().contains("by -45"));
        assert!(find(105.0).unwrap().notes[0].starts_with("CAUTION"));
        assert!(!find(99.5).unwrap().notes.iter().any(|note| note.starts_with("CAUTION")));
    }

    /// By hand: 0.2 and 1 / root of 12 together are 0.351; stretched to 800 by 8.002 and 7.002 that is 3.7.
    #[test]
    fn whole_degrees_off_the_screen_say_less_of_the_heat() {
        let found = find(&read(&[1.0], &[99.0]), &Settings::bare()).unwrap();
        assert!(
            found.notes.iter().any(|note| note.contains("good to about 3.7 degrees")),
            "{:?}",
            found.notes
        );
    }
}
