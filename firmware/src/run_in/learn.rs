//! Learning the boat: its pull and its bend speed from hot laps, and how good the forecasts were.
//!
//! A pull is measured from edge to edge of a band of speeds, 8 m/s wide, and only where the speed never fell on
//! the way and the engine had spooled up three lags before: one figure a band and run. Bends give the least speed that was held through each. Of all figures of
//! a kind the third largest counts: what was sustained at least three times, whatever was tried more gently
//! besides, and whatever two freak readings say. A proposal is made of it; the driver accepts it or not.
//!
//! Each forecast that came to a crossing is held against it: bias and spread of the last eight.
//!
//! Knows the boat's figures. Speeds in, a proposal out.

use heapless::Vec;

use super::boat::{BoatModel, Pull, SPEED_MAX};
use crate::units::{MmPerSecond, Span, Utc, mul_div, root};

/// How wide a band of speeds is, mm/s.
const BAND: i32 = 8_000;

/// Bands from rest to 88 m/s; with the top speed they fill the boat's table.
const BANDS: usize = 11;

/// A speed that falls by more than this ends a pull: ten times a receiver's noise.
const FELL: i32 = 500;

/// Fewer measured bands make no proposal.
const BANDS_LEAST: usize = 2;

/// A bend run through in less than this says nothing.
const BEND_LEAST: Span = Span::from_secs(2);

/// Forecasts that are remembered.
const FORECASTS: usize = 8;

/// The largest figures of a kind, falling.
#[derive(Clone, Debug, Default)]
struct Largest(Vec<i32, 3>);

impl Largest {
    fn add(&mut self, figure: i32) {
        let place = self.0.partition_point(|kept| *kept >= figure);
        if self.0.is_full() && place < self.0.len() {
            self.0.pop();
        }
        // Full of larger ones: it does not count.
        let _ = self.0.insert(place, figure);
    }

    /// The third largest, once there are three.
    fn sustained(&self) -> Option<i32> {
        self.0.last().copied().filter(|_| self.0.is_full())
    }
}

/// How good the forecasts were: forecast less truth, so that less than nothing is a boat that came later.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TrackRecord {
    /// How many crossings it rests on.
    pub count: u8,
    /// The mean.
    pub bias: Span,
    /// Root mean square about the mean; nothing for a single one.
    pub spread: Span,
}

/// What has been seen of the boat.
#[derive(Clone, Debug, Default)]
pub struct Learner {
    last: Option<(Utc, i32)>,
    /// When he last was not going flat out.
    held: Option<Utc>,
    /// The band's edge that was passed last, and when; and the highest speed since.
    edge: Option<(i32, Utc)>,
    highest: i32,
    pulls: [Largest; BANDS],
    /// The bend that is being run: since when, its limit, the least speed.
    bend: Option<(Utc, i32, i32)>,
    /// Speed held in bends over its limit, thousandths.
    bends: Largest,
    fastest: i32,
    errors: Vec<i64, FORECASTS>,
}

impl Learner {
    /// A fix on the lane; `limit` is the speed limit there, `going` says that he goes flat out, and `lag` is the
    /// engine's: a pull counts only once the engine has spooled up.
    pub fn fix(&mut self, at: Utc, speed: MmPerSecond, limit: MmPerSecond, going: bool, lag: Span) {
        let speed = speed.as_mm_s().clamp(0, SPEED_MAX.as_mm_s());
        if !going {
            self.held = Some(at);
        }
        self.fastest = self.fastest.max(speed);
        if let Some((before, from)) = self.last {
            self.pull((before, from), (at, speed), lag);
        }
        self.in_bend(at, speed, limit);
        self.last = Some((at, speed));
    }

    /// Off course, or no fix: what was being measured is void.
    pub fn interrupted(&mut self) {
        (self.last, self.edge, self.bend) = (None, None, None);
    }

    fn pull(&mut self, (before, from): (Utc, i32), (at, speed): (Utc, i32), lag: Span) {
        self.highest = self.highest.max(speed);
        if speed < self.highest - FELL {
            (self.edge, self.highest) = (None, speed);
            return;
        }
        let edge = speed / BAND * BAND;
        if speed <= from || edge <= from {
            return;
        }
        let step = at.since(before).as_micros();
        let passed =
            before.plus(Span::from_micros(mul_div(step, i64::from(edge - from), i64::from(speed - from))));
        let since = self.edge.replace((edge, passed)).filter(|(last, _)| *last + BAND == edge);
        let spooled = |since: Utc| self.held.is_none_or(|held| since.since(held) >= lag + lag + lag);
        if let Some((_, since)) = since.filter(|(_, since)| spooled(*since)) {
            let took = passed.since(since).as_micros();
            let pull = mul_div(i64::from(BAND), 1_000_000, took);
            let band = usize::try_from(edge / BAND - 1).unwrap_or(BANDS);
            if let (Some(kept), Ok(pull)) = (self.pulls.get_mut(band), i32::try_from(pull)) {
                kept.add(pull);
            }
        }
    }

    fn in_bend(&mut self, at: Utc, speed: i32, limit: MmPerSecond) {
        let bend = (limit != MmPerSecond::MAX).then(|| limit.as_mm_s());
        match (self.bend, bend) {
            (Some((since, in_bend, least)), Some(limit)) if in_bend == limit => {
                self.bend = Some((since, limit, least.min(speed)));
            }
            (was, now) => {
                if let Some((_, limit, least)) = was.filter(|(since, ..)| at.since(*since) >= BEND_LEAST) {
                    let share = mul_div(i64::from(least), 1_000, i64::from(limit));
                    self.bends.add(i32::try_from(share).unwrap_or(0));
                }
                self.bend = now.map(|limit| (at, limit, speed));
            }
        }
    }

    /// A forecast came to its crossing.
    pub fn crossed(&mut self, forecast: Utc, truth: Utc) {
        if self.errors.is_full() {
            self.errors.remove(0);
        }
        let _ = self.errors.push(forecast.since(truth).as_micros());
    }

    /// How good the forecasts were, once there was one.
    #[must_use]
    pub fn track_record(&self) -> Option<TrackRecord> {
        let count = i64::try_from(self.errors.len()).ok().filter(|count| *count > 0)?;
        let bias = mul_div(self.errors.iter().sum(), 1, count);
        let square = |error: &i64| u128::from(error.abs_diff(bias)).pow(2);
        let mean: u128 = self.errors.iter().map(square).sum::<u128>() / u128::from(count.unsigned_abs());
        Some(TrackRecord {
            count: u8::try_from(count).unwrap_or(u8::MAX),
            bias: Span::from_micros(bias),
            spread: Span::from_micros(root(mean)),
        })
    }

    /// The boat as it was seen, where two bands of speed or more were; elsewhere the figures in force, grown
    /// or shrunk like those of the nearest band that was measured.
    #[must_use]
    pub fn proposal(&self, in_force: &BoatModel) -> Option<BoatModel> {
        let measured = self.pulls.iter().filter(|band| band.sustained().is_some()).count();
        if measured < BANDS_LEAST {
            return None;
        }
        let mut boat = in_force.clone();
        boat.pulls.clear();
        for band in 0..BANDS {
            let speed = MmPerSecond::from_mm_s(BAND * i32::try_from(band).unwrap_or(0) + BAND / 2);
            let acceleration_mm_s2 = self.pull_at(band, in_force)?.clamp(100, 20_000);
            boat.pulls.push(Pull { speed, acceleration_mm_s2 }).ok()?;
        }
        let top = in_force.top_speed().as_mm_s().max(self.fastest + 1_000).min(SPEED_MAX.as_mm_s());
        let top = MmPerSecond::from_mm_s(top.max(BAND * BANDS as i32));
        boat.pulls.push(Pull { speed: top, acceleration_mm_s2: 0 }).ok()?;
        if let Some(share) = self.bends.sustained() {
            let share = i64::from(share);
            let bend = mul_div(i64::from(in_force.bend_mm_s2) * share, share, 1_000_000);
            boat.bend_mm_s2 = i32::try_from(bend).unwrap_or(in_force.bend_mm_s2).clamp(1_000, 50_000);
        }
        boat.demonstration = false;
        Some(boat)
    }

    /// The pull in the middle of a band: measured, or as the nearest measured band suggests.
    fn pull_at(&self, band: usize, in_force: &BoatModel) -> Option<i32> {
        let expected = |band: usize| {
            let speed = BAND * i32::try_from(band).unwrap_or(0) + BAND / 2;
            in_force.acceleration_mm_s2(MmPerSecond::from_mm_s(speed)).max(1)
        };
        let nearest = (0..BANDS)
            .filter_map(|other| Some((other, self.pulls.get(other)?.sustained()?)))
            .min_by_key(|(other, _)| other.abs_diff(band))?;
        let grown = mul_div(i64::from(expected(band)), i64::from(nearest.1), i64::from(expected(nearest.0)));
        i32::try_from(grown).ok()
    }
}
