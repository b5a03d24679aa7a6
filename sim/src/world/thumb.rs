//! The driver's thumb: how late it is, and what a contact does when it is pressed.
//!
//! A driver has a mean of his own, which differs from the one his settings name, and spreads round it. A
//! contact closes with the first edge and then bounces: what counts is that the first edge is the true one.
//!
//! This room knows chance only.

use firmware::units::Span;
use serde::Deserialize;

use super::draw::{Draw, Purpose};
use super::maths::span;

/// What the driver presses at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cue {
    /// The gun's smoke or the flag, at once.
    #[default]
    Smoke,
    /// The gun's sound, which takes its time.
    Sound,
}

/// The thumb's figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ThumbSettings {
    /// The signals at which he presses: seconds before zero. Empty: he never does.
    pub presses_at_s: Vec<f64>,
    /// What he presses at.
    pub cue: Cue,
    /// How late drivers are on average.
    pub reaction_mean_s: f64,
    /// How far one press differs from the next.
    pub reaction_sd_s: f64,
    /// How far this driver's own mean may lie from that average: one standard deviation, drawn once a heat.
    pub mean_sd_s: f64,
    /// How long he holds the button.
    pub held_ms: f64,
    /// How long its contact bounces at most.
    pub bounce_ms: f64,
    /// How many times it opens and closes again at most.
    pub bounces: u32,
}

impl Default for ThumbSettings {
    /// Contacts bounce for 1.6 ms on average (from memory); the longest of the common ones 6 ms.
    fn default() -> Self {
        Self {
            presses_at_s: vec![300.0, 60.0],
            cue: Cue::Smoke,
            reaction_mean_s: 0.25,
            reaction_sd_s: 0.06,
            mean_sd_s: 0.03,
            held_ms: 120.0,
            bounce_ms: 3.0,
            bounces: 4,
        }
    }
}

/// How wildly a contact bounces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounce {
    /// The last edge comes within this of the first.
    pub within_s: f64,
    /// The fewest and the most pairs of edges after the first one.
    pub pairs: (u32, u32),
}

impl Bounce {
    /// The worst that a fault brings: up to 20 ms, with many edges.
    pub const WILD: Self = Self { within_s: 0.020, pairs: (6, 12) };
}

/// The thumb of a heat.
#[derive(Clone, Debug)]
pub struct Thumb {
    mean_s: f64,
    sd_s: f64,
    reaction: Draw,
    bounce: Draw,
}

impl Thumb {
    /// Draws the driver's own mean.
    #[must_use]
    pub fn new(settings: &ThumbSettings, seed: u64) -> Self {
        let mut reaction = Draw::new(seed, Purpose::Thumb);
        Self {
            mean_s: reaction.normal(settings.reaction_mean_s, settings.mean_sd_s),
            sd_s: settings.reaction_sd_s,
            reaction,
            bounce: Draw::new(seed, Purpose::Bounce),
        }
    }

    /// This driver's own mean.
    #[must_use]
    pub const fn mean_s(&self) -> f64 {
        self.mean_s
    }

    /// How late the next press is.
    pub fn reaction_s(&mut self) -> f64 {
        self.reaction.normal(self.mean_s, self.sd_s)
    }

    /// The edges of one press: when, and whether down; the first is down and the last is up.
    pub fn press(&mut self, at: Span, held: Span, bounce: Bounce) -> Vec<(Span, bool)> {
        let room = span(2.0 * bounce.within_s);
        let release = at + if held > room { held } else { room };
        let mut edges = self.settle(at, true, bounce);
        edges.extend(self.settle(release, false, bounce));
        edges
    }

    /// A contact going to a level: the first edge, then pairs back and forth.
    fn settle(&mut self, at: Span, level: bool, bounce: Bounce) -> Vec<(Span, bool)> {
        let (fewest, most) = bounce.pairs;
        let pairs = fewest + self.bounce.below(most.saturating_sub(fewest) + 1);
        let mut times: Vec<Span> =
            (0..2 * pairs).map(|_| at + span(bounce.within_s * self.bounce.uniform())).collect();
        times.sort_unstable();
        let bounces = times.into_iter().zip([!level, level].into_iter().cycle());
        std::iter::once((at, level)).chain(bounces).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Standard errors of mean and deviation over 20,000 draws are 0.4 and 0.3 ms; five of them are allowed.
    #[test]
    fn reactions_have_their_mean_and_deviation() {
        let settings = ThumbSettings { mean_sd_s: 0.0, ..ThumbSettings::default() };
        let mut thumb = Thumb::new(&settings, 11);
        let draws: Vec<f64> = (0..20_000).map(|_| thumb.reaction_s()).collect();
        let n = draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / n;
        let sd = (draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
        assert!((mean - 0.25).abs() < 0.0021, "{mean}");
        assert!((sd - 0.06).abs() < 0.0015, "{sd}");
    }

    #[test]
    fn drivers_differ_from_each_other_by_their_own_spread() {
        let settings = ThumbSettings::default();
        let own: Vec<f64> = (0..5_000).map(|seed| Thumb::new(&settings, seed).mean_s()).collect();
        let n = own.len() as f64;
        let mean = own.iter().sum::<f64>() / n;
        let sd = (own.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
        assert!((mean - 0.25).abs() < 0.0022 && (sd - 0.03).abs() < 0.0015, "{mean} {sd}");
    }

    #[test]
    fn a_press_begins_with_its_true_edge_and_bounces_only_within_its_time() {
        let mut thumb = Thumb::new(&ThumbSettings::default(), 5);
        for k in 0..200 {
            let at = Span::from_secs(k);
            let edges = thumb.press(at, Span::from_millis(120), Bounce::WILD);
            assert_eq!(edges[0], (at, true));
            assert!(!edges[edges.len() - 1].1);
            assert!(edges.len() >= 2 * (1 + 2 * 6));
            let release = at + Span::from_millis(120);
            for pair in edges.windows(2) {
                assert!(pair[0].0 <= pair[1].0);
                assert_ne!(pair[0].1, pair[1].1);
                let since = if pair[1].0 < release { pair[1].0 - at } else { pair[1].0 - release };
                assert!(since <= Span::from_millis(20));
            }
        }
    }
}
