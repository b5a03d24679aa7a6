//! A tachometer against a known frequency.
//!
//! Two questions, each with its own answer. Does the board count right? A generator's frequency is put on the pickup's
//! wires, and the board's count is held against it. Does the percent mean what the engine maker means? While the engine
//! maker's own indicator, or a strobe, tells the percent, the pickup's frequency is counted, and the turns a minute at
//! 100 % follow.
//!
//! Frequencies in; what was found out.

use firmware::engine::tach::TachSettings;
use firmware::settings::Settings;

use super::{Edit, Figure, Found, Nonsense};

/// Which shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Shaft {
    /// The gas generator.
    N1,
    /// The power shaft.
    N2,
}

impl Shaft {
    const fn table(self) -> &'static str {
        if matches!(self, Self::N1) { "engine.n1_tach" } else { "engine.n2_tach" }
    }

    const fn name(self) -> &'static str {
        if matches!(self, Self::N1) { "N1" } else { "N2" }
    }

    const fn of(self, settings: &Settings) -> TachSettings {
        if matches!(self, Self::N1) { settings.engine.n1_tach } else { settings.engine.n2_tach }
    }
}

/// A count is right when it is as near to the generator as this: a crystal is a hundred times better, a generator with a
/// knob is not (common practice, no source).
const RIGHT: f64 = 0.001;

/// What is known, and what was counted.
#[derive(Clone, Copy, Debug)]
pub struct Known {
    /// Which shaft.
    pub shaft: Shaft,
    /// Pulses a second, as the board counted them.
    pub counted_hz: f64,
    /// The generator's frequency, where there is one.
    pub hz: Option<f64>,
    /// What the trusted indicator showed, percent.
    pub percent: Option<f64>,
    /// Pulses of the pickup in a turn, where they are to be changed.
    pub cycles: Option<u16>,
}

/// What they come to.
///
/// # Errors
/// [`Nonsense`] when the count is wrong, or nothing is known.
pub fn find(known: &Known, settings: &Settings) -> Result<Found, Nonsense> {
    let (shaft, counted) = (known.shaft, known.counted_hz);
    if !(counted.is_finite() && counted > 0.0) {
        return Err(Nonsense::because(
            "no pulses were counted: look at the pickup's wires, and at the generator's level",
        ));
    }
    let tach = shaft.of(settings);
    let mut notes = Vec::new();
    if let Some(hz) = known.hz {
        notes.push(checked(counted, hz)?);
    }
    let cycles = known.cycles.unwrap_or(tach.cycles_per_turn);
    let rpm = match (known.percent, known.hz, known.cycles) {
        (Some(percent), ..) if !(5.0..=150.0).contains(&percent) => {
            return Err(Nonsense(format!("{percent} % is nothing to calibrate by: 5 to 150; best near 100")));
        }
        (Some(percent), ..) => counted * 60.0 / f64::from(cycles.max(1)) / percent * 100.0,
        (None, None, None) => {
            return Err(Nonsense::because(
                "say what is known: --hz of a generator, or --percent of a trusted indicator",
            ));
        }
        (None, ..) => f64::from(tach.rpm_at_100),
    };
    if !(100.0..=100_000.0).contains(&rpm) {
        return Err(Nonsense(format!(
            "that makes {rpm:.0} turns a minute at 100 %: 100 to 100000. Is cycles_per_turn right?"
        )));
    }
    let means = |rpm: f64, cycles: u16| counted * 60.0 / f64::from(cycles.max(1)) / rpm * 100.0;
    let (table, name) = (shaft.table(), shaft.name());
    let number = |key, value| Edit::Number { table, key, value, decimals: 0 };
    Ok(Found {
        what: format!("tachometer {name}"),
        figures: vec![
            Figure::new("turns a minute at 100 %", Some(f64::from(tach.rpm_at_100)), rpm.round(), 0),
            Figure::new("pulses in a turn", Some(f64::from(tach.cycles_per_turn)), f64::from(cycles), 0),
            Figure::new(
                &format!("{counted:.2} pulses a second mean, %"),
                Some(means(f64::from(tach.rpm_at_100), tach.cycles_per_turn)),
                means(rpm.round(), cycles),
                2,
            ),
        ],
        notes,
        edits: vec![
            number("rpm_at_100", rpm.round()),
            number("cycles_per_turn", f64::from(cycles)),
            Edit::Made("tach_made"),
        ],
    })
}

/// What the count says of the generator.
fn checked(counted: f64, hz: f64) -> Result<String, Nonsense> {
    if !(hz.is_finite() && hz > 0.0) {
        return Err(Nonsense(format!("{hz} is no frequency")));
    }
    let ratio = counted / hz;
    if (ratio - 1.0).abs() <= RIGHT {
        return Ok(format!(
            "the board counts {counted:.3} pulses a second of {hz:.3}: right to {:.3} %",
            (ratio - 1.0).abs() * 100.0
        ));
    }
    let whole = if ratio > 1.0 { ratio.round() } else { (1.0 / ratio).round() };
    let times = if ratio > 1.0 { ratio } else { 1.0 / ratio };
    Err(Nonsense(if whole >= 2.0 && (times - whole).abs() < 0.01 {
        let way = if ratio > 1.0 { "too many" } else { "too few" };
        format!(
            "the board counts {counted:.2} pulses a second of {hz:.2}, {whole} times {way}: noise on the wire, or a level too low"
        )
    } else {
        format!(
            "the board counts {counted:.2} pulses a second of {hz:.2}: pulses are lost or added. Look at wire and level"
        )
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(counted_hz: f64) -> Known {
        Known { shaft: Shaft::N1, counted_hz, hz: None, percent: None, cycles: None }
    }

    /// 70 Hz of a two-pole generator are 4,200 turns a minute, its 100 % (MS28054-1 generators as in TM 55-6680-234-40).
    #[test]
    fn seventy_hertz_are_a_hundred_percent_of_a_two_pole_generator() {
        let found = find(&Known { percent: Some(100.0), ..known(70.0) }, &Settings::bare()).unwrap();
        assert_eq!((found.figures[0].after.as_str(), found.figures[2].after.as_str()), ("4200", "100.00"));
        let found = find(&Known { percent: Some(95.0), ..known(70.0) }, &Settings::bare()).unwrap();
        assert_eq!((found.figures[0].after.as_str(), found.figures[2].before.as_str()), ("4421", "100.00"));
    }

    #[test]
    fn a_board_that_counts_twice_is_not_calibrated_away() {
        let words = |counted: f64| {
            find(&Known { hz: Some(70.0), ..known(counted) }, &Settings::bare()).unwrap_err().to_string()
        };
        assert!(words(140.0).contains("2 times too many"));
        assert!(words(35.0).contains("2 times too few"));
        assert!(words(66.0).contains("lost or added"));
        assert!(find(&Known { hz: Some(70.0), ..known(70.01) }, &Settings::bare()).is_ok());
        assert!(find(&known(70.0), &Settings::bare()).is_err(), "nothing is known");
        assert!(find(&Known { hz: Some(70.0), ..known(0.0) }, &Settings::bare()).is_err());
    }
}
