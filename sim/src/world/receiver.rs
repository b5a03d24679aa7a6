//! The GNSS receiver: what it makes of the boat's true motion, and when its bytes and pulses arrive.
//!
//! Ten times a second, on whole tenths of UTC, it measures place and velocity. The error of its place wanders
//! slowly (a first-order Gauss-Markov process) with a little white noise on top; the error of its velocity is
//! white. It takes a while to compute and then sends at its baud rate. Once a second it raises a pulse.
//!
//! The truth goes in, events with their true times come out. This room knows the truth, chance and faults.

use firmware::units::{Span, Utc};
use serde::Deserialize;

use super::draw::{Draw, Purpose};
use super::faults::{FaultKind, Faults};
use super::maths::{atan2, exp, once_round, seconds, sin_cos, span};
use super::truth::Truth;
use super::wire::{Bytes, Epoch, nav_pvt, nmea};

/// The tongue that the receiver speaks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Protocol {
    /// RMC and GGA sentences.
    #[default]
    Nmea,
    /// UBX-NAV-PVT frames.
    Ubx,
}

/// The receiver's figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ReceiverSettings {
    /// The tongue that it speaks.
    pub protocol: Protocol,
    /// Reports in a second, up to 25; the time between them is a whole number of hundredths.
    pub rate_hz: u32,
    /// Error of its place in each of east and north, slow and white together: one standard deviation.
    pub position_sd_m: f64,
    /// The white part of that.
    pub white_sd_m: f64,
    /// Time in which the slow part forgets itself by a factor e.
    pub correlation_s: f64,
    /// Error of its velocity in each of east and north.
    pub velocity_sd_m_s: f64,
    /// From the moment of a report to its first byte, on average.
    pub latency_ms: f64,
    /// One standard deviation of that; it never strays by more than three.
    pub latency_sd_ms: f64,
    /// Its serial line; ten bits a byte.
    pub baud: u32,
    /// Whether it has a pulse per second.
    pub pps: bool,
    /// How unsteady the pulse is: one standard deviation.
    pub pps_jitter_ns: f64,
}

impl Default for ReceiverSettings {
    fn default() -> Self {
        Self {
            protocol: Protocol::Nmea,
            rate_hz: 10,
            position_sd_m: 0.8,
            white_sd_m: 0.03,
            correlation_s: 120.0,
            velocity_sd_m_s: 0.05,
            latency_ms: 60.0,
            latency_sd_ms: 8.0,
            baud: 115_200,
            pps: true,
            pps_jitter_ns: 30.0,
        }
    }
}

/// A number that wanders: each value is correlated with the one a time `dt` before by exp(-dt / tau).
#[derive(Clone, Debug)]
pub struct GaussMarkov {
    value: f64,
    keep: f64,
    kick: f64,
}

impl GaussMarkov {
    /// Starts anywhere in its own distribution of standard deviation `sd`.
    #[must_use]
    pub fn new(sd: f64, dt: f64, tau: f64, draw: &mut Draw) -> Self {
        let keep = exp(-dt / tau.max(1e-3));
        Self { value: draw.normal(0.0, sd), keep, kick: sd * (1.0 - keep * keep).sqrt() }
    }

    /// The value now.
    #[must_use]
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// Goes on by one `dt`.
    pub fn step(&mut self, draw: &mut Draw) {
        self.value = self.keep * self.value + draw.normal(0.0, self.kick);
    }
}

/// The receiver at work.
#[derive(Clone, Debug)]
pub struct Receiver {
    settings: ReceiverSettings,
    zero_utc: Utc,
    interval_us: i64,
    /// The next epoch's label, microseconds since 1970.
    label_us: i64,
    ends: Span,
    east: GaussMarkov,
    north: GaussMarkov,
    white_sd_m: f64,
    position: Draw,
    velocity: Draw,
    latency: Draw,
    garble: Draw,
    /// When the serial line is free again.
    line_free: f64,
    /// The sentences of the last epoch, and when each arrives, if it does and has not been taken.
    sentences: [Bytes; 2],
    arrives: [Option<Span>; 2],
}

impl Receiver {
    /// The receiver of a heat, which sends from `begins` to `ends`.
    #[must_use]
    pub fn new(settings: &ReceiverSettings, zero_utc: Utc, (begins, ends): (Span, Span), seed: u64) -> Self {
        let interval_us = 100 / i64::from(settings.rate_hz.clamp(1, 25)) * 10_000;
        let first = zero_utc.plus(begins).as_unix_micros();
        let white_sd_m = settings.white_sd_m.min(settings.position_sd_m);
        let slow_sd_m = (settings.position_sd_m * settings.position_sd_m - white_sd_m * white_sd_m).sqrt();
        let mut position = Draw::new(seed, Purpose::Position);
        let mut wander =
            || GaussMarkov::new(slow_sd_m, interval_us as f64 * 1e-6, settings.correlation_s, &mut position);
        Self {
            east: wander(),
            north: wander(),
            settings: settings.clone(),
            zero_utc,
            interval_us,
            label_us: (first.div_euclid(interval_us) + 1) * interval_us,
            ends,
            white_sd_m,
            position,
            velocity: Draw::new(seed, Purpose::Velocity),
            latency: Draw::new(seed, Purpose::Latency),
            garble: Draw::new(seed, Purpose::Garble),
            line_free: f64::NEG_INFINITY,
            sentences: [Bytes::new(), Bytes::new()],
            arrives: [None; 2],
        }
    }

    /// The truth goes on up to this moment: for a heat whose end is not known yet.
    pub(super) const fn extend(&mut self, ends: Span) {
        self.ends = ends;
    }

    /// The error of its place now, east and north.
    #[must_use]
    pub fn offset_m(&self) -> (f64, f64) {
        (self.east.value(), self.north.value())
    }

    /// When the last byte of the next sentence arrives; none after the end.
    pub fn due(&mut self, truth: &Truth, faults: &Faults) -> Option<Span> {
        while self.arrives == [None; 2] {
            let t = Utc::from_unix_micros(self.label_us).since(self.zero_utc);
            if t > self.ends {
                return None;
            }
            self.run(t, truth, faults);
            self.label_us += self.interval_us;
        }
        let [first, second] = self.arrives;
        first.or(second)
    }

    /// The sentence that [`due`](Self::due) spoke of.
    pub fn take(&mut self) -> Option<Bytes> {
        let mut waiting = self.arrives.iter_mut().zip(&mut self.sentences);
        let (arrives, bytes) = waiting.find(|(arrives, _)| arrives.is_some())?;
        *arrives = None;
        Some(std::mem::take(bytes))
    }

    /// One epoch: measure, compute, send. Draws are made whatever the faults, so that a fault moves no other.
    fn run(&mut self, t: Span, truth: &Truth, faults: &Faults) {
        let mut epoch = self.measure(t, truth);
        epoch.valid = !faults.active(FaultKind::GnssInvalid, t);
        let (mean, sd) = (self.settings.latency_ms, self.settings.latency_sd_ms);
        let latency_ms = self.latency.normal(mean, sd).clamp(mean - 3.0 * sd, mean + 3.0 * sd).max(0.0);
        self.line_free = self.line_free.max(seconds(t) + latency_ms * 1e-3);
        match self.settings.protocol {
            Protocol::Nmea => nmea(&epoch, &mut self.sentences),
            Protocol::Ubx => self.sentences = [nav_pvt(&epoch), Bytes::new()],
        }
        self.send(faults);
    }

    fn measure(&mut self, t: Span, truth: &Truth) -> Epoch {
        let state = truth.at(t);
        self.east.step(&mut self.position);
        self.north.step(&mut self.position);
        let mut off = |slow: f64| slow + self.position.normal(0.0, self.white_sd_m);
        let (east, north) = (off(self.east.value()), off(self.north.value()));
        let (lat_deg, lon_deg) =
            truth.course().degrees(state.place.east_m + east, state.place.north_m + north);

        let sd = self.settings.velocity_sd_m_s;
        let (sin, cos) = sin_cos(state.place.heading_rad + state.skid_rad);
        let east = state.speed_m_s * sin + self.velocity.normal(0.0, sd);
        let north = state.speed_m_s * cos + self.velocity.normal(0.0, sd);
        Epoch {
            unix_us: self.label_us,
            lat_deg,
            lon_deg,
            speed_m_s: (east * east + north * north).sqrt(),
            course_deg: once_round(atan2(east, north)).to_degrees(),
            valid: true,
            position_sd_m: self.settings.position_sd_m,
            speed_sd_m_s: sd,
        }
    }

    /// Puts the sentences on the serial line, one behind the other.
    fn send(&mut self, faults: &Faults) {
        let byte_s = 10.0 / f64::from(self.settings.baud.max(1));
        for (bytes, arrives) in self.sentences.iter_mut().zip(&mut self.arrives) {
            self.line_free += bytes.len() as f64 * byte_s;
            let at = span(self.line_free);
            let lost = bytes.is_empty() || faults.active(FaultKind::GnssLost, at);
            *arrives = (!lost).then_some(at);
            if !lost && faults.active(FaultKind::GnssGarbled, at) {
                garble(bytes, &mut self.garble);
            }
        }
    }
}

/// One byte in some place gets some of its bits turned, and now and then the rest is cut off.
fn garble(bytes: &mut Bytes, draw: &mut Draw) {
    let place = draw.below(bytes.len() as u32) as usize;
    let bits = 1 + draw.below(255) as u8;
    if let Some(byte) = bytes.get_mut(place) {
        *byte ^= bits;
    }
    if draw.below(4) == 0 {
        bytes.truncate(place.max(1));
    }
}

/// The receiver's pulse per second.
#[derive(Clone, Debug)]
pub struct Pps {
    wired: bool,
    next: Span,
    ends: Span,
    jitter_s: f64,
    draw: Draw,
    /// The pulse to come, its jitter drawn.
    pulse: Option<Span>,
}

impl Pps {
    /// Pulses on every whole UTC second from `begins` to `ends`; none at all without the wire.
    #[must_use]
    pub fn new(settings: &ReceiverSettings, zero_utc: Utc, (begins, ends): (Span, Span), seed: u64) -> Self {
        let first = zero_utc.plus(begins).as_unix_micros().div_euclid(1_000_000) + 1;
        Self {
            wired: settings.pps,
            next: Utc::from_unix_micros(first * 1_000_000).since(zero_utc),
            ends: if settings.pps { ends } else { Span::from_micros(i64::MIN) },
            jitter_s: settings.pps_jitter_ns * 1e-9,
            draw: Draw::new(seed, Purpose::Pps),
            pulse: None,
        }
    }

    /// The truth goes on up to this moment.
    pub(super) fn extend(&mut self, ends: Span) {
        if self.wired {
            self.ends = ends;
        }
    }

    /// When the next pulse comes; none after the end.
    pub fn due(&mut self, faults: &Faults) -> Option<Span> {
        while self.pulse.is_none() && self.next <= self.ends {
            let jitter = self.draw.normal(0.0, self.jitter_s);
            if !faults.active(FaultKind::PpsLost, self.next) {
                self.pulse = Some(span(seconds(self.next) + jitter));
            }
            self.next = self.next + Span::from_secs(1);
        }
        self.pulse
    }

    /// The pulse that [`due`](Self::due) spoke of has come.
    pub fn take(&mut self) -> Option<Span> {
        self.pulse.take()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A first-order Gauss-Markov process has the autocorrelation exp(-dt / tau), by definition.
    #[test]
    fn the_error_of_place_is_correlated_in_time_as_stated() {
        let (sd, tau, dt) = (0.8, 5.0, 0.1);
        let mut draw = Draw::new(3, Purpose::Position);
        let mut process = GaussMarkov::new(sd, dt, tau, &mut draw);
        let values: Vec<f64> = (0..400_000)
            .map(|_| {
                process.step(&mut draw);
                process.value()
            })
            .collect();
        let correlation = |lag: usize| {
            let pairs = values.iter().zip(&values[lag..]);
            pairs.map(|(a, b)| a * b).sum::<f64>() / (values.len() - lag) as f64 / (sd * sd)
        };
        for lag in [0, 10, 50, 100] {
            let stated = (-dt * lag as f64 / tau).exp();
            assert!((correlation(lag) - stated).abs() < 0.05, "lag {lag}: {} {stated}", correlation(lag));
        }
    }
}
