//! The earliest crossing: flat out from here, when is the bow at the line?
//!
//! The lane is a chain of stretches, each with a speed limit: bends and straights. Backwards from stretch to
//! stretch, once, goes what each allows at its beginning: its own limit, or less when the next one has to be
//! reached by coasting. Forwards goes the boat, stretch by stretch (see `flat_out`).
//!
//! The engine spools up from the moment the throttle is opened, whatever the speed. Once it has, a boat that
//! enters a stretch as fast as it may has a known time to the line, kept from the beginning. So the cost is
//! bounded, and small.
//!
//! What is taken for granted: he holds a bend's limit and opens the throttle so early that the engine answers
//! at the bend's end. A boat that is faster than its figures allow coasts until it is not.
//!
//! Knows curves, spool and the run itself. A place and a speed in, a forecast out.

use heapless::Vec;

use super::boat::{BoatModel, SPEED_MAX};
use super::curves::{Curves, EIGHTHS};
use super::flat_out::{Run, Sums, span_of};
use super::lane::{BENDS_MAX, CUT_BENDS_MAX};
use super::spool::{Spool, ticks_of};
use crate::units::{Millimetres, MmPerSecond, Span};

/// The most stretches of a lane: each bend and the straight after it, and one that the line cuts in two.
pub const STRETCHES_MAX: usize = 2 * (BENDS_MAX + CUT_BENDS_MAX) + 1;

/// A piece of the lane with one speed limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Its length along the lane.
    pub length: Millimetres,
    /// The fastest speed on it; [`MmPerSecond::MAX`] on a straight.
    pub limit: MmPerSecond,
}

/// Where the boat is and what it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// From the bow along the lane to the line.
    pub to_line: Millimetres,
    /// Along the lane.
    pub speed: MmPerSecond,
    /// How long the throttle has been wide open.
    pub open_for: Span,
}

/// What comes of going flat out, and what that rests on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Forecast {
    /// Until the bow is at the line.
    pub time: Span,
    /// The speed at the end of the first free run: where the boat first meets a limit, or the line.
    ///
    /// A metre of way is worth one over this, in time.
    pub free_speed: MmPerSecond,
    /// What a speed that is greater by its whole self would save, to first order.
    pub by_speed: Span,
    /// What a pull that is greater by its whole self would save, likewise.
    pub by_pull: Span,
    /// What bends that are faster by their whole selves would save, likewise.
    pub by_bends: Span,
    /// How much of a longer lag comes through to the line, thousandths.
    pub by_lag_permille: i32,
}

/// A lane and a boat, made ready.
#[derive(Clone, Debug)]
pub struct Planner {
    curves: Curves,
    spool: Spool,
    reaches: Vec<Reach, STRETCHES_MAX>,
    /// Once round, eighths of a millimetre.
    lap: i32,
}

/// A stretch, made ready; the first begins at the line, the last ends there.
#[derive(Clone, Copy, Debug)]
struct Reach {
    /// Way to the line from its end, eighths of a millimetre.
    end: i32,
    limit: i32,
    /// The fastest that a boat may enter it.
    entry: i32,
    /// From its beginning to the line, when entered so with the engine spooled up.
    rest: Sums,
}

impl Planner {
    /// Prepares a lane; its first stretch begins at the line, its last ends there, and they follow each other
    /// round and round. More than [`STRETCHES_MAX`] or no way at all make no planner.
    #[must_use]
    pub fn new(stretches: &[Stretch], boat: &BoatModel) -> Option<Self> {
        let mut planner = Self::blank();
        planner.prepare(stretches, boat, None)?;
        Some(planner)
    }

    /// A planner of no lane yet.
    pub(super) const fn blank() -> Self {
        Self { curves: Curves::blank(), spool: Spool::NONE, reaches: Vec::new(), lap: 0 }
    }

    /// The same as [`Planner::new`], where the planner stands, because it is large. Another lane's planner of the same boat
    /// has its curves already: to draw them is most of the work.
    pub(super) fn prepare(
        &mut self,
        stretches: &[Stretch],
        boat: &BoatModel,
        same_boat: Option<&Self>,
    ) -> Option<()> {
        self.lap = reach_back(stretches, &mut self.reaches)?;
        match same_boat {
            Some(drawn) => self.curves.clone_from(&drawn.curves),
            None => self.curves.draw(boat),
        }
        self.spool = Spool::new(boat.lag);
        self.look_back();
        self.look_ahead();
        Some(())
    }

    /// Whether stretches make a planner.
    pub(super) fn fits(stretches: &[Stretch]) -> bool {
        reach_back(stretches, &mut Vec::new()).is_some()
    }

    /// Once round.
    #[must_use]
    pub const fn lap(&self) -> Millimetres {
        Millimetres::from_mm((self.lap / EIGHTHS) as i64)
    }

    /// Flat-out acceleration at a speed with the engine spooled up, mm/s^2.
    #[must_use]
    pub fn pull_mm_s2(&self, speed: MmPerSecond) -> i32 {
        self.curves.pull(speed.as_mm_s())
    }

    /// How long the throttle must have been open for a share of the full pull, in thousandths.
    #[must_use]
    pub fn open_for(&self, share_permille: i32) -> Span {
        span_of(self.spool.open_for(share_permille))
    }

    /// A boat that loses speed, by a share of the full pull, below nothing and in thousandths: how long after the throttle is opened
    /// it still does, and what it has lost then, as time at full pull.
    ///
    /// The gap 1 - share closes by exp(-t / lag), so it is one after lag x ln(1 - share).
    #[must_use]
    pub fn idle(&self, share_permille: i32) -> (Span, Span) {
        let (idle, loss) = self.spool.idle(share_permille);
        (span_of(idle), span_of(loss))
    }

    /// The fastest steady speed from a place to the line.
    #[must_use]
    pub fn slowest(&self, to_line: Millimetres) -> MmPerSecond {
        let ahead = self.reaches.iter().filter(|reach| i64::from(reach.end) < to_line.as_mm() * 8);
        let limit = ahead.map(|reach| reach.limit).min().unwrap_or(0);
        MmPerSecond::from_mm_s(limit.min(self.curves.top()))
    }

    /// Flat out from here: when is the bow at the line, and what does that rest on?
    #[must_use]
    pub fn forecast(&self, standing: &Standing) -> Forecast {
        self.flat_out(standing, true)
    }

    /// The same without what it rests on: time and free speed alone, for less.
    #[must_use]
    pub fn crossing(&self, standing: &Standing) -> Forecast {
        self.flat_out(standing, false)
    }

    fn flat_out(&self, standing: &Standing, weigh: bool) -> Forecast {
        let left = standing.to_line.as_mm().min(self.lap().as_mm()).max(0);
        let left = i32::try_from(left).unwrap_or(0) * EIGHTHS;
        let speed = standing.speed.as_mm_s().clamp(0, SPEED_MAX.as_mm_s());
        let open_for = ticks_of(standing.open_for).min(i64::from(self.spool.done())).max(0);
        let mut run = self.run(left, speed, i32::try_from(open_for).unwrap_or(0));
        run.weigh = weigh;
        let first = self.reaches.partition_point(|reach| reach.end >= left);
        self.finish(&mut run, first);
        run.forecast()
    }

    /// The fastest that the boat may leave a stretch: as fast as it may enter the next.
    fn exit(&self, place: usize) -> i32 {
        self.reaches.get(place + 1).or(self.reaches.first()).map_or(0, |reach| reach.entry)
    }

    /// Backwards, twice round, so that the bend after the line counts before it.
    fn look_back(&mut self) {
        for place in (0..self.reaches.len()).rev().chain((0..self.reaches.len()).rev()) {
            let exit = self.exit(place);
            let length = self.length(place);
            let curves = &self.curves;
            if let Some(reach) = self.reaches.get_mut(place) {
                let most = SPEED_MAX.as_mm_s();
                let way = curves.coast_way(exit).saturating_add(length);
                reach.entry = reach.limit.min(curves.speed_of_coast_way(way, exit, most).max(exit));
            }
        }
    }

    /// What is left to the line from the beginning of each stretch, last stretch first.
    fn look_ahead(&mut self) {
        for place in (0..self.reaches.len()).rev() {
            let Some(reach) = self.reaches.get(place).copied() else { continue };
            let begin = reach.end + self.length(place);
            let mut run = self.run(begin, reach.entry, self.spool.done()).out_of_a_bend();
            self.finish(&mut run, place);
            let rest = run.sums;
            if let Some(reach) = self.reaches.get_mut(place) {
                reach.rest = rest;
            }
        }
    }

    fn length(&self, place: usize) -> i32 {
        let begin = place.checked_sub(1).and_then(|before| self.reaches.get(before));
        let begin = begin.map_or(self.lap, |before| before.end);
        self.reaches.get(place).map_or(0, |reach| begin - reach.end)
    }

    fn run(&self, left: i32, speed: i32, open_for: i32) -> Run<'_> {
        Run::new(&self.curves, self.spool, left, (speed, open_for))
    }

    /// From stretch to stretch to the line; what is known already is taken from there.
    fn finish(&self, run: &mut Run, first: usize) {
        for (place, reach) in self.reaches.iter().enumerate().skip(first) {
            let known = place > first && run.speed == reach.entry && self.spool.is_done(run.open_for);
            if known {
                run.close();
                run.sums.add(&reach.rest);
                return;
            }
            run.stretch(reach.end, reach.limit, self.exit(place));
        }
        run.close();
    }
}

/// What is ahead of the boat on each stretch, last stretch last; gives the way once round, eighths of a millimetre.
fn reach_back(stretches: &[Stretch], reaches: &mut Vec<Reach, STRETCHES_MAX>) -> Option<i32> {
    let lap: i64 = stretches.iter().map(|stretch| stretch.length.as_mm()).sum();
    if !(1..=100_000_000).contains(&lap) || stretches.iter().any(|s| s.length < Millimetres::ZERO) {
        return None;
    }
    let lap = i32::try_from(lap).ok()? * EIGHTHS;
    reaches.clear();
    let mut end = lap;
    for stretch in stretches {
        end -= i32::try_from(stretch.length.as_mm()).ok()? * EIGHTHS;
        let limit = stretch.limit.min(SPEED_MAX).as_mm_s().max(1_000);
        reaches.push(Reach { end, limit, entry: limit, rest: Sums::default() }).ok()?;
    }
    Some(lap)
}
