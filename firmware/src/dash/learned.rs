//! What hot laps have taught is offered to the driver, and he may accept it (rules G14 and G15).
//!
//! Knows the run-in's proposal and the acknowledge button. Fixes and a button in, other settings in force out.

use super::Dash;
use crate::output::{Output, Outputs, Refused, Tone};
use crate::run_in::learn::Offer;
use crate::units::{Instant, Span};

/// So long the button must be held: as long as to clear the clock.
const HOLD_TO_ACCEPT: Span = Span::from_secs(2);

/// So long after the finish nothing is asked of a driver.
const AFTER_FINISH: Span = Span::from_secs(60);

/// The offer is renewed this often.
const RENEWED_EVERY: Span = Span::from_secs(1);

/// The offer and the hand that may accept it.
#[derive(Clone, Debug, Default)]
pub(super) struct Offered {
    offer: Option<Offer>,
    renewed: Option<Instant>,
    /// The press that began while it was shown.
    press: Option<Instant>,
    /// He pressed, and did not hold: not now.
    put_away: bool,
    /// When the heat was over.
    pub(super) finished: Option<Instant>,
}

impl Dash {
    /// The offer as it is shown at a moment, if it is: no clock runs, nothing is alerted.
    pub(super) fn offer(&self, at: Instant) -> Option<Offer> {
        let shown = self.may_offer(at)
            && !self.offered.put_away
            && !self.survey.is_on()
            && self.alerts.shown().is_none();
        self.offered.offer.filter(|_| shown)
    }

    /// A good fix has come: is there something to offer?
    pub(super) fn renew_offer(&mut self, out: &mut Outputs) {
        let now = self.now;
        let Some(run_in) = self.run_in.as_ref() else { return };
        if !self.may_offer(now) {
            (self.offered.offer, self.offered.put_away, self.offered.press) = (None, false, None);
            return;
        }
        let due = self.offered.renewed.is_none_or(|renewed| now.since(renewed) >= RENEWED_EVERY);
        if !due || self.offered.press.is_some() {
            return;
        }
        self.offered.renewed = Some(now);
        let was = self.offered.offer;
        self.offered.offer = run_in.offer();
        if let (None, Some(offer)) = (was, self.offered.offer) {
            out.push(Output::Learned { accepted: false, offer });
        }
    }

    /// The acknowledge button went down or up.
    pub(super) fn press_on_offer(&mut self, at: Instant, active: bool) {
        if active {
            self.offered.press = self.offer(self.now).map(|_| at);
        } else if self.lines.acknowledge.held_since(self.now).is_none() && self.offered.press.take().is_some()
        {
            self.offered.put_away = true;
        }
    }

    /// He has held it for long enough: the boat is taken over.
    pub(super) fn accept(&mut self, out: &mut Outputs) {
        let now = self.now;
        let held = self.lines.acknowledge.held_since(now).filter(|since| self.offered.press == Some(*since));
        if held.is_none_or(|since| now.since(since) < HOLD_TO_ACCEPT) {
            return;
        }
        self.offered.press = None;
        if let Some(offer) = self.offer(now) {
            self.take_over(offer, out);
        }
    }

    /// What is offered at a moment, whether or not it is shown: for a host.
    #[must_use]
    pub fn offered(&self, at: Instant) -> Option<Offer> {
        self.offered.offer.filter(|_| self.may_offer(at))
    }

    /// A host answers in the driver's place (rule G16).
    pub(super) fn answer_offer(&mut self, accept: bool, out: &mut Outputs) {
        match self.offered(self.now) {
            None => out.push(Output::Refused(Refused::NothingOffered)),
            Some(offer) if accept => self.take_over(offer, out),
            Some(_) => self.offered.put_away = true,
        }
    }

    fn take_over(&mut self, offer: Offer, out: &mut Outputs) {
        let (Some(run_in), Some(settings)) = (self.run_in.as_mut(), self.settings.run_in.as_mut()) else {
            return;
        };
        let Some(boat) = run_in.proposal() else { return };
        if run_in.adopt(&boat) {
            settings.boat = boat;
            self.offered.offer = None;
            out.push(Output::Learned { accepted: true, offer });
            out.push(Output::Cue(Tone::Taken));
        }
    }

    /// When a hand that holds the button has held it for long enough. The feed from then on that takes the boat over lays
    /// lanes anew: it takes more time and more of the stack than any other.
    #[must_use]
    pub fn accept_due(&self) -> Option<Instant> {
        self.offered.press.map(|since| since.plus(HOLD_TO_ACCEPT))
    }

    /// Whether a boat may be offered, and kept (rule G14): no clock runs and none is to come, or the heat has been over for a
    /// while.
    #[must_use]
    pub fn may_offer(&self, at: Instant) -> bool {
        let idle = self.is_idle();
        let over = self.offered.finished.is_some_and(|finished| at.since(finished) >= AFTER_FINISH);
        idle || (self.race.is_finished() && over)
    }
}

#[cfg(test)]
#[cfg(feature = "run-in")]
mod tests;
