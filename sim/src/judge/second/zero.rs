//! When was zero, by presses, closures and schedules: the rules of group C once more, in floating point.
//!
//! Written from the law book alone. Moments are in UTC, so that an error of the crystal between a signal and zero does
//! not arise where UTC is known; where it is not, its deviation is added.
//!
//! Presses in, an estimate of zero out. Seconds throughout.

use firmware::input::Line;
use firmware::settings::Settings;

use super::tie::{Moment, micros};

/// Which line a signal came in on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// The driver's thumb.
    Thumb,
    /// The gun contact.
    Contact,
}

/// What zero rests on.
#[derive(Clone, Debug, PartialEq)]
pub enum Rests {
    /// Presses and closures: seconds before zero of each that has part in it.
    Signals(Vec<(Hand, u16)>),
    /// A schedule, which stands alone (rule C8).
    Schedule,
    /// What the record says was carried through a restart, when what stood before is not in the record.
    Carried,
}

/// Zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Zero {
    /// In UTC, with the deviation of the signals alone.
    pub at: Moment,
    /// What it rests on.
    pub rests: Rests,
}

#[derive(Clone, Copy, Debug)]
struct Observation {
    hand: Hand,
    signal: usize,
    given_s: f64,
}

/// Edges to presses: the first edge after a quiet time (rule C1).
#[derive(Clone, Copy, Debug, Default)]
pub struct Contact {
    last_s: Option<f64>,
    level: bool,
    pressed: bool,
}

impl Contact {
    /// True when this edge begins a press.
    pub fn edge(&mut self, at_s: f64, active: bool, quiet_s: f64) -> bool {
        let since = self.last_s.map_or(f64::INFINITY, |last| at_s - last);
        // Once quiet, the line is what its last edge made it.
        let quiet = since >= quiet_s - 1e-9;
        if quiet && !self.level {
            self.pressed = false;
        }
        (self.last_s, self.level) = (Some(at_s), active);
        let begins = quiet && active && !self.pressed;
        self.pressed = self.pressed || begins;
        begins
    }
}

/// The start clock.
#[derive(Clone, Debug)]
pub struct Clock<'a> {
    settings: &'a Settings,
    observations: Vec<Observation>,
    fixed: Option<Zero>,
    expected: usize,
    armed_s: Option<f64>,
    /// What is not known of the crystal: nothing where UTC is known on both sides.
    crystal_sd: f64,
    /// How fast the board's clock is, as calibrated (rule K3): nothing where UTC is known on both sides.
    fast: f64,
}

impl<'a> Clock<'a> {
    /// A clock that waits.
    #[must_use]
    pub fn new(settings: &'a Settings, knows_utc: bool) -> Self {
        let crystal_sd = settings.timebase.crystal_sd.as_ppb() as f64 * 1e-9;
        let crystal_sd = if knows_utc { 0.0 } else { crystal_sd };
        let fast = if knows_utc { 0.0 } else { settings.timebase.crystal.as_ppb() as f64 * 1e-9 };
        Self { settings, observations: Vec::new(), fixed: None, expected: 0, armed_s: None, crystal_sd, fast }
    }

    /// A zero that stands by itself: a schedule, or what was carried.
    pub fn fix(&mut self, zero: Zero) {
        self.observations.clear();
        self.fixed = Some(zero);
    }

    /// True when a signal or a schedule has set it.
    #[must_use]
    pub fn is_armed(&self) -> bool {
        self.fixed.is_some() || !self.observations.is_empty()
    }

    /// An edge that began a press or closure, at a moment in UTC (rules C1 to C6).
    pub fn signal(&mut self, line: Line, at_s: f64) {
        let hand = if line == Line::GunContact { Hand::Contact } else { Hand::Thumb };
        let given_s = at_s - self.delay_s(hand);
        let Some(zero) = self.zero() else {
            self.observations.push(Observation { hand, signal: self.expected, given_s });
            self.armed_s = Some(at_s);
            return;
        };
        let off = |signal: usize| given_s + self.before_s(signal) - zero.at.s;
        let signals = 0..self.settings.gun.signals_s.len();
        let Some(signal) = signals.min_by(|a, b| off(*a).abs().total_cmp(&off(*b).abs())) else { return };
        let (observation, off) = (Observation { hand, signal, given_s }, off(signal).abs());
        if self.observations.iter().any(|seen| (seen.hand, seen.signal) == (hand, signal)) {
            return;
        }
        let gun = &self.settings.gun;
        let both = zero.at.sigma_s.hypot(self.own_sd_s(&observation));
        let gate = (f64::from(gun.gate_sigmas) * both).max(micros(gun.gate_least.as_micros()));
        let scheduled = self.fixed.is_some();
        let rests_on_contact = self.observations.iter().any(|seen| seen.hand == Hand::Contact);
        if off <= gate {
            if !scheduled {
                self.observations.push(observation);
            }
        } else if off <= micros(gun.replace_within.as_micros())
            && (hand == Hand::Contact || !(scheduled || rests_on_contact))
        {
            self.fixed = None;
            self.observations = vec![observation];
        }
    }

    /// The page button (rule C9).
    pub fn next_signal(&mut self, at_s: f64) {
        let count = self.settings.gun.signals_s.len().max(1);
        let Some(armed_s) = self.armed_s else {
            self.expected = (self.expected + 1) % count;
            return;
        };
        let only = self.observations.iter().all(|seen| seen.signal == self.expected);
        if self.fixed.is_none() && only && at_s - armed_s <= 30.0 {
            self.expected = (self.expected + 1) % count;
            self.observations.iter_mut().for_each(|seen| seen.signal = self.expected);
        }
    }

    /// Zero as it stands (rule C3).
    #[must_use]
    pub fn zero(&self) -> Option<Zero> {
        if let Some(fixed) = &self.fixed {
            return Some(fixed.clone());
        }
        let of = |hand: Hand, shared: f64| {
            let seen = self.observations.iter().filter(|seen| seen.hand == hand);
            let all: Vec<Moment> = seen
                .map(|seen| Moment {
                    s: seen.given_s + self.before_s(seen.signal),
                    sigma_s: self.own_sd_s(seen),
                })
                .collect();
            mean(&all).map(|mean| Moment { sigma_s: mean.sigma_s.hypot(shared), ..mean })
        };
        let kinds = [of(Hand::Thumb, self.shared_sd_s()), of(Hand::Contact, 0.0)];
        let at = mean(&kinds.into_iter().flatten().collect::<Vec<_>>())?;
        let signals = &self.settings.gun.signals_s;
        let seen = self.observations.iter();
        let rests = seen.map(|seen| (seen.hand, signals.get(seen.signal).copied().unwrap_or(0))).collect();
        Some(Zero { at, rests: Rests::Signals(rests) })
    }

    fn before_s(&self, signal: usize) -> f64 {
        self.settings.gun.signals_s.get(signal).map_or(0.0, |s| f64::from(*s) * (1.0 + self.fast))
    }

    fn own_sd_s(&self, seen: &Observation) -> f64 {
        let gun = &self.settings.gun;
        let own = if seen.hand == Hand::Contact { gun.contact_sd } else { gun.reaction_sd };
        micros(own.as_micros()).hypot(self.crystal_sd * self.before_s(seen.signal))
    }

    fn shared_sd_s(&self) -> f64 {
        let gun = &self.settings.gun;
        let heard =
            gun.heard.as_ref().map_or(0.0, |gun| gun.distance_sd.as_mm() as f64 / 1e3 / self.sound_m_s());
        micros(gun.reaction_mean_sd.as_micros()).hypot(heard)
    }

    fn delay_s(&self, hand: Hand) -> f64 {
        let gun = &self.settings.gun;
        if hand == Hand::Contact {
            return micros(gun.contact_delay.as_micros());
        }
        let sound =
            gun.heard.as_ref().map_or(0.0, |gun| gun.distance.as_mm() as f64 / 1e3 / self.sound_m_s());
        micros(gun.reaction_mean.as_micros()) + sound
    }

    /// Dry air: 331.3 m/s times the root of T / 273.15 K.
    fn sound_m_s(&self) -> f64 {
        let heard = self.settings.gun.heard.as_ref();
        let celsius = heard.map_or(15.0, |gun| f64::from(gun.air.as_milli()) / 1e3);
        331.3 * ((celsius + 273.15) / 273.15).max(0.01).sqrt()
    }
}

/// The mean weighed by inverse variance.
fn mean(all: &[Moment]) -> Option<Moment> {
    let first = all.first()?.s;
    let weight = |moment: &Moment| moment.sigma_s.max(1e-6).powi(-2);
    let total: f64 = all.iter().map(weight).sum();
    let off: f64 = all.iter().map(|moment| weight(moment) * (moment.s - first)).sum();
    Some(Moment { s: first + off / total, sigma_s: total.powf(-0.5) })
}
