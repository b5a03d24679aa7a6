//! The start clock: presses and contact closures become the moment of zero, with its uncertainty.
//!
//! Every signal comes a known time before zero, so every observed signal is an observation of zero. The first
//! one arms the clock; later ones sharpen it, or, when they disagree by more than chance explains, replace it.
//! Zero is held on the board's clock and moves only by a decision that says so; neither a leap second nor a
//! new label from the receiver can touch it.
//!
//! Knows units, outputs and what the timebase measured of the crystal. Presses in, zero out. The rules are
//! written for people in `docs/timing-logic.md`; the numbers in brackets are theirs.

pub mod debounce;
mod fusion;
mod resumed;
pub mod sound;

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::mutant::{Mutant, planted};
use crate::output::{Output, Outputs, Stray, Tone, ZeroSource};
use crate::resume::Basis;
use crate::units::{Instant, PartsPerBillion, Span, Utc, mul_div};
use fusion::{Estimate, of_one_kind, weigh};
use resumed::{Resumed, bit};
use sound::HeardGun;

/// The most signals a start may have.
pub const SIGNALS_MAX: usize = 8;

/// What the start clock must know of the rules, the driver's thumb and the wiring.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GunSettings {
    /// Seconds from each official signal to zero, in the order they come: 300, 60, 0.
    pub signals_s: Vec<u16, SIGNALS_MAX>,
    /// How late the driver's press is, on average.
    pub reaction_mean: Span,
    /// How much that varies from press to press, one standard deviation.
    pub reaction_sd: Span,
    /// How well the average itself is known, one standard deviation; all presses share this error.
    pub reaction_mean_sd: Span,
    /// How late the contact closes after the gun fires.
    pub contact_delay: Span,
    /// How much that varies, one standard deviation.
    pub contact_sd: Span,
    /// Set when the driver presses at the sound of the gun and not at its smoke or flag.
    pub heard: Option<HeardGun>,
    /// An observation within so many standard deviations of the running zero agrees with it.
    pub gate_sigmas: u8,
    /// An observation this close agrees whatever the deviations say.
    pub gate_least: Span,
    /// An observation beyond the gate, but this close, is taken for an official signal that replaces zero.
    pub replace_within: Span,
    /// Edges closer than this are bounce.
    pub debounce: Span,
    /// Holding the button for so long clears the clock.
    pub hold_to_clear: Span,
}

/// Zero as the clock holds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Zero {
    /// The moment on the board's clock.
    pub at: Instant,
    /// One standard deviation of that moment.
    pub sigma: Span,
    /// The moment on the running scale, when zero rests on a schedule alone: then a fix and zero are on the same
    /// scale, and the tie between the scales does not blur the margin.
    pub scheduled: Option<Utc>,
    /// What it rests on.
    pub source: ZeroSource,
}

/// What the crystal was measured to do, at the moment it is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crystal {
    /// Its error.
    pub drift: PartsPerBillion,
    /// One standard deviation of that.
    pub drift_sd: PartsPerBillion,
}

/// Which line a signal came in on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// The driver's thumb.
    Thumb,
    /// The gun contact.
    Contact,
}

#[derive(Clone, Copy, Debug)]
struct Observation {
    hand: Hand,
    /// Place in the list of signals.
    signal: usize,
    /// When the signal was given, as far as this observation tells: the stamp less its known delay.
    given: Instant,
}

#[derive(Clone, Copy, Debug)]
struct Schedule {
    running: Utc,
    at: Instant,
    sigma: Span,
}

/// The start clock.
#[derive(Clone, Debug)]
pub struct StartClock {
    settings: GunSettings,
    observations: Vec<Observation, { 2 * SIGNALS_MAX }>,
    schedule: Option<Schedule>,
    /// A zero that came through a restart.
    resumed: Option<Resumed>,
    /// The signals taken before it, a bit each.
    taken_before: u16,
    zero: Option<Zero>,
    /// The signal that the next press will be taken for while the clock waits.
    expected: usize,
    armed_at: Option<Instant>,
}

/// So long after arming the page button still says "that was the next signal".
const MISTAKEN_SIGNAL_WITHIN: Span = Span::from_secs(30);

/// A better known crystal moves zero only when it matters: a millisecond is 7 cm at 160 mph.
const DRIFT_WORTH_SAYING: Span = Span::from_millis(1);

impl StartClock {
    /// A clock that waits for its first signal.
    #[must_use]
    pub fn new(settings: &GunSettings) -> Self {
        Self {
            settings: settings.clone(),
            observations: Vec::new(),
            schedule: None,
            resumed: None,
            taken_before: 0,
            zero: None,
            expected: 0,
            armed_at: None,
        }
    }

    /// Zero, once the clock is armed.
    #[must_use]
    pub const fn zero(&self) -> Option<&Zero> {
        self.zero.as_ref()
    }

    /// Seconds before zero of the signal that the next press will be taken for while the clock waits.
    #[must_use]
    pub fn expected_signal_s(&self) -> u16 {
        self.signal_s(self.expected)
    }

    /// The observations that zero rests on: by which hand, of which place in the list of signals, and when the signal was
    /// given as far as each tells.
    pub fn observed(&self) -> impl Iterator<Item = (Hand, usize, Instant)> + '_ {
        self.observations.iter().map(|seen| (seen.hand, seen.signal, seen.given))
    }

    /// When the clock was armed by a press or a closure.
    #[must_use]
    pub const fn armed_at(&self) -> Option<Instant> {
        self.armed_at
    }

    /// Forgets everything and waits for a first signal again (rule C7).
    pub fn clear(&mut self, out: &mut Outputs) {
        *self = Self::new(&self.settings);
        out.push(Output::Cleared);
    }

    /// A debounced press or closure, stamped at its first edge (rules C1 to C6).
    pub fn signal(&mut self, at: Instant, hand: Hand, crystal: Crystal, out: &mut Outputs) {
        let given = at.plus(-self.delay(hand));
        let Some(zero) = self.zero else {
            self.take(Observation { hand, signal: self.expected, given }, crystal, out);
            self.armed_at = Some(at);
            return;
        };
        match self.judge(given, hand, &zero, crystal) {
            Verdict::Agrees(observation) => self.take(observation, crystal, out),
            Verdict::Replaces(observation) => {
                self.forget_observations();
                self.take(observation, crystal, out);
            }
            Verdict::Stray(why) => {
                out.push(Output::Stray { contact: hand == Hand::Contact, why });
                out.push(Output::Cue(Tone::NotTaken));
            }
        }
    }

    /// Which signal, if any, an observation in the armed state belongs to.
    fn judge(&self, given: Instant, hand: Hand, zero: &Zero, crystal: Crystal) -> Verdict {
        let Some((signal, off)) = self.nearest_signal(given, zero, crystal) else {
            return Verdict::Stray(Stray::NoSignalDue);
        };
        let observation = Observation { hand, signal, given };
        let taken = self.taken() & bit(hand, signal) != 0 && !planted(Mutant::SignalTwice);
        let gated = !planted(Mutant::GateOpen) || off.abs() > self.settings.replace_within;
        if !gated || off.abs() <= self.gate(&observation, zero, crystal) {
            if taken { Verdict::Stray(Stray::AlreadyTaken) } else { Verdict::Agrees(observation) }
        } else if off.abs() <= self.settings.replace_within {
            match hand {
                _ if taken => Verdict::Stray(Stray::AlreadyTaken),
                Hand::Thumb if self.is_better_than_a_thumb() => Verdict::Stray(Stray::Overruled),
                Hand::Thumb | Hand::Contact => Verdict::Replaces(observation),
            }
        } else if given.since(zero.at) > self.settings.replace_within {
            Verdict::Stray(Stray::RaceOn)
        } else {
            Verdict::Stray(Stray::NoSignalDue)
        }
    }

    /// True when zero rests on a gun contact or a schedule, which a thumb does not overrule.
    fn is_better_than_a_thumb(&self) -> bool {
        self.basis() > Basis::Thumb && !planted(Mutant::ThumbOverrules)
    }

    /// All that zero rested on is overruled.
    fn forget_observations(&mut self) {
        self.observations.clear();
        (self.schedule, self.resumed, self.taken_before) = (None, None, 0);
    }

    /// The signal that comes nearest to `given`, and by how much zero would have to move for it.
    fn nearest_signal(&self, given: Instant, zero: &Zero, crystal: Crystal) -> Option<(usize, Span)> {
        (0..self.settings.signals_s.len())
            .map(|signal| (signal, self.zero_by(signal, given, crystal).since(zero.at)))
            .min_by_key(|(_, off)| off.abs())
    }

    /// How far an observation may be from zero and still agree with it.
    fn gate(&self, observation: &Observation, zero: &Zero, crystal: Crystal) -> Span {
        let both = Span::root_sum_square(&[zero.sigma, self.own_sd(observation, crystal)]);
        let sigmas = i64::from(self.settings.gate_sigmas);
        Span::from_micros(both.as_micros().saturating_mul(sigmas)).max(self.settings.gate_least)
    }

    fn take(&mut self, observation: Observation, crystal: Crystal, out: &mut Outputs) {
        if planted(Mutant::LastAlone) {
            self.observations.clear();
        }
        if self.observations.push(observation).is_err() {
            // Each line counts each signal once, so the list holds all there can be.
            out.push(Output::Stray { contact: observation.hand == Hand::Contact, why: Stray::AlreadyTaken });
            return;
        }
        if planted(Mutant::ScheduleAveraged) {
            self.schedule = None;
        }
        // A schedule stands alone: an agreeing signal confirms it and changes nothing.
        if self.basis() < Basis::Schedule {
            let before_s = self.signal_s(observation.signal);
            let source = match observation.hand {
                Hand::Thumb => ZeroSource::Press { before_s },
                Hand::Contact => ZeroSource::Contact { before_s },
            };
            self.settle(source, crystal, out);
        }
        out.push(Output::Cue(Tone::Taken));
    }

    /// The schedule says when zero is: `running` on the running scale, `at` on the board's clock (rule C8).
    ///
    /// It replaces whatever zero rested on before, and stands alone.
    pub fn schedule(&mut self, running: Utc, at: Instant, sigma: Span, crystal: Crystal, out: &mut Outputs) {
        self.forget_observations();
        self.schedule = Some(Schedule { running, at, sigma });
        self.settle(ZeroSource::Utc, crystal, out);
    }

    /// The page button: while the clock waits, the next press is for the next signal in the list; soon after
    /// arming, the signal taken was the next one (rule C9).
    pub fn next_signal(&mut self, at: Instant, crystal: Crystal, out: &mut Outputs) -> bool {
        let signals = self.settings.signals_s.len().max(1);
        let Some(armed_at) = self.armed_at else {
            self.expected = (self.expected + 1) % signals;
            return self.zero.is_none();
        };
        let too_late = at.since(armed_at) > MISTAKEN_SIGNAL_WITHIN && !planted(Mutant::PageAlways);
        let one_signal = self.observations.iter().all(|o| o.signal == self.expected);
        if self.basis() == Basis::Schedule || !one_signal || too_late {
            return false;
        }
        self.expected = (self.expected + 1) % signals;
        for observation in &mut self.observations {
            observation.signal = self.expected;
        }
        let before_s = self.signal_s(self.expected);
        let source = match self.observations.first().map(|o| o.hand) {
            Some(Hand::Contact) => ZeroSource::Contact { before_s },
            _ => ZeroSource::Press { before_s },
        };
        self.settle(source, crystal, out);
        true
    }

    /// The tie to UTC is better known: zero moves if that matters (rule C10).
    ///
    /// `placed` is where the scheduled zero now falls on the board's clock, when there is one.
    pub fn retime(&mut self, crystal: Crystal, placed: Option<(Instant, Span)>, out: &mut Outputs) {
        let Some(old) = self.zero else { return };
        if let (Some(schedule), Some((at, sigma))) = (self.schedule.as_mut(), placed) {
            (schedule.at, schedule.sigma) = (at, sigma);
        }
        let found = placed.is_some_and(|placed| self.find_by_utc(placed));
        let Some(new) = self.fused(crystal) else { return };
        if new.at.since(old.at).abs() >= DRIFT_WORTH_SAYING {
            self.settle(if found { ZeroSource::Resumed } else { ZeroSource::Drift }, crystal, out);
        } else {
            self.zero = Some(Zero { at: old.at, sigma: new.sigma, ..old });
        }
    }

    /// Where UTC puts zero on the running scale: a schedule's, or that of a zero which came through a restart.
    #[must_use]
    pub fn by_utc(&self) -> Option<Utc> {
        let resumed = || Some(self.resumed.as_ref()?.label?.utc);
        self.schedule.map(|schedule| schedule.running).or_else(resumed)
    }

    /// Fuses all observations into a new zero and says so.
    fn settle(&mut self, source: ZeroSource, crystal: Crystal, out: &mut Outputs) {
        let Some(fused) = self.fused(crystal) else { return };
        let moved = self.zero.map(|old| fused.at.since(old.at));
        let kept = if source == ZeroSource::Drift { self.zero.map_or(source, |z| z.source) } else { source };
        self.zero = Some(Zero { source: kept, ..fused });
        if planted(Mutant::SilentZero) && moved.is_some() {
            return;
        }
        out.push(Output::Zero { source, at: fused.at, moved, sigma: fused.sigma });
    }

    /// All observations as one, by kind and then across kinds.
    fn fused(&self, crystal: Crystal) -> Option<Zero> {
        if let Some(Schedule { running, at, sigma }) = self.schedule {
            return Some(Zero { at, sigma, scheduled: Some(running), source: ZeroSource::Utc });
        }
        let resumed = self.resumed.as_ref();
        if let Some(alone) = resumed.filter(|it| it.stands_alone() || self.observations.is_empty()) {
            return Some(alone.zero());
        }
        let by_first = self.observations.first().map(|o| self.zero_by(o.signal, o.given, crystal));
        let origin = resumed.map(|resumed| resumed.at).or(by_first)?;
        let of_hand = |hand: Hand| {
            let seen = self.observations.iter().filter(|o| o.hand == hand).map(|o| Estimate {
                zero: self.zero_by(o.signal, o.given, crystal).since(origin),
                sd: self.own_sd(o, crystal),
            });
            let carried = resumed.filter(|resumed| resumed.hand() == hand);
            let mut all: Vec<Estimate, { 2 * SIGNALS_MAX + 1 }> = Vec::new();
            for estimate in seen.chain(carried.map(|carried| carried.estimate(origin, self.shared_sd()))) {
                // There is room: observations have as many places, but for what was carried.
                let _ = all.push(estimate);
            }
            all
        };
        let thumb = of_one_kind(&of_hand(Hand::Thumb), self.shared_sd());
        let contact = of_one_kind(&of_hand(Hand::Contact), Span::ZERO);
        let all = match (thumb, contact) {
            (Some(thumb), Some(contact)) => weigh(&[thumb, contact])?,
            (one, other) => weigh(&[one.or(other)?])?,
        };
        let source = self.zero.map_or(ZeroSource::Utc, |zero| zero.source);
        Some(Zero { at: origin.plus(all.zero), sigma: all.sd, scheduled: None, source })
    }

    /// Where an observation of a signal puts zero on the board's clock, whose crystal runs fast by its drift.
    fn zero_by(&self, signal: usize, given: Instant, crystal: Crystal) -> Instant {
        given.plus(Span::from_secs(i64::from(self.signal_s(signal))).stretched(crystal.drift))
    }

    /// What an observation's error does not share with others: its own spread, and the crystal's until zero.
    fn own_sd(&self, observation: &Observation, crystal: Crystal) -> Span {
        let own = match observation.hand {
            Hand::Thumb => self.settings.reaction_sd,
            Hand::Contact => self.settings.contact_sd,
        };
        let until_zero_us = i64::from(self.signal_s(observation.signal)) * 1_000_000;
        let crystal_part = mul_div(until_zero_us, crystal.drift_sd.as_ppb(), 1_000_000_000);
        Span::root_sum_square(&[own, Span::from_micros(crystal_part)])
    }

    /// What all presses share: how well the thumb's mean is known, and the distance of a gun that is heard.
    fn shared_sd(&self) -> Span {
        let heard = self.settings.heard.as_ref().map_or(Span::ZERO, HeardGun::delay_sd);
        Span::root_sum_square(&[self.settings.reaction_mean_sd, heard])
    }

    /// How late a line's edge comes after the signal, on average.
    fn delay(&self, hand: Hand) -> Span {
        match hand {
            Hand::Thumb if planted(Mutant::LatenessKept) => Span::ZERO,
            Hand::Thumb => {
                self.settings.reaction_mean + self.settings.heard.as_ref().map_or(Span::ZERO, HeardGun::delay)
            }
            Hand::Contact => self.settings.contact_delay,
        }
    }

    fn signal_s(&self, signal: usize) -> u16 {
        self.settings.signals_s.get(signal).copied().unwrap_or(0)
    }
}

/// What an observation in the armed state is.
enum Verdict {
    Agrees(Observation),
    Replaces(Observation),
    Stray(Stray),
}

#[cfg(test)]
mod tests;
