//! The boat on its way to the line: stretch by stretch, flat out.
//!
//! On a stretch it gains speed until the limit, the coasting curve or the end stops it, holds the limit, and coasts
//! to the speed that the next stretch allows. With the engine spooled up each of these is a difference of two table
//! entries; while it spools up, time goes in steps. Beside the time, what it rests on is summed up.
//!
//! Knows curves and spool. Each stretch is rounded to an eighth of a millimetre and a tick of 31 us, downwards.

use super::curves::{Curves, TICKS};
use super::planner::Forecast;
use super::spool::{Spool, Spooling};
use crate::units::{MmPerSecond, Span, mul_div};

/// A step that leads too far is cut so often at most, and until it is too far by less than 2 cm.
const CUTS: usize = 4;
const TOUCH: i32 = 160;

/// What adds up on the way to the line; ticks.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    time: i32,
    by_pull: i32,
    by_bends: i32,
}

/// The boat on its way.
pub(super) struct Run<'a> {
    curves: &'a Curves,
    spool: Spool,
    /// Eighths of a millimetre to the line.
    left: i32,
    pub speed: i32,
    pub open_for: i32,
    /// Whether it is asked what the run rests on.
    pub weigh: bool,
    /// What the lag still took when the run began.
    missing: i32,
    pub sums: Sums,
    free: Free,
    first: Option<First>,
}

/// The first free run, as far as it tells what place, speed and lag are worth.
#[derive(Clone, Copy, Debug)]
struct First {
    end_speed: i32,
    by_speed: i32,
    by_lag_permille: i32,
}

/// What a step of time leads to.
struct Stepped {
    speed: i32,
    way: i32,
}

/// A run without any limit in the way, so far.
#[derive(Clone, Copy, Debug)]
struct Free {
    time: i32,
    way: i32,
    from_speed: i32,
    /// It began at a bend's limit.
    from_bend: bool,
}

impl Sums {
    pub fn add(&mut self, other: &Self) {
        self.time = self.time.saturating_add(other.time);
        self.by_pull = self.by_pull.saturating_add(other.by_pull);
        self.by_bends = self.by_bends.saturating_add(other.by_bends);
    }
}

impl<'a> Run<'a> {
    /// Begins a way to the line: eighths of a millimetre, a speed, and ticks since the throttle was opened.
    pub fn new(curves: &'a Curves, spool: Spool, left: i32, (speed, open_for): (i32, i32)) -> Self {
        Self {
            curves,
            spool,
            left,
            speed,
            open_for,
            weigh: true,
            missing: spool.missing(open_for),
            sums: Sums::default(),
            free: Free { time: 0, way: 0, from_speed: speed, from_bend: false },
            first: None,
        }
    }

    /// The same, from a bend's limit.
    pub const fn out_of_a_bend(mut self) -> Self {
        self.free.from_bend = true;
        self
    }

    /// What it came to.
    pub fn forecast(&self) -> Forecast {
        let nothing = First { end_speed: self.speed, by_speed: 0, by_lag_permille: 0 };
        let first = self.first.unwrap_or(nothing);
        Forecast {
            time: span_of(self.sums.time),
            free_speed: MmPerSecond::from_mm_s(first.end_speed),
            by_speed: span_of(first.by_speed),
            by_pull: span_of(self.sums.by_pull.max(0)),
            by_bends: span_of(self.sums.by_bends.max(0)),
            by_lag_permille: first.by_lag_permille,
        }
    }

    /// One stretch, whose end is `end` before the line.
    pub fn stretch(&mut self, end: i32, limit: i32, exit: i32) {
        if self.speed > limit {
            self.coast_for(self.left - end, limit);
        }
        let most = limit.min(self.curves.top().max(self.speed));
        if !self.spool.is_done(self.open_for) {
            self.spool_up(end, most, exit);
        }
        if self.left > end {
            self.in_closed_form(end, most, exit);
        }
    }

    /// Steps of time while the engine spools up, until it has or something is met.
    ///
    /// A step that would lead beyond a limit, the coasting curve or the stretch's end is cut short in proportion;
    /// what is left of the stretch then is little, or run at a limit.
    fn spool_up(&mut self, end: i32, most: i32, exit: i32) {
        // Farther from the end than this there is nothing to coast for.
        let reserve = self.coast_down(most.min(self.curves.top()).max(self.speed), exit);
        let mut missing = self.spool.missing(self.open_for);
        while self.left > end && self.speed < most && !self.spool.is_done(self.open_for) {
            let spooling = self.spool.next(self.open_for, missing);
            let next = self.stepped(&spooling, missing);
            let left = self.left - end - next.way;
            let slack = if left > reserve { left } else { left - self.coast_down(next.speed, exit) };
            if slack < 0 || next.speed > most {
                return self.meet((end, most, exit), (spooling.step, missing), next);
            }
            self.gain(next.speed, next.way, spooling.step);
            missing = spooling.at_end;
        }
    }

    /// The step that is cut short, until nothing is overrun: the first cut is by the chord, the others mend it.
    fn meet(&mut self, (end, most, exit): (i32, i32, i32), (step, missing): (i32, i32), next: Stepped) {
        let before = (self.left - end - self.coast_down(self.speed, exit)).max(0);
        let (mut cut, mut next) = (step, next);
        for _ in 0..CUTS {
            let slack = self.left - end - next.way - self.coast_down(next.speed, exit);
            let by_slack = if slack < -TOUCH { portion(cut, before, before - slack) } else { cut };
            let by_speed = portion(cut, most - self.speed, next.speed - self.speed);
            let shorter = if next.speed > most { by_slack.min(by_speed) } else { by_slack };
            if shorter == cut {
                break;
            }
            cut = shorter;
            next = self.stepped(&self.spool.over(self.open_for, cut), missing);
        }
        self.gain(next.speed.min(most), next.way.min(self.left - end).max(0), cut);
    }

    /// A step of time: the pull is taken at its middle, the way by Simpson's mean of three speeds.
    ///
    /// No step is longer than half a lag, 2 s, so that a pull times its worth fits 32 bits.
    fn stepped(&self, spooling: &Spooling, missing: i32) -> Stepped {
        let gained = |pull: i32, worth: i32| (pull * worth.max(0)) >> 15;
        let to_middle = spooling.step / 2 - (missing - spooling.at_middle);
        let to_end = spooling.step - (missing - spooling.at_end);
        let middle = self.speed + gained(self.curves.pull(self.speed), to_middle);
        let speed = self.speed + gained(self.curves.pull(middle), to_end);
        // A sixth is 10,923 / 2^16, to 2 in 100,000.
        let mean = (((self.speed + 4 * middle + speed) >> 4) * 10_923) >> 12;
        // mm/s * 2^-15 s * 8 eighths.
        Stepped { speed, way: ((i64::from(mean) * i64::from(spooling.step)) >> 12) as i32 }
    }

    /// The rest of a stretch, engine spooled up or a limit met: gain, hold, coast.
    fn in_closed_form(&mut self, end: i32, most: i32, exit: i32) {
        let left = self.left - end;
        if self.coast_down(self.speed, exit) >= left {
            return self.coast_for(left, exit.min(self.speed));
        }
        let begin = self.curves.gain_way(self.speed);
        let peak = self.peak(begin.saturating_add(left), most, exit);
        let gained = self.curves.gain_way(peak) - begin;
        let down = self.coast_down(peak, exit);
        let time = self.curves.gain_time(peak) - self.curves.gain_time(self.speed);
        // What the peak's rounding leaves over or takes too much is run at the peak.
        let over = left - gained - down;
        if peak < most && down == 0 {
            return self.gain(peak, left, time + ticks_over(over, peak));
        }
        self.gain(peak, gained, time);
        self.hold(over, peak >= self.curves.top());
        if down > 0 {
            self.coast(self.left - end, exit);
        }
        self.left = end;
    }

    /// The fastest that the boat gets on the rest of a stretch, whose end lies `whole` from rest, flat out.
    fn peak(&self, whole: i32, most: i32, exit: i32) -> i32 {
        if self.speed >= most {
            return self.speed;
        }
        let free = most.min(exit.max(self.speed));
        if self.curves.gain_way(free) >= whole {
            return self.curves.speed_after_gain(whole, self.speed, free);
        }
        if free == most {
            return most;
        }
        let whole = whole.saturating_add(self.curves.coast_way(exit));
        if self.curves.gain_way(most) + self.curves.coast_way(most) <= whole {
            return most;
        }
        self.curves.speed_of_peak(whole, free, most)
    }

    /// The way of coasting from a speed to the one allowed at the end.
    fn coast_down(&self, speed: i32, exit: i32) -> i32 {
        if speed <= exit { 0 } else { self.curves.coast_way(speed) - self.curves.coast_way(exit) }
    }

    fn gain(&mut self, speed: i32, way: i32, time: i32) {
        self.pass(way, time);
        self.free.time = self.free.time.saturating_add(time);
        self.free.way = self.free.way.saturating_add(way);
        self.speed = speed;
    }

    /// Keeps its speed for a way; a negative one takes back what was too much.
    fn hold(&mut self, way: i32, at_top: bool) {
        self.close();
        let time = ticks_over(way, self.speed);
        self.pass(way, time);
        // Scaled by a half, top speed goes with the root of the pull.
        let (by_pull, by_bends) = if at_top { (time / 2, 0) } else { (0, time) };
        self.sums.add(&Sums { time: 0, by_pull, by_bends });
    }

    /// Coasts down to a speed, or as far as the way goes.
    fn coast_for(&mut self, most: i32, down_to: i32) {
        let (from, to) = (self.curves.coast_way(self.speed), self.curves.coast_way(down_to));
        if from - to <= most {
            return self.coast(from - to, down_to);
        }
        self.coast(most, self.curves.speed_of_coast_way(from - most, down_to, self.speed));
    }

    fn coast(&mut self, way: i32, to: i32) {
        self.close();
        let time = self.curves.coast_time(self.speed) - self.curves.coast_time(to);
        self.pass(way, time);
        self.sums.add(&Sums { time: 0, by_pull: 0, by_bends: time });
        self.speed = to;
        self.free.from_speed = to;
    }

    fn pass(&mut self, way: i32, time: i32) {
        self.left -= way;
        self.sums.add(&Sums { time, by_pull: 0, by_bends: 0 });
        self.open_for = (self.open_for.saturating_add(time)).min(self.spool.done());
    }

    /// The free run ends here: what it is worth.
    ///
    /// Scaling all times of a run by one factor shows that a pull greater by a share p takes p (t - way / v) off
    /// its time, less what a lag greater by the same share adds; `v` is the speed at its end.
    pub fn close(&mut self) {
        let free = core::mem::replace(
            &mut self.free,
            Free { time: 0, way: 0, from_speed: self.speed, from_bend: true },
        );
        let mut first = First { end_speed: self.speed, by_speed: 0, by_lag_permille: 0 };
        if self.weigh && free.time > 0 {
            first.by_speed = self.by_speed(&free);
            first.by_lag_permille = if self.first.is_none() { self.by_lag_permille(&free) } else { 0 };
            let by_lag = (self.spool.lag() * first.by_lag_permille) / 1_000;
            let gained = free.time - ticks_over(free.way, self.speed).min(free.time);
            let by_bends = if free.from_bend { first.by_speed } else { 0 };
            self.sums.add(&Sums { time: 0, by_pull: (gained - by_lag).max(0), by_bends });
        }
        self.first = self.first.or(Some(first));
    }

    /// The speed u that a free run begins with, by its whole self: u ((1 - u / v) / pull + what the lag takes / v).
    ///
    /// Without a lag this is exact; a run shorter than the lag is worth no more than t u / v.
    fn by_speed(&self, free: &Free) -> i32 {
        // Speeds up to 2^17 mm/s; 1,024ths of their ratio are fine enough for an error bar.
        let (from, to) = (free.from_speed, self.speed.max(free.from_speed).max(1));
        let share = (from << 10) / to;
        let seconds = ((to - from) << 10) / self.curves.pull(from).max(1);
        let lag = if free.from_bend { 0 } else { self.missing };
        // 1,024ths of a second are 2^5 ticks.
        let worth = seconds.min(1 << 20).saturating_mul(32).saturating_add(lag).min(free.time);
        ((i64::from(worth) * i64::from(share)) >> 10) as i32
    }

    /// What comes through of a longer lag.
    ///
    /// At constant pull the boat loses pull (t - 2 m + 2 n + t n / lag) of way for each unit of lag, and has gained
    /// pull (t - m + n) of speed; m and n are what the lag still took at the run's beginning and end.
    fn by_lag_permille(&self, free: &Free) -> i32 {
        // In units of 2^5 ticks, so that products of two times fit 32 bits.
        let [lag, time, begin, end] =
            [self.spool.lag(), free.time.min(1 << 20), self.missing, self.spool.missing(self.open_for)]
                .map(|t| t >> 5);
        if lag <= 0 || self.speed <= free.from_speed {
            return 0;
        }
        let way = time - 2 * begin + 2 * end + time * end / lag;
        let speed = (time - begin + end).max(1);
        let gained = (self.speed - free.from_speed) * 1_000 / self.speed.max(1);
        (gained * begin / lag * way.max(0) / speed).clamp(0, 1_000)
    }
}

/// The time that a way takes at a speed; ticks. A boat at rest counts as one at 1 mm/s.
fn ticks_over(way: i32, speed: i32) -> i32 {
    let speed = speed.max(1);
    // Up to 65 m a division of 32 bits does, at a fraction of the cost.
    if way.unsigned_abs() < 1 << 19 {
        return (way << 12) / speed;
    }
    i32::try_from((i64::from(way) << 12) / i64::from(speed)).unwrap_or(i32::MAX >> 2)
}

/// `whole * part / of`, of a part that is less than the whole of it.
fn portion(whole: i32, part: i32, of: i32) -> i32 {
    if of <= 0 { whole } else { ((i64::from(whole) * i64::from(part)) / i64::from(of)) as i32 }
}

/// Ticks as a span.
pub(super) fn span_of(ticks: i32) -> Span {
    Span::from_micros(mul_div(i64::from(ticks), 1_000_000, TICKS))
}
