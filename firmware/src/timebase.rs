//! The board's microseconds tied to UTC.
//!
//! The receiver's pulse marks whole seconds to well under a microsecond but does not say which; a fix says
//! which but arrives late by an unknown, never negative, delay. So the least delay seen (the lower envelope of
//! arrivals) finds the second, and the pulse finds its place in it. Pulses also measure the crystal. When they
//! go, the crystal carries on alone and the uncertainty grows.
//!
//! Inside, time runs on the *running scale*: the receiver's UTC labels, less any whole seconds by which the
//! labels have jumped since the first fix. A leap second or a GPS week rollover moves the labels, and nothing
//! else: a running clock does not notice.
//!
//! Knows units and outputs. Pulses and labels in; the way from either scale to the other out.

use heapless::Deque;
use serde::{Deserialize, Serialize};

use crate::output::{Refused, Tie};
use crate::units::{Instant, PartsPerBillion, Span, Utc, mul_div};

/// What must be known of the receiver and the crystal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TimebaseSettings {
    /// The least delay from the moment of a fix to the arrival of its last byte.
    pub latency: Span,
    /// How well that is known, one standard deviation. It is the error of every fix's place in time while
    /// there are no pulses.
    pub latency_sd: Span,
    /// The crystal's error before any pulse has measured it, one standard deviation.
    pub crystal_sd: PartsPerBillion,
    /// The crystal's error before any pulse has measured it, as calibrated: how much its seconds are too short
    /// (rule K3).
    pub crystal: PartsPerBillion,
}

/// The tie between the two scales.
#[derive(Clone, Debug)]
pub struct Timebase {
    settings: TimebaseSettings,
    /// What was added to the receiver's labels to keep the running scale in one piece.
    relabel: Span,
    /// The receiver's last labels that disagreed, how many agreed with each other, and by how much they did.
    dissent: Option<Dissent>,
    /// Least `board - running` of recent arrivals, one entry for each stretch of time.
    envelope: Deque<Envelope, ENVELOPE_STRETCHES>,
    pulses: Deque<Pulse, PULSES_KEPT>,
    /// The last pulse that was out of step, and how many before it kept step with it.
    stray_pulse: Option<(Instant, u8)>,
    /// Which running second the newest pulse began, once a fix has told.
    second_of_last_pulse: Option<Utc>,
    drift: PartsPerBillion,
    drift_sd: PartsPerBillion,
    /// What a host told, until a receiver speaks.
    told: Option<Told>,
}

/// UTC as a host told it.
#[derive(Clone, Copy, Debug)]
struct Told {
    at: Instant,
    utc: Utc,
    sd: Span,
}

/// What a host tells may be so old: it was measured a few questions ago.
const TOLD_WITHIN: Span = Span::from_secs(60);

/// The least and the greatest deviation of UTC that a host may state. A cable's way there and back cannot be halved
/// better than to some tenths of a millisecond; what is off by more than seconds starts no race (common practice, no
/// source).
const TOLD_SD: (Span, Span) = (Span::from_micros(500), Span::from_secs(5));

/// How many stretches the envelope looks back over, and how long each is: together about a minute, in which a
/// crystal that is 30 ppm off moves 2 ms.
const ENVELOPE_STRETCHES: usize = 8;
const ENVELOPE_STRETCH: Span = Span::from_secs(8);

/// Pulses kept for measuring the crystal: over 60 s one microsecond of stamping is 0.017 ppm.
const PULSES_KEPT: usize = 64;

/// After this long without a pulse the pulse is lost: two and a half seconds bridge two missing edges.
const PULSE_LOST_AFTER: Span = Span::from_millis(2_500);

/// A fix may seem early by this much (jitter of stamps) and late by up to this plus a second less one
/// microsecond; anything else is a label that is whole seconds off.
const EARLIEST_ARRIVAL: Span = Span::from_millis(-50);

/// So many labels alike, or pulses in step with each other, are believed against the running clock.
const BELIEVED: u8 = 3;

/// One standard deviation of a pulse's stamp: a microsecond counter and the way into an interrupt.
const STAMP_SD: Span = Span::from_micros(2);

/// The least error of a measured crystal in holdover: temperature moves it by a tenth of a ppm at once
/// (common practice, no source) and further with time, see [`Timebase::sigma`].
const DRIFT_SD_LEAST: PartsPerBillion = PartsPerBillion::from_ppb(100);

/// How fast a crystal's error may wander with temperature: 1 ppm in 300 s.
const WANDER_PPB_PER_S: i64 = 3;

#[derive(Clone, Copy, Debug)]
struct Envelope {
    since: Instant,
    least_us: i64,
}

#[derive(Clone, Copy, Debug)]
struct Pulse {
    at: Instant,
    /// Seconds since the first pulse of this run.
    number: i64,
}

#[derive(Clone, Copy, Debug)]
struct Dissent {
    by: Span,
    at: Instant,
    label: Utc,
    count: u8,
}

impl Timebase {
    /// A timebase that knows nothing yet.
    #[must_use]
    pub fn new(settings: &TimebaseSettings) -> Self {
        Self {
            settings: settings.clone(),
            relabel: Span::ZERO,
            dissent: None,
            envelope: Deque::new(),
            pulses: Deque::new(),
            stray_pulse: None,
            second_of_last_pulse: None,
            drift: settings.crystal,
            drift_sd: settings.crystal_sd,
            told: None,
        }
    }

    /// A host tells that it was `utc` at `at`; it is `now` (rule T10). Replaces what was told before.
    ///
    /// # Errors
    /// [`Refused::UtcKnown`] when a receiver has told UTC, [`Refused::UtcUnusable`] for a moment to come or long past,
    /// or a deviation that is none.
    pub fn tell(&mut self, now: Instant, at: Instant, utc: Utc, sd: Span) -> Result<(), Refused> {
        if !matches!(self.tie(now), Tie::None | Tie::Told) {
            return Err(Refused::UtcKnown);
        }
        let age = now.since(at);
        if age < Span::ZERO || age > TOLD_WITHIN || sd < TOLD_SD.0 || sd > TOLD_SD.1 {
            return Err(Refused::UtcUnusable);
        }
        self.told = Some(Told { at, utc, sd });
        Ok(())
    }

    /// A pulse began a second at `at`.
    ///
    /// # Errors
    /// [`Refused::PulseOutOfStep`] when it is not whole seconds from the pulses before it. Three such pulses in
    /// step with each other are believed, and the measurement of the crystal starts anew.
    pub fn pulse(&mut self, at: Instant) -> Result<(), Refused> {
        let Some(last) = self.pulses.back().copied() else {
            self.start_pulses(at);
            return Ok(());
        };
        match whole_seconds(at.since(last.at)) {
            Some(seconds) if seconds > 0 => self.pulse_in_step(at, last, seconds),
            _ => self.pulse_out_of_step(at)?,
        }
        Ok(())
    }

    fn pulse_in_step(&mut self, at: Instant, last: Pulse, seconds: i64) {
        if self.pulses.is_full() {
            self.pulses.pop_front();
        }
        let pulse = Pulse { at, number: last.number.saturating_add(seconds) };
        // The queue has room: it was just made.
        let _ = self.pulses.push_back(pulse);
        self.stray_pulse = None;
        self.second_of_last_pulse = self.second_of_last_pulse.map(|utc| utc.plus(Span::from_secs(seconds)));
        self.measure_crystal();
    }

    fn pulse_out_of_step(&mut self, at: Instant) -> Result<(), Refused> {
        let count = match self.stray_pulse {
            Some((before, count)) if whole_seconds(at.since(before)).is_some_and(|s| s > 0) => count + 1,
            _ => 1,
        };
        if count >= BELIEVED {
            self.start_pulses(at);
            return Ok(());
        }
        self.stray_pulse = Some((at, count));
        Err(Refused::PulseOutOfStep)
    }

    fn start_pulses(&mut self, at: Instant) {
        self.pulses.clear();
        let _ = self.pulses.push_back(Pulse { at, number: 0 });
        self.stray_pulse = None;
        self.second_of_last_pulse = None;
        self.name_second();
    }

    /// The crystal's error from the oldest and the newest pulse, and how good that figure is.
    fn measure_crystal(&mut self) {
        let (Some(first), Some(last)) = (self.pulses.front(), self.pulses.back()) else { return };
        let seconds = last.number - first.number;
        if seconds < 4 {
            return;
        }
        let excess = last.at.since(first.at) - Span::from_secs(seconds);
        self.drift = PartsPerBillion::from_ppb(mul_div(excess.as_micros(), 1_000, seconds));
        // Two stamps of STAMP_SD over the baseline: 2 us * sqrt(2) / seconds, in ppb.
        self.drift_sd = PartsPerBillion::from_ppb(2_828 / seconds).max(DRIFT_SD_LEAST);
    }

    /// A fix labelled `label` arrived at `at`: gives its moment on the running scale.
    ///
    /// # Errors
    /// [`Refused::LabelOutOfStep`] when the label is whole seconds behind the running clock, and
    /// [`Refused::FromTheFuture`] when it is ahead of it; after three
    /// such labels alike the running scale takes the new labels, without a jump.
    pub fn label(&mut self, at: Instant, label: Utc) -> Result<Utc, Refused> {
        // Whoever hears the receiver needs nobody to tell it.
        self.told = None;
        if let Some(delay) = self.delay(at, label.plus(self.relabel)) {
            let beyond = (delay - EARLIEST_ARRIVAL).as_micros().div_euclid(1_000_000);
            if beyond != 0 {
                return self.dissenting(at, label, Span::from_secs(beyond));
            }
        }
        self.dissent = None;
        let running = label.plus(self.relabel);
        self.note_arrival(at, running);
        self.name_second();
        Ok(running)
    }

    /// How long after its moment a fix arrived, as far as is known.
    fn delay(&self, at: Instant, running: Utc) -> Option<Span> {
        Some(self.running(at)?.since(running))
    }

    fn dissenting(&mut self, at: Instant, label: Utc, by: Span) -> Result<Utc, Refused> {
        // A burst of late fixes is not a jump of the labels: after a jump they come spaced as they are labelled.
        let spaced = |before: &Dissent| {
            let step = label.since(before.label);
            (at.since(before.at) - step).abs() <= Span::from_micros(step.as_micros() / 2)
        };
        let count = match self.dissent {
            Some(before) if before.by == by && spaced(&before) => before.count + 1,
            _ => 1,
        };
        if count < BELIEVED {
            self.dissent = Some(Dissent { by, at, label, count });
            let ahead = by < Span::ZERO;
            return Err(if ahead { Refused::FromTheFuture } else { Refused::LabelOutOfStep });
        }
        self.relabel = self.relabel + by;
        self.dissent = None;
        Ok(label.plus(self.relabel))
    }

    fn note_arrival(&mut self, at: Instant, running: Utc) {
        let offset = offset_us(at, running);
        let fresh = self.envelope.back().is_some_and(|newest| at.since(newest.since) < ENVELOPE_STRETCH);
        match self.envelope.back_mut() {
            Some(newest) if fresh => newest.least_us = newest.least_us.min(offset),
            _ => {
                if self.envelope.is_full() {
                    self.envelope.pop_front();
                }
                let _ = self.envelope.push_back(Envelope { since: at, least_us: offset });
            }
        }
    }

    /// Finds out which second the newest pulse began, if that is not known and there is something to tell by.
    fn name_second(&mut self) {
        if self.second_of_last_pulse.is_some() {
            return;
        }
        let (Some(pulse), Some(offset)) = (self.pulses.back(), self.envelope_offset()) else { return };
        let running = running_from(pulse.at, offset);
        let second = running.as_unix_micros().saturating_add(500_000).div_euclid(1_000_000);
        self.second_of_last_pulse = Some(Utc::from_unix_micros(second.saturating_mul(1_000_000)));
    }

    /// `board - running` by arrivals alone: the least seen, less the delay that even the quickest fix has.
    fn envelope_offset(&self) -> Option<i64> {
        let least = self.envelope.iter().map(|stretch| stretch.least_us).min()?;
        Some(least.saturating_sub(self.settings.latency.as_micros()))
    }

    /// The moment on the board's clock of a moment on the running scale.
    #[must_use]
    pub fn instant(&self, running: Utc) -> Option<Instant> {
        if let (Some(pulse), Some(second)) = (self.pulses.back(), self.second_of_last_pulse) {
            return Some(pulse.at.plus(running.since(second).stretched(self.drift)));
        }
        if let Some(told) = self.told {
            return Some(told.at.plus(running.since(told.utc).stretched(self.drift)));
        }
        let offset = self.envelope_offset()?;
        u64::try_from(running.as_unix_micros().saturating_add(offset)).ok().map(Instant::from_micros)
    }

    /// The moment on the running scale of a moment on the board's clock.
    #[must_use]
    pub fn running(&self, at: Instant) -> Option<Utc> {
        if let (Some(pulse), Some(second)) = (self.pulses.back(), self.second_of_last_pulse) {
            let slow_down = -self.drift;
            return Some(second.plus(at.since(pulse.at).stretched(slow_down)));
        }
        if let Some(told) = self.told {
            let slow_down = -self.drift;
            return Some(told.utc.plus(at.since(told.at).stretched(slow_down)));
        }
        Some(running_from(at, self.envelope_offset()?))
    }

    /// The running scale's moment for a UTC label as the receiver gives them now.
    #[must_use]
    pub fn running_of_label(&self, label: Utc) -> Utc {
        label.plus(self.relabel)
    }

    /// The UTC label, as the receiver gives them now, of a moment on the running scale.
    #[must_use]
    pub fn label_of_running(&self, running: Utc) -> Utc {
        running.plus(-self.relabel)
    }

    /// How the scales are tied at `at`.
    #[must_use]
    pub fn tie(&self, at: Instant) -> Tie {
        match (self.pulses.back(), self.second_of_last_pulse) {
            (Some(pulse), Some(_)) if at.since(pulse.at) <= PULSE_LOST_AFTER => Tie::Pps,
            (Some(_), Some(_)) => Tie::Holdover,
            _ if self.told.is_some() => Tie::Told,
            _ if self.envelope.is_empty() => Tie::None,
            _ => Tie::Arrivals,
        }
    }

    /// One standard deviation of the place of a fix on the board's clock, at `at`.
    ///
    /// In holdover it is the stamp's error, the measured crystal's error times the time since, and a wander with
    /// temperature: 3 ppb for each second gone makes half of 3 ppb t^2.
    #[must_use]
    pub fn sigma(&self, at: Instant) -> Span {
        let (Some(pulse), Some(_)) = (self.pulses.back(), self.second_of_last_pulse) else {
            let told =
                self.told.map(|told| Span::root_sum_square(&[told.sd, self.unknown_rate(at.since(told.at))]));
            return told.unwrap_or(self.settings.latency_sd);
        };
        let elapsed = at.since(pulse.at).abs();
        let rate = self.unknown_rate(elapsed);
        let seconds = elapsed.as_micros() / 1_000_000;
        let wander = Span::from_micros(mul_div(WANDER_PPB_PER_S * seconds, seconds, 2_000));
        Span::root_sum_square(&[STAMP_SD, rate, wander])
    }

    /// How far the crystal may be off over a time, by what is not known of it.
    fn unknown_rate(&self, over: Span) -> Span {
        Span::from_micros(mul_div(over.abs().as_micros(), self.drift_sd.as_ppb(), 1_000_000_000))
    }

    /// One standard deviation of the place of another moment, `there`, as it is known at `at`: between them the
    /// crystal may have been off, or be off, by what is not known of it.
    #[must_use]
    pub fn sigma_of(&self, there: Instant, at: Instant) -> Span {
        let rate = self.unknown_rate(there.since(at));
        Span::root_sum_square(&[self.sigma(at), rate])
    }

    /// The crystal's error as measured by pulses; zero before that.
    #[must_use]
    pub const fn drift(&self) -> PartsPerBillion {
        self.drift
    }

    /// One standard deviation of [`Timebase::drift`].
    #[must_use]
    pub const fn drift_sd(&self) -> PartsPerBillion {
        self.drift_sd
    }

    /// When time alone will turn the tie from pulses into holdover.
    #[must_use]
    pub fn next_wake(&self, now: Instant) -> Option<Instant> {
        let lost = self.pulses.back()?.at.plus(PULSE_LOST_AFTER).plus(Span::from_micros(1));
        (lost > now).then_some(lost)
    }
}

/// How many whole seconds `span` is, if it is a whole number of them within what a crystal and a stamp explain:
/// 200 ppm and 100 microseconds.
fn whole_seconds(span: Span) -> Option<i64> {
    let us = span.as_micros();
    let seconds = us.saturating_add(500_000).div_euclid(1_000_000);
    let off = us.saturating_sub(seconds.saturating_mul(1_000_000)).saturating_abs();
    (off <= 100 + us.saturating_abs() / 5_000).then_some(seconds)
}

fn offset_us(at: Instant, running: Utc) -> i64 {
    i64::try_from(at.as_micros()).unwrap_or(i64::MAX).saturating_sub(running.as_unix_micros())
}

fn running_from(at: Instant, offset_us: i64) -> Utc {
    Utc::from_unix_micros(i64::try_from(at.as_micros()).unwrap_or(i64::MAX).saturating_sub(offset_us))
}

#[cfg(test)]
mod tests;
