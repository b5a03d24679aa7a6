//! When, where and in which direction the bow crossed the line.
//!
//! The antenna measures, the bow starts: every fix is carried forward by the lever arm along the boat's
//! heading. Between two fixes the bow's distance past the line is the cubic that has the measured distances
//! and speeds at both ends (Hermite's interpolation, any handbook of numerical analysis); its root is the
//! crossing. The time is that of the fixes' own validity, never of their arrival.
//!
//! Knows units, angles, fixes and the line. Fixes in, crossings out.

use serde::{Deserialize, Serialize};

use crate::angle::{scaled, sin_cos};
use crate::course::{CourseSettings, StartLine};
use crate::gnss::Fix;
use crate::units::{CentiDegrees, Millimetres, MmPerSecond, Span, Utc, mul_div};

/// The boat and its receiver, as far as a crossing depends on them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CrossingSettings {
    /// From the antenna forward to the bow.
    pub antenna_to_bow: Millimetres,
    /// How well that is known: one standard deviation.
    pub antenna_to_bow_sd: Millimetres,
    /// The receiver's position error along any direction, one standard deviation, where it states none itself.
    pub position_sd: Millimetres,
    /// The receiver's speed error, one standard deviation, where it states none itself.
    pub speed_sd: MmPerSecond,
    /// How far behind the line the bow must have been before it can cross again.
    pub hysteresis: Millimetres,
    /// The acceleration a boat may have had between fixes without our knowing, one standard deviation, mm/s^2.
    pub unknown_acceleration_mm_s2: i32,
    /// Fixes further apart than this are not bridged: a crossing between them is not claimed.
    pub bridge_max: Span,
}

impl CrossingSettings {
    /// The receiver's own figure, or the setting grown by the dilution where that is known and above one.
    #[must_use]
    pub fn position_sd(&self, fix: &Fix) -> Millimetres {
        let dilution = i64::from(fix.hdop_centi.unwrap_or(100).max(100));
        fix.position_sd
            .unwrap_or_else(|| Millimetres::from_mm(mul_div(self.position_sd.as_mm(), dilution, 100)))
    }
}

/// The bow went across the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crossing {
    /// When, on the fixes' own time scale.
    pub at: Utc,
    /// One standard deviation of that moment.
    pub sigma: Span,
    /// True in racing direction.
    pub forward: bool,
    /// From the line's left end.
    pub place: Millimetres,
}

/// The bow at one fix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bow {
    /// The moment of the fix.
    pub at: Utc,
    /// Beyond the line in racing direction; negative before it.
    pub past: Millimetres,
    /// Along the line from its left end.
    pub along: Millimetres,
    /// Speed across the line.
    pub speed_past: MmPerSecond,
    /// Speed along the line.
    pub speed_along: MmPerSecond,
    /// Standard deviation of the place along any direction.
    sd: Millimetres,
    /// Standard deviation of the speed.
    speed_sd: MmPerSecond,
}

/// Follows the bow from fix to fix.
#[derive(Clone, Debug)]
pub struct CrossingWatch {
    settings: CrossingSettings,
    line: StartLine,
    line_sd: Millimetres,
    end_tolerance: Millimetres,
    last: Option<Bow>,
    /// The last course made good at a speed where a course means something.
    heading: CentiDegrees,
    /// True once the bow has been far enough behind the line since it last crossed.
    ready: bool,
}

/// Below this speed the course of a fix is noise, and the last good heading is kept.
const STEERAGE: MmPerSecond = MmPerSecond::from_mm_s(2_000);

impl CrossingWatch {
    /// A watch on `line`, before the first fix.
    #[must_use]
    pub fn new(settings: &CrossingSettings, course: &CourseSettings, line: StartLine) -> Self {
        Self {
            settings: settings.clone(),
            line,
            line_sd: course.line_sd,
            end_tolerance: course.end_tolerance,
            last: None,
            heading: CentiDegrees::ZERO,
            ready: true,
        }
    }

    /// The bow at the last fix, if there was one.
    #[must_use]
    pub const fn bow(&self) -> Option<&Bow> {
        self.last.as_ref()
    }

    /// How long until the bow is at the line, if it heads for it and will pass between its ends.
    #[must_use]
    pub fn time_to_line(&self) -> Option<Span> {
        let bow = self.last.as_ref()?;
        let (past, speed) = (bow.past.as_mm(), i64::from(bow.speed_past.as_mm_s()));
        if past >= 0 || speed <= 0 {
            return None;
        }
        let time = Span::from_micros(mul_div(-past, 1_000_000, speed));
        let aside = mul_div(i64::from(bow.speed_along.as_mm_s()), time.as_micros(), 1_000_000);
        self.between_the_ends(bow.along + Millimetres::from_mm(aside)).then_some(time)
    }

    /// Takes a valid fix for the moment `at`, later than all before it; says whether the bow crossed since.
    pub fn fix(&mut self, at: Utc, fix: &Fix) -> Option<Crossing> {
        let now = self.bow_at(at, fix);
        let before = self.last.replace(now);
        let crossing = before.and_then(|before| self.between(&before, &now));
        if now.past < -self.settings.hysteresis {
            self.ready = true;
        }
        crossing
    }

    /// Carries a fix from the antenna to the bow and tells it by the line.
    fn bow_at(&mut self, at: Utc, fix: &Fix) -> Bow {
        if fix.speed >= STEERAGE {
            self.heading = fix.course;
        }
        let ahead = sin_cos(i64::from(self.heading.as_centi()) * 10_000_000);
        let course = sin_cos(i64::from(fix.course.as_centi()) * 10_000_000);
        let (bow_past, bow_along) = self.line.turned(ahead.sin, ahead.cos);
        let (way_past, way_along) = self.line.turned(course.sin, course.cos);
        let lever = self.settings.antenna_to_bow.as_mm();
        let speed = i64::from(fix.speed.as_mm_s());
        let antenna = self.line.beside(fix.position);
        Bow {
            at,
            past: antenna.past + Millimetres::from_mm(scaled(lever, bow_past)),
            along: antenna.along + Millimetres::from_mm(scaled(lever, bow_along)),
            speed_past: mm_s(scaled(speed, way_past)),
            speed_along: mm_s(scaled(speed, way_along)),
            sd: self.settings.position_sd(fix),
            speed_sd: fix.speed_sd.unwrap_or(self.settings.speed_sd),
        }
    }

    /// The crossing between two neighbouring fixes, if there is one that counts as a crossing.
    fn between(&mut self, before: &Bow, now: &Bow) -> Option<Crossing> {
        let step = now.at.since(before.at);
        let was_past = before.past >= Millimetres::ZERO;
        let is_past = now.past >= Millimetres::ZERO;
        if was_past == is_past || step <= Span::ZERO || step > self.settings.bridge_max {
            return None;
        }
        let across = Cubic::through(before.past, before.speed_past, now.past, now.speed_past, step);
        let along = Cubic::through(before.along, before.speed_along, now.along, now.speed_along, step);
        let fraction = across.root();
        let place = Millimetres::from_mm(along.at(fraction) / 1_000);
        let forward = is_past;
        if !self.between_the_ends(place) || (forward && !self.ready) {
            return None;
        }
        self.ready = false;
        Some(Crossing {
            at: before.at.plus(Span::from_micros(mul_div(step.as_micros(), fraction, FRACTION_ONE))),
            sigma: self.sigma(before, now, across.slope_mm_s(fraction, step), step),
            forward,
            place,
        })
    }

    fn between_the_ends(&self, place: Millimetres) -> bool {
        place >= -self.end_tolerance && place <= self.line.length() + self.end_tolerance
    }

    /// How uncertain the moment is: the uncertainty of the bow's place past the line, over its speed there.
    ///
    /// Independent parts: the receiver's position, the lever arm, the line's survey, and what may have happened
    /// between the fixes. That last part is a T^2 / 32 for an unknown acceleration a, the error of the cubic
    /// when a reverses half way, and T / 6 times the speed error. Neighbouring fixes share their position
    /// error, so it is not averaged.
    fn sigma(&self, before: &Bow, now: &Bow, speed_mm_s: i64, step: Span) -> Span {
        let step_us = step.as_micros();
        let step_ms = step_us / 1_000;
        let unknown = i64::from(self.settings.unknown_acceleration_mm_s2);
        let drifted_um = mul_div(unknown * step_ms, step_ms, 32_000);
        let speed_sd = i64::from(before.speed_sd.max(now.speed_sd).as_mm_s());
        let speed_part_um = mul_div(speed_sd, step_ms, 6);
        // Root sum square over micrometres; the type is a span's, the sum does not mind.
        let place_um = Span::root_sum_square(&[
            micrometres(before.sd.max(now.sd)),
            micrometres(self.settings.antenna_to_bow_sd),
            micrometres(self.line_sd),
            Span::from_micros(drifted_um),
            Span::from_micros(speed_part_um),
        ])
        .as_micros();
        Span::from_micros(mul_div(place_um, 1_000, speed_mm_s.abs().max(SLOWEST_MM_S)))
    }
}

/// A boat that drifts over the line has no sharp crossing: below this speed the error bar stops growing.
const SLOWEST_MM_S: i64 = 100;

/// One, as a fraction of the step between two fixes: 2^24, which is 6 ns in 0.1 s.
const FRACTION_ONE: i64 = 1 << 24;

fn micrometres(length: Millimetres) -> Span {
    Span::from_micros(length.as_mm().saturating_mul(1_000))
}

fn mm_s(value: i64) -> MmPerSecond {
    MmPerSecond::from_mm_s(i32::try_from(value).unwrap_or(i32::MAX))
}

/// The cubic with given values and speeds at both ends of a step, in micrometres over a fraction of the step.
struct Cubic {
    cube: i64,
    square: i64,
    linear: i64,
    constant: i64,
}

impl Cubic {
    fn through(x0: Millimetres, v0: MmPerSecond, x1: Millimetres, v1: MmPerSecond, step: Span) -> Self {
        let um = |x: Millimetres| x.as_mm().saturating_mul(1_000);
        let rise = |v: MmPerSecond| mul_div(i64::from(v.as_mm_s()), step.as_micros(), 1_000);
        let (x0, x1, r0, r1) = (um(x0), um(x1), rise(v0), rise(v1));
        let change = x1.saturating_sub(x0);
        Self {
            cube: r0.saturating_add(r1).saturating_sub(change.saturating_mul(2)),
            square: change.saturating_mul(3).saturating_sub(r0.saturating_mul(2)).saturating_sub(r1),
            linear: r0,
            constant: x0,
        }
    }

    /// The value in micrometres.
    fn at(&self, fraction: i64) -> i64 {
        let up = |value: i64, next: i64| mul_div(value, fraction, FRACTION_ONE).saturating_add(next);
        up(up(up(self.cube, self.square), self.linear), self.constant)
    }

    /// The slope in millimetres per second.
    fn slope_mm_s(&self, fraction: i64, step: Span) -> i64 {
        let up = |value: i64, next: i64| mul_div(value, fraction, FRACTION_ONE).saturating_add(next);
        let per_step = up(up(self.cube.saturating_mul(3), self.square.saturating_mul(2)), self.linear);
        mul_div(per_step, 1_000, step.as_micros())
    }

    /// Where the cubic changes sign, by halving. Called only when its ends lie on different sides of zero.
    fn root(&self) -> i64 {
        let upwards = self.constant < 0;
        let (mut low, mut high) = (0, FRACTION_ONE);
        while high - low > 1 {
            let middle = (low + high) / 2;
            if (self.at(middle) < 0) == upwards {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }
}

#[cfg(test)]
mod tests;
