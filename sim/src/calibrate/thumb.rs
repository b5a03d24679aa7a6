//! How late a thumb is: forty presses after forty signals.
//!
//! Presses that came before anybody could have reacted were guesses, and those after a second were asleep; both are left
//! out and counted. What remains has a mean and a spread, and the mean is known as well as so many presses allow.
//!
//! Delays in; what was found out.

use firmware::settings::Settings;

use super::{Edit, Figure, Found, Nonsense, mean_and_sd};

/// So many presses are asked for.
pub const ASKED: usize = 40;

/// With fewer good ones nothing is found: the spread would be known to worse than a sixth.
const LEAST: usize = 20;

/// Nobody reacts faster: the false start of sprinters (World Athletics technical rules, 100 ms; from memory).
const GUESSED_S: f64 = 0.1;

/// Later than this he was not watching (common practice, no source).
const ASLEEP_S: f64 = 1.0;

/// Where the presses were made, and what that adds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Where {
    /// On a heat's own gun: the contact and the press stand in the record.
    Gun,
    /// On the board, at its lamp and beeper.
    Board,
    /// At this computer's keyboard.
    Keyboard,
    /// Written down by somebody.
    Written,
}

impl Where {
    /// What is not known of each delay, the same for all of them, seconds (common practice, no source; the board's lamp
    /// and beeper: see the figures in DEVELOPERS.md).
    const fn shared_sd_s(self) -> f64 {
        match self {
            Self::Gun => 0.002,
            Self::Board => 0.003,
            Self::Keyboard => 0.02,
            Self::Written => 0.01,
        }
    }

    /// What is to be taken off: screen and keyboard together are late by some 40 ms (common practice, no source).
    const fn added_s(self) -> f64 {
        if matches!(self, Self::Keyboard) { 0.04 } else { 0.0 }
    }
}

/// What the presses come to.
///
/// # Errors
/// [`Nonsense`] when too few are left.
pub fn find(delays_s: &[f64], place: Where, settings: &Settings) -> Result<Found, Nonsense> {
    let own: Vec<f64> = delays_s.iter().map(|delay| delay - place.added_s()).collect();
    let good: Vec<f64> = own.iter().copied().filter(|delay| (GUESSED_S..=ASLEEP_S).contains(delay)).collect();
    let guessed = own.iter().filter(|delay| **delay < GUESSED_S).count();
    let asleep = own.len() - guessed - good.len();
    let left_out =
        format!("{} presses: {guessed} too soon to be a reaction, {asleep} later than a second", own.len());
    let stats = mean_and_sd(&good).filter(|_| good.len() >= LEAST);
    let Some((mean, sd)) = stats else {
        return Err(Nonsense(format!("{left_out}; {} are left, and {LEAST} are needed", good.len())));
    };
    let mean_sd = (sd / (good.len() as f64).sqrt()).hypot(place.shared_sd_s());
    let was = &settings.gun;
    let seconds = |span: firmware::units::Span| span.as_micros() as f64 / 1e6;
    let mut notes = vec![left_out];
    if place == Where::Keyboard {
        notes.push(format!(
            "screen and keyboard are late too: {:.3} s were taken off, known to {:.3} s. The board itself is better",
            place.added_s(),
            place.shared_sd_s()
        ));
    }
    if good.len() < ASKED {
        notes.push(format!("{ASKED} presses make it better: {} count here", good.len()));
    }
    notes.push(
        "a thumb in a boat is later than at a table: measure again after a race day, from its record"
            .to_owned(),
    );
    let number = |key, value| Edit::Number { table: "thumb", key, value, decimals: 3 };
    Ok(Found {
        what: "thumb".to_owned(),
        figures: vec![
            Figure::new("late by, s", Some(seconds(was.reaction_mean)), mean, 3),
            Figure::new("spread of one press, s", Some(seconds(was.reaction_sd)), sd, 3),
            Figure::new("mean known within, s", Some(seconds(was.reaction_mean_sd)), mean_sd, 3),
        ],
        notes,
        edits: vec![
            number("reaction_mean_s", mean),
            number("reaction_sd_s", sd),
            number("reaction_mean_sd_s", mean_sd),
            Edit::Made("thumb_made"),
        ],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twenty of 0.20 and twenty of 0.24: mean 0.22; deviation of a sample 0.02 * root(40 / 39) = 0.02025; of the mean
    /// 0.0032, with 0.003 of the lamp 0.0044.
    #[test]
    fn forty_presses_have_the_mean_and_spread_of_a_pocket_calculator() {
        let delays: Vec<f64> = (0..40).map(|n| if n % 2 == 0 { 0.20 } else { 0.24 }).collect();
        let found = find(&delays, Where::Board, &Settings::bare()).unwrap();
        let after: Vec<_> = found.figures.iter().map(|figure| figure.after.as_str()).collect();
        assert_eq!(after, ["0.220", "0.020", "0.004"]);
        let at_keys: Vec<f64> = delays.iter().map(|delay| delay + 0.04).collect();
        let found = find(&at_keys, Where::Keyboard, &Settings::bare()).unwrap();
        assert_eq!(found.figures[0].after, "0.220");
    }

    #[test]
    fn guesses_and_sleepers_do_not_count() {
        let mut delays = vec![0.2; 20];
        delays.extend([0.05, 0.09, -0.3, 1.5]);
        let found = find(&delays, Where::Gun, &Settings::bare()).unwrap();
        assert_eq!(found.figures[0].after, "0.200");
        assert!(
            found.notes[0].contains("24 presses: 3 too soon to be a reaction, 1 later"),
            "{}",
            found.notes[0]
        );
        assert!(
            find(&delays[1..], Where::Gun, &Settings::bare())
                .unwrap_err()
                .to_string()
                .contains("19 are left")
        );
    }
}
