//! The board's clock against UTC, seen from afterwards: every pulse and every arrival of a whole life at once.
//!
//! The dash must decide with what has come so far; this looks at both sides of each moment. Written from the law book
//! alone (rules T1 to T7), in floating point, sharing no code with the dash's own timebase.
//!
//! Steps of a record in; the way from the board's clock to UTC out. Seconds throughout: of the board's clock, and of
//! the receiver's labels since 1970, kept in one piece where they jump.

use firmware::input::Input;
use firmware::settings::Settings;

use super::super::record::Step;

/// Half of the minute over which arrivals are looked through.
const AROUND_S: f64 = 30.0;

/// A pulse further than this from where its neighbours put it is none.
const STRAY_S: f64 = 0.001;

/// A stamp's own error, and what a measured crystal may be off and wander (rule T6).
const STAMP_S: f64 = 2e-6;
const RATE: f64 = 1e-7;
const WANDER_PER_S: f64 = 3e-9;

/// A moment, in seconds, and one standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Seconds.
    pub s: f64,
    /// One standard deviation.
    pub sigma_s: f64,
}

/// A fix whose label was believed.
#[derive(Clone, Copy, Debug)]
pub struct Labelled {
    /// Which step of the life it is.
    pub step: usize,
    /// Its moment on the labels' scale, kept in one piece.
    pub utc_s: f64,
}

/// What ties one life's clock to UTC.
#[derive(Clone, Debug, Default)]
pub struct Tie {
    /// Pulses: on the board's clock, and the second that each began.
    pulses: Vec<(f64, f64)>,
    /// Arrivals of fixes: on the board's clock, and by how much that is ahead of UTC.
    arrivals: Vec<(f64, f64)>,
    /// The fixes that can be used.
    pub fixes: Vec<Labelled>,
    /// What was added to the labels in the end.
    pub relabel_s: f64,
    latency_s: f64,
    latency_sd_s: f64,
    crystal_sd: f64,
}

impl Tie {
    /// Looks through a life; labels begin with `relabel_s` added to them.
    #[must_use]
    pub fn of(steps: &[Step], settings: &Settings, relabel_s: f64) -> Self {
        let receiver = &settings.timebase;
        let mut tie = Self {
            relabel_s,
            latency_s: micros(receiver.latency.as_micros()),
            latency_sd_s: micros(receiver.latency_sd.as_micros()),
            crystal_sd: receiver.crystal_sd.as_ppb() as f64 * 1e-9,
            ..Self::default()
        };
        tie.take_labels(steps);
        tie.take_pulses(steps);
        tie
    }

    /// True when nothing tells UTC.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.arrivals.is_empty()
    }

    /// Pulses used.
    #[must_use]
    pub fn pulses(&self) -> usize {
        self.pulses.len()
    }

    /// The crystal's error in parts per million, over all pulses.
    #[must_use]
    pub fn drift_ppm(&self) -> Option<f64> {
        let ((b0, u0), (b1, u1)) = (self.pulses.first()?, self.pulses.last()?);
        (u1 - u0 >= 4.0).then(|| ((b1 - b0) / (u1 - u0) - 1.0) * 1e6)
    }

    /// Labels that jump by whole seconds are put back into one piece once three alike have come; until then, and when a
    /// burst comes late, they are passed over (rule T7).
    fn take_labels(&mut self, steps: &[Step]) {
        let (mut odd, mut newest): (Vec<(f64, f64, f64)>, f64) = (Vec::new(), f64::NEG_INFINITY);
        for (number, step) in steps.iter().enumerate() {
            let Input::Fix(fix) = step.input else { continue };
            if !fix.valid {
                continue;
            }
            let (board, label) = (micros(step.at.as_micros() as i64), micros(fix.utc.as_unix_micros()));
            let mut utc = label + self.relabel_s;
            let late = self.offset_before(board).map_or(0.0, |offset| board - utc - offset);
            let by = (late + 0.05).floor();
            if by != 0.0 {
                odd.retain(|(other, ..)| *other == by);
                let is_burst =
                    |(_, b, l): &(f64, f64, f64)| ((board - b) - (label - l)).abs() > 0.5 * (label - l).abs();
                if odd.last().is_some_and(is_burst) {
                    odd.clear();
                }
                odd.push((by, board, label));
                if odd.len() < 3 {
                    continue;
                }
                self.relabel_s += by;
                utc = label + self.relabel_s;
            }
            odd.clear();
            self.arrivals.push((board, board - utc));
            if utc > newest {
                newest = utc;
                self.fixes.push(Labelled { step: number, utc_s: utc });
            }
        }
    }

    /// By how much the board's clock is ahead of UTC, as arrivals up to a moment have it.
    fn offset_before(&self, board: f64) -> Option<f64> {
        let recent = self.arrivals.iter().rev().take_while(|(at, _)| board - at < 2.0 * AROUND_S);
        let least = recent.map(|(_, offset)| *offset).fold(f64::INFINITY, f64::min);
        if least.is_finite() {
            return Some(least - self.latency_s);
        }
        self.arrivals.last().map(|(_, offset)| offset - self.latency_s)
    }

    /// The same, with arrivals from both sides of the moment.
    fn offset_around(&self, board: f64) -> Option<f64> {
        let (first, last) = (self.arrivals.first()?.0, self.arrivals.last()?.0);
        let middle = board.clamp(first, last);
        let from = self.arrivals.partition_point(|(at, _)| *at < middle - AROUND_S);
        let near = self.arrivals.get(from..)?.iter().take_while(|(at, _)| *at <= middle + AROUND_S);
        Some(near.map(|(_, offset)| *offset).fold(f64::INFINITY, f64::min) - self.latency_s)
    }

    fn take_pulses(&mut self, steps: &[Step]) {
        let seen = steps.iter().filter(|step| matches!(step.input, Input::Pps));
        let seen: Vec<f64> = seen.map(|step| micros(step.at.as_micros() as i64)).collect();
        let named: Vec<(f64, f64)> =
            seen.into_iter().filter_map(|at| Some((at, (at - self.offset_around(at)?).round()))).collect();
        for (place, &(at, second)) in named.iter().enumerate() {
            let from = place.saturating_sub(5);
            let near = named.get(from..named.len().min(place + 6)).unwrap_or_default();
            let mut ahead: Vec<f64> = near.iter().map(|(at, second)| at - second).collect();
            ahead.sort_by(f64::total_cmp);
            let middle = ahead.get(ahead.len() / 2).copied().unwrap_or(at - second);
            let is_new = self.pulses.last().is_none_or(|(_, last)| second > *last);
            if (at - second - middle).abs() < STRAY_S && is_new {
                self.pulses.push((at, second));
            }
        }
    }

    /// The moment in UTC of a moment on the board's clock. Without any tie the board's clock itself.
    #[must_use]
    pub fn utc(&self, board_s: f64) -> Moment {
        if let Some(line) = self.pulses_around(board_s, |pulse| pulse.0) {
            let ((b0, u0), (b1, u1)) = line;
            let s = u0 + (board_s - b0) * (u1 - u0) / (b1 - b0);
            return Moment { s, sigma_s: self.held_over(board_s) };
        }
        match self.offset_around(board_s) {
            Some(offset) => Moment { s: board_s - offset, sigma_s: self.by_arrivals(board_s) },
            None => Moment { s: board_s, sigma_s: 0.0 },
        }
    }

    /// The moment on the board's clock of a moment in UTC.
    #[must_use]
    pub fn board(&self, utc_s: f64) -> f64 {
        if let Some(((b0, u0), (b1, u1))) = self.pulses_around(utc_s, |pulse| pulse.1) {
            return b0 + (utc_s - u0) * (b1 - b0) / (u1 - u0);
        }
        let guess = utc_s + self.offset_around(f64::MAX).unwrap_or_default();
        utc_s + self.offset_around(guess).unwrap_or_default()
    }

    /// The two pulses between which a moment lies; outside of all, the ends of the nearest 64.
    fn pulses_around(&self, s: f64, scale: fn(&(f64, f64)) -> f64) -> Option<((f64, f64), (f64, f64))> {
        let last = self.pulses.len().checked_sub(1).filter(|last| *last >= 1)?;
        let after = self.pulses.partition_point(|pulse| scale(pulse) < s);
        let (from, to) = match after {
            0 => (0, last.min(63)),
            after if after > last => (last.saturating_sub(63), last),
            after => (after - 1, after),
        };
        self.pulses.get(from).copied().zip(self.pulses.get(to).copied())
    }

    /// One standard deviation with pulses: that of a stamp, and what the crystal may have done since the nearest.
    fn held_over(&self, board_s: f64) -> f64 {
        let after = self.pulses.partition_point(|pulse| pulse.0 < board_s);
        let sides = [after.checked_sub(1), Some(after)];
        let near = sides.into_iter().flatten().filter_map(|place| self.pulses.get(place));
        let away = near.map(|pulse| (pulse.0 - board_s).abs()).fold(f64::INFINITY, f64::min);
        STAMP_S.hypot(RATE * away).hypot(0.5 * WANDER_PER_S * away * away)
    }

    fn by_arrivals(&self, board_s: f64) -> f64 {
        let ends = self.arrivals.first().zip(self.arrivals.last());
        let beyond = ends.map_or(0.0, |(first, last)| (first.0 - board_s).max(board_s - last.0).max(0.0));
        self.latency_sd_s.hypot(self.crystal_sd * beyond)
    }
}

/// Microseconds as seconds.
#[must_use]
pub fn micros(us: i64) -> f64 {
    us as f64 / 1e6
}
