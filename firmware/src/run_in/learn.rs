//! Learning the boat: its pull and its bend speed from hot laps, and how good the forecasts were.
//!
//! A pull is measured from edge to edge of a band of speeds, 8 m/s wide, and only where the speed never fell on
//! the way and the engine had spooled up three lags before: one figure a band and run. A bend gives the mean speed
//! through it, which is what its time depends on, if he came to it faster than it allows: who mills through it shows
//! nothing of what it allows. Of all figures of a kind the third largest counts: what was sustained at least three times, whatever was tried more gently
//! besides, and whatever two freak readings say. A proposal is made of it; the driver accepts it or not.
//!
//! Each forecast that came to a crossing is held against it: bias and spread of the last eight.
//!
//! Knows the boat's figures. Speeds in, a proposal out.

use heapless::Vec;
use serde::{Deserialize, Serialize};

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

/// A bend counts when he came to it with at least so much of what it allows by the figures in force, thousandths.
const CAME_PERMILLE: i64 = 1_100;

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

/// What the driver is asked: what a proposal would change, and how good the forecasts were with what is in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Offer {
    /// The mean pull over the bands that were measured, by the figures in force.
    pub pull_now_mm_s2: u16,
    /// The same as it was measured.
    pub pull_learned_mm_s2: u16,
    /// The speed in the lane's tightest bend, by the figures in force.
    pub bend_now: MmPerSecond,
    /// The same as it was measured; as before where no bend was measured.
    pub bend_learned: MmPerSecond,
    /// How many forecasts came to a crossing; without any the next two are nothing.
    pub forecasts: u8,
    /// Forecast less truth, the mean.
    pub bias_ms: i16,
    /// Root mean square about the mean.
    pub spread_ms: u16,
}

/// A bend that is being run: since when, its limit, and the speeds at its fixes.
#[derive(Clone, Copy, Debug)]
struct Bend {
    since: Utc,
    limit: i32,
    sum: i64,
    fixes: i64,
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
    /// The bend that is being run.
    bend: Option<Bend>,
    /// The highest speed since the bend before.
    came: i32,
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
        // Three lags from the throttle's opening; when half of the pull shows that he goes, ln 2 of them are over.
        let spooling = Span::from_micros(mul_div(lag.as_micros(), 2_307, 1_000));
        let spooled = |since: Utc| self.held.is_none_or(|held| since.since(held) >= spooling);
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
        let limit = (limit != MmPerSecond::MAX).then(|| limit.as_mm_s());
        if let Some(bend) = self.bend.as_mut().filter(|bend| limit == Some(bend.limit)) {
            bend.sum += i64::from(speed);
            bend.fixes += 1;
            return;
        }
        if let Some(bend) = self.bend.take() {
            let fast = i64::from(self.came) * 1_000 >= i64::from(bend.limit) * CAME_PERMILLE;
            if fast && at.since(bend.since) >= BEND_LEAST {
                let share = mul_div(bend.sum, 1_000, i64::from(bend.limit) * bend.fixes.max(1));
                self.bends.add(i32::try_from(share).unwrap_or(0));
            }
            self.came = 0;
        }
        self.came = self.came.max(speed);
        self.bend = limit.map(|limit| Bend { since: at, limit, sum: i64::from(speed), fixes: 1 });
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

    /// The proposal in a few figures; `bend` is the speed in the tightest bend by the figures in force.
    #[must_use]
    pub fn offer(&self, in_force: &BoatModel, bend: MmPerSecond) -> Option<Offer> {
        let measured = || {
            let bands = self.pulls.iter().enumerate();
            bands.filter_map(|(band, kept)| Some((expected(band, in_force), kept.sustained()?)))
        };
        let count = i64::try_from(measured().count()).ok().filter(|count| *count >= BANDS_LEAST as i64)?;
        let mean = |sum: i64| u16::try_from(mul_div(sum, 1, count)).unwrap_or(u16::MAX);
        let share = i64::from(self.bends.sustained().unwrap_or(1_000));
        let learned = mul_div(i64::from(bend.as_mm_s()), share, 1_000);
        let record = self.track_record();
        let ms = |span: Span| mul_div(span.as_micros(), 1, 1_000);
        let bias = record.map_or(0, |record| ms(record.bias)).clamp(i64::from(i16::MIN), i64::from(i16::MAX));
        Some(Offer {
            pull_now_mm_s2: mean(measured().map(|(now, _)| i64::from(now)).sum()),
            pull_learned_mm_s2: mean(measured().map(|(_, learned)| i64::from(learned)).sum()),
            bend_now: bend,
            bend_learned: MmPerSecond::from_mm_s(i32::try_from(learned).unwrap_or(i32::MAX)),
            forecasts: record.map_or(0, |record| record.count),
            bias_ms: i16::try_from(bias).unwrap_or(0),
            spread_ms: record.map_or(0, |record| u16::try_from(ms(record.spread)).unwrap_or(u16::MAX)),
        })
    }

    /// The pull in the middle of a band: measured, or as the nearest measured band suggests.
    fn pull_at(&self, band: usize, in_force: &BoatModel) -> Option<i32> {
        let expected = |band: usize| expected(band, in_force);
        let nearest = (0..BANDS)
            .filter_map(|other| Some((other, self.pulls.get(other)?.sustained()?)))
            .min_by_key(|(other, _)| other.abs_diff(band))?;
        let grown = mul_div(i64::from(expected(band)), i64::from(nearest.1), i64::from(expected(nearest.0)));
        i32::try_from(grown).ok()
    }
}

/// The pull in the middle of a band by given figures.
fn expected(band: usize, boat: &BoatModel) -> i32 {
    let speed = BAND * i32::try_from(band).unwrap_or(0) + BAND / 2;
    boat.acceleration_mm_s2(MmPerSecond::from_mm_s(speed)).max(1)
}
