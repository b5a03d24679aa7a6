//! What the dash gets to see of one start: fixes, pulses and presses, straight into its door.
//!
//! A sweep has no time for bytes, gauges and engines: fixes are made as the receiver's model makes them (a place
//! whose error wanders, a white velocity, a latency) and fed as the decoder would have fed them. Before the last
//! minute and a half only what ties clocks together is played: a fix and a pulse each second, and the presses.

use std::collections::VecDeque;

use firmware::dash::Dash;
use firmware::gnss::{Fix, Position};
use firmware::input::{Input, Line};
use firmware::output::Outputs;
use firmware::units::{CentiDegrees, Instant, MmPerSecond, NanoDegrees, Utc};
use firmware::view::View;

use super::drill::Drill;
use crate::world::course::Course;
use crate::world::crystal::Crystal;
use crate::world::draw::{Draw, Purpose};
use crate::world::faults::{FaultKind, Faults};
use crate::world::maths::{atan2, once_round, round, sin_cos, span};
use crate::world::receiver::GaussMarkov;

/// The dash is switched on so long before the first press, and the fixes become dense so long before zero.
const WARM_UP_S: f64 = 20.0;
pub const DENSE_FROM_S: f64 = -95.0;

/// Ten bits a byte of the two sentences of an epoch, about 150 bytes.
const SENTENCES_BYTES: f64 = 150.0;

/// The dash of one start, and its sensors.
pub struct Sensors<'a> {
    dash: Dash,
    crystal: Crystal,
    course: &'a Course,
    zero_utc: Utc,
    faults: Faults,
    interval_us: i64,
    next_label_us: i64,
    next_pulse_s: f64,
    pulses: bool,
    east: GaussMarkov,
    north: GaussMarkov,
    white_sd_m: f64,
    velocity_sd_m_s: f64,
    latency_s: (f64, f64),
    position: Draw,
    velocity: Draw,
    latency: Draw,
    /// Fixes on their way, with the moment of their last byte.
    coming: VecDeque<(f64, Fix)>,
}

impl<'a> Sensors<'a> {
    /// Switches the dash on, and plays everything up to [`DENSE_FROM_S`] with the boat lying at path length `s`.
    #[must_use]
    pub fn warmed_up(drill: &'a Drill<'_>, seed: u64, s: f64) -> Self {
        let (world, receiver) = (drill.world, &drill.world.receiver);
        let interval_us = 100 / i64::from(receiver.rate_hz.clamp(1, 25)) * 10_000;
        let mut position = Draw::new(seed, Purpose::Position);
        let white = receiver.white_sd_m.min(receiver.position_sd_m);
        let slow = (receiver.position_sd_m * receiver.position_sd_m - white * white).sqrt();
        let dt = interval_us as f64 * 1e-6;
        let mut wander = || GaussMarkov::new(slow, dt, receiver.correlation_s, &mut position);
        let presses = presses(drill, seed);
        let begins = presses.iter().copied().fold(DENSE_FROM_S, f64::min) - WARM_UP_S;
        let (east, north) = (wander(), wander());
        let mut sensors = Self {
            dash: Dash::new(drill.settings),
            crystal: Crystal::new(&world.crystal, seed).rebooted(span(begins)),
            course: &drill.course,
            zero_utc: world.zero_utc,
            faults: Faults::new(&world.faults),
            interval_us,
            next_label_us: 0,
            next_pulse_s: 0.0,
            pulses: receiver.pps,
            east,
            north,
            white_sd_m: white,
            velocity_sd_m_s: receiver.velocity_sd_m_s,
            latency_s: (
                receiver.latency_ms * 1e-3 + SENTENCES_BYTES * 10.0 / f64::from(receiver.baud.max(1)),
                receiver.latency_sd_ms * 1e-3,
            ),
            position,
            velocity: Draw::new(seed, Purpose::Velocity),
            latency: Draw::new(seed, Purpose::Latency),
            coming: VecDeque::new(),
        };
        sensors.warm_up(begins, s, &presses);
        sensors
    }

    /// One fix and one pulse for each whole second of UTC, and the presses between them.
    fn warm_up(&mut self, begins: f64, s: f64, presses: &[f64]) {
        let phase = self.zero_utc.as_unix_micros().rem_euclid(1_000_000) as f64 * 1e-6;
        let mut second = (begins + phase).ceil() - phase;
        let mut presses = presses.iter().copied().peekable();
        while second < DENSE_FROM_S {
            while let Some(press) = presses.next_if(|press| *press <= second) {
                self.press(press);
            }
            self.pulse(second);
            let fix = self.measure(second, s, 0.0);
            self.feed(second + self.latency_s.0, Input::Fix(fix));
            second += 1.0;
        }
        self.next_pulse_s = second;
        let us = self.zero_utc.plus(span(DENSE_FROM_S)).as_unix_micros();
        self.next_label_us = (us.div_euclid(self.interval_us) + 1) * self.interval_us;
    }

    /// Presses the button at a moment of true time.
    pub fn press(&mut self, t: f64) {
        self.feed(t, Input::Edge { line: Line::Button, active: true });
        self.feed(t + 0.1, Input::Edge { line: Line::Button, active: false });
    }

    /// Lets the boat run from `t` to `t + dt`; place and speed are those at both ends.
    pub fn advance(&mut self, t: f64, dt: f64, from: (f64, f64), to: (f64, f64)) {
        loop {
            let label =
                Utc::from_unix_micros(self.next_label_us).since(self.zero_utc).as_micros() as f64 * 1e-6;
            if label > t + dt {
                break;
            }
            let share = ((label - t) / dt).clamp(0.0, 1.0);
            let mix = |a: f64, b: f64| a + share * (b - a);
            let fix = self.measure(label, mix(from.0, to.0), mix(from.1, to.1));
            let (mean, sd) = self.latency_s;
            let late = self.latency.normal(mean, sd).clamp(mean - 3.0 * sd, mean + 3.0 * sd);
            let free = self.coming.back().map_or(f64::NEG_INFINITY, |(arrives, _)| *arrives);
            if !self.faults.active(FaultKind::GnssLost, span(label)) {
                self.coming.push_back(((label + late).max(free), fix));
            }
            self.next_label_us += self.interval_us;
        }
        while self.next_pulse_s <= t + dt {
            self.pulse(self.next_pulse_s);
            self.next_pulse_s += 1.0;
        }
        while let Some((arrives, fix)) =
            self.coming.front().copied().filter(|(arrives, _)| *arrives <= t + dt)
        {
            self.coming.pop_front();
            self.feed(arrives, Input::Fix(fix));
        }
    }

    /// What the dash shows at a moment.
    #[must_use]
    pub fn view(&self, t: f64) -> View {
        self.dash.view(self.crystal.board_at(span(t)))
    }

    fn pulse(&mut self, t: f64) {
        if self.pulses && !self.faults.active(FaultKind::PpsLost, span(t)) {
            self.feed(t, Input::Pps);
        }
    }

    fn feed(&mut self, t: f64, input: Input) {
        let at = self.crystal.board_at(span(t));
        self.wake(at);
        self.dash.feed_into(at, input, &mut Outputs::default());
    }

    fn wake(&mut self, now: Instant) {
        while let Some(due) = self.dash.next_wake().filter(|due| *due < now) {
            self.dash.feed_into(due, Input::Tick, &mut Outputs::default());
        }
    }

    /// A fix as the receiver would report it for true time `t`.
    fn measure(&mut self, t: f64, s: f64, speed: f64) -> Fix {
        self.east.step(&mut self.position);
        self.north.step(&mut self.position);
        let place = self.course.place(s);
        let mut off = |slow: f64| slow + self.position.normal(0.0, self.white_sd_m);
        let (east, north) = (place.east_m + off(self.east.value()), place.north_m + off(self.north.value()));
        let (lat, lon) = self.course.degrees(east, north);
        let (sin, cos) = sin_cos(place.heading_rad);
        let east = speed * sin + self.velocity.normal(0.0, self.velocity_sd_m_s);
        let north = speed * cos + self.velocity.normal(0.0, self.velocity_sd_m_s);
        // As sentences carry them: a ten-millionth of a minute, a thousandth of a knot, a hundredth of a degree.
        Fix {
            utc: self.zero_utc.plus(span(t)),
            position: Position {
                lat: NanoDegrees::from_nano(round(lat * 1e9)),
                lon: NanoDegrees::from_nano(round(lon * 1e9)),
            },
            speed: MmPerSecond::from_mm_s(round((east * east + north * north).sqrt() * 1e3) as i32),
            course: CentiDegrees::from_centi(
                round(once_round(atan2(east, north)).to_degrees() * 100.0).rem_euclid(36_000) as i32,
            ),
            position_sd: None,
            speed_sd: None,
            hdop_centi: None,
            valid: true,
        }
    }
}

/// When the driver presses, true time: the same for both drivers of a start, since it is the same thumb.
#[must_use]
pub fn presses(drill: &Drill<'_>, seed: u64) -> Vec<f64> {
    let thumb = &drill.world.thumb;
    let mut draw = Draw::new(seed, Purpose::Thumb);
    let own = draw.normal(thumb.reaction_mean_s, thumb.mean_sd_s);
    thumb
        .presses_at_s
        .iter()
        .map(|before| -before + draw.normal(own, thumb.reaction_sd_s).max(0.05))
        .collect()
}
