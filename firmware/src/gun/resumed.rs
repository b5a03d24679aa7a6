//! A zero that came through a restart.
//!
//! It is one observation among others: further signals are averaged with it or replace it, as ever. On the board's
//! clock it has the error of the restart on top of its own; by UTC, once that is known again, it has that of the
//! tie instead, and it goes by whichever is less. A schedule becomes a schedule again.
//!
//! Carried zeros in, zero out. Rules P2 and P4 of `docs/timing-logic.md`.

use super::fusion::{Estimate, less};
use super::{Hand, SIGNALS_MAX, Schedule, StartClock, Zero};
use crate::output::{Output, Outputs, ZeroSource};
use crate::resume::{Basis, CarriedZero, Labelled};
use crate::units::{Instant, Span};

/// The observation.
#[derive(Clone, Copy, Debug)]
pub(super) struct Resumed {
    /// Where it puts zero on the board's clock.
    pub(super) at: Instant,
    /// Its own standard deviation, as it was before the restart.
    sigma: Span,
    /// What comes on top of that: the restart's, or the tie's.
    clock_sd: Span,
    /// What it rests on.
    pub(super) rests_on: Basis,
    /// The moment on the running scale, and how well that was known before the restart.
    pub(super) label: Option<Labelled>,
    /// True once UTC has put it in its place.
    is_found: bool,
}

/// A place by UTC that is further from the board's clock than this many deviations is not believed: the
/// receiver's labels have jumped meanwhile.
const GATE_SIGMAS: i64 = 4;

impl Resumed {
    /// Zero, if this is all that it rests on.
    pub(super) fn zero(&self) -> Zero {
        let sigma = Span::root_sum_square(&[self.sigma, self.clock_sd]);
        Zero { at: self.at, sigma, scheduled: None, source: ZeroSource::Resumed }
    }

    /// A schedule is never averaged with anything.
    pub(super) fn stands_alone(&self) -> bool {
        self.rests_on == Basis::Schedule
    }

    /// Whose kind it is of.
    pub(super) fn hand(&self) -> Hand {
        if self.rests_on == Basis::Thumb { Hand::Thumb } else { Hand::Contact }
    }

    /// As one estimate among others of its kind; a thumb's has the `shared` part of all presses in it already.
    pub(super) fn estimate(&self, origin: Instant, shared: Span) -> Estimate {
        let own = if self.hand() == Hand::Thumb { less(self.sigma, shared) } else { self.sigma };
        Estimate { zero: self.at.since(origin), sd: Span::root_sum_square(&[own, self.clock_sd]) }
    }

    /// Is a place by UTC one that the error of the restart explains?
    fn agrees(&self, at: Instant, sd: Span) -> bool {
        let both = Span::root_sum_square(&[sd, self.clock_sd]).as_micros();
        at.since(self.at).abs().as_micros() <= both.saturating_mul(GATE_SIGMAS)
    }
}

/// How well UTC puts a zero in its place: the ties of before and after the restart.
fn by_utc_sd(label: Option<Labelled>, tie_sd: Span) -> Span {
    Span::root_sum_square(&[label.map_or(Span::ZERO, |label| label.sigma), tie_sd])
}

/// The bit of a signal from a line: 0 to 7 by the thumb, 8 to 15 by the contact.
pub(super) fn bit(hand: Hand, signal: usize) -> u16 {
    let place = u32::try_from(signal.min(SIGNALS_MAX - 1)).unwrap_or(0);
    let first: u16 = if hand == Hand::Contact { 1 << SIGNALS_MAX } else { 1 };
    first.wrapping_shl(place)
}

impl StartClock {
    /// Zero comes back at its place on a board's clock that has carried on, with an error of `clock_sd`.
    ///
    /// `taken` are the signals taken before, as [`StartClock::carried`] told them.
    pub fn resume(&mut self, zero: &CarriedZero, taken: u16, clock_sd: Span, out: &mut Outputs) {
        let CarriedZero { at, sigma, rests_on, utc: label } = *zero;
        self.resumed = Some(Resumed { at, sigma, clock_sd, rests_on, label, is_found: false });
        self.taken_before = taken;
        self.tell_resumed(out);
    }

    /// Zero comes back where UTC has put it, with one deviation of the tie; its label is on the running scale.
    pub fn resume_by_utc(&mut self, zero: &CarriedZero, taken: u16, tie_sd: Span, out: &mut Outputs) {
        let CarriedZero { at, sigma, rests_on, utc: label } = *zero;
        let clock_sd = by_utc_sd(label, tie_sd);
        self.resumed = Some(Resumed { at, sigma, clock_sd, rests_on, label, is_found: true });
        self.taken_before = taken;
        self.settle_schedule((at, tie_sd));
        self.tell_resumed(out);
    }

    fn tell_resumed(&mut self, out: &mut Outputs) {
        let schedule = self.schedule.map(|Schedule { running, at, sigma }| Zero {
            at,
            sigma,
            scheduled: Some(running),
            source: ZeroSource::Utc,
        });
        self.zero = schedule.or_else(|| self.resumed.as_ref().map(Resumed::zero));
        if let Some(Zero { at, sigma, .. }) = self.zero {
            out.push(Output::Zero { source: ZeroSource::Resumed, at, moved: None, sigma });
        }
    }

    /// True while a zero that came through a restart has part in zero, other than as a schedule found again.
    #[must_use]
    pub fn rests_on_a_restart(&self) -> bool {
        self.resumed.is_some()
    }

    /// Would a tie with this deviation put a zero that came through a restart in its place better than it is? Once
    /// UTC has found it, only twice as good is better.
    #[must_use]
    pub fn is_better_placed(&self, tie_sd: Span) -> bool {
        self.resumed.filter(|resumed| resumed.label.is_some()).is_some_and(|resumed| {
            let sd = by_utc_sd(resumed.label, tie_sd);
            if resumed.is_found { sd + sd <= resumed.clock_sd } else { sd < resumed.clock_sd }
        })
    }

    /// UTC puts a resumed zero at an instant, with one deviation of the tie. True when it goes by that from now on.
    pub(super) fn find_by_utc(&mut self, placed: (Instant, Span)) -> bool {
        let Some(resumed) = self.resumed.as_mut() else { return false };
        let (at, tie_sd) = placed;
        let (was_found, sd) = (resumed.is_found, by_utc_sd(resumed.label, tie_sd));
        if !was_found && sd >= resumed.clock_sd {
            return false;
        }
        if !was_found && !resumed.agrees(at, sd) {
            resumed.label = None;
            return false;
        }
        (resumed.at, resumed.clock_sd, resumed.is_found) = (at, sd, true);
        self.settle_schedule(placed);
        !was_found
    }

    /// A schedule that UTC has found again is a schedule like any other.
    fn settle_schedule(&mut self, (at, sigma): (Instant, Span)) {
        let schedule = self.resumed.filter(Resumed::stands_alone).and_then(|resumed| resumed.label);
        if let Some(label) = schedule {
            self.schedule = Some(Schedule { running: label.utc, at, sigma });
            self.resumed = None;
        }
    }

    /// Zero and the signals taken, as a fresh clock would have to know them; `label` is the running scale's.
    ///
    /// A place that UTC gave is told as it was given, so that it does not wander from restart to restart.
    #[must_use]
    pub fn carried(&self, label: impl FnOnce(Instant) -> Option<Labelled>) -> Option<(CarriedZero, u16)> {
        let zero = self.zero?;
        let exact = |schedule: Schedule| Labelled { utc: schedule.running, sigma: Span::ZERO };
        let alone = |resumed: &Resumed| resumed.stands_alone() || self.observations.is_empty();
        let alone = self.resumed.filter(alone).and_then(|resumed| resumed.label);
        let utc = self.schedule.map(exact).or(alone).or_else(|| label(zero.at));
        Some((CarriedZero { at: zero.at, sigma: zero.sigma, rests_on: self.basis(), utc }, self.taken()))
    }

    /// The best that zero rests on.
    pub(super) fn basis(&self) -> Basis {
        let resumed = self.resumed.as_ref().map_or(Basis::Thumb, |resumed| resumed.rests_on);
        match self.schedule {
            Some(_) => Basis::Schedule,
            None if self.observations.iter().any(|o| o.hand == Hand::Contact) => resumed.max(Basis::Contact),
            None => resumed,
        }
    }

    /// A bit for each signal that has been taken from each line.
    pub(super) fn taken(&self) -> u16 {
        self.observations.iter().fold(self.taken_before, |taken, o| taken | bit(o.hand, o.signal))
    }

    /// While the clock waits for a first signal: it will be the first of those that are due after `race_time`.
    pub fn expect_after(&mut self, race_time: Span) {
        let due = |seconds: &u16| -Span::from_secs(i64::from(*seconds)) > race_time;
        self.expected = self.settings.signals_s.iter().position(due).unwrap_or(0);
    }
}
