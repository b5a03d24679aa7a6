//! The run-in: will I be early or late if I go now?
//!
//! At every fix the boat is placed on its lane, and a run flat out from there to the line is worked out. Its end
//! less zero is the margin: negative, and he would jump the gun. The margin's error bar, and the risk of jumping
//! that he accepts, say how much margin to hold; the rest is one word.
//!
//! A forecast holds for a throttle that is opened one response after the fix; while he waits at his speed, the
//! margin grows by one less present speed over the speed at the run's end, and between fixes it is carried on so.
//! How far the engine has spooled up is read off the boat: its acceleration as a share of its full pull.
//!
//! Knows the line, fixes, and zero on the fixes' scale. Fixes in, a view out. A program without room for it leaves it
//! out by the feature `run-in`; what such a dash says of it stands in `absent`.

#![cfg_attr(
    not(feature = "run-in"),
    allow(dead_code, unused_imports, reason = "its settings are read all the same")
)]

#[cfg(not(feature = "run-in"))]
mod absent;
pub mod boat;
mod curves;
mod flat_out;
pub mod lane;
pub mod learn;
mod motion;
mod plan;
pub mod planner;
pub mod risk;
pub mod speech;
mod spool;
pub mod stations;
pub mod tracker;

#[cfg(not(feature = "run-in"))]
pub use absent::RunIn;
use serde::{Deserialize, Serialize};

use crate::angle::sin_cos;
use crate::course::StartLine;
use crate::crossing::CrossingSettings;
use crate::gnss::Fix;
use crate::units::{Millimetres, Span, Utc};
use crate::view::RunInView;
use boat::{BoatFault, BoatModel};
use lane::{Cut, LaneFault, LaneSettings};
use learn::{Learner, Offer, TrackRecord};
use motion::Motion;
use plan::{Plan, Seen};
use planner::Planner;
pub use risk::Advice;
use stations::{Point, Ring};
use tracker::{OnLane, Sighting, Tracker};

/// So near to a bend's limit, mm/s, he does what he can there.
const NEAR_LIMIT: i32 = 8_000;

/// Who pulls no more for so long, though he could, does not go flat out; a spooling engine shows its pull sooner.
const IDLES: Span = Span::from_secs(2);

/// What the run-in must be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RunInSettings {
    /// The lane.
    pub lane: LaneSettings,
    /// The boat.
    pub boat: BoatModel,
    /// The risk of crossing before zero that the driver accepts, parts per million.
    pub risk_ppm: u32,
    /// From seeing the word to opening the throttle.
    pub response: Span,
    /// With an error bar longer than this there is no advice.
    pub sigma_most: Span,
    /// Whether the beeper says what the screen shows.
    pub speaks: bool,
}

/// Why there is no run-in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunInFault {
    /// The lane cannot be laid out.
    Lane(LaneFault),
    /// The boat's figures are none.
    Boat(BoatFault),
    /// A risk that is not between one in a thousand and one in two, or times below nothing or beyond 10 s.
    Risk,
    /// This program has no run-in.
    NotFitted,
}

/// Zero on the fixes' scale, as far as the run-in must know it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Aim {
    /// The moment of zero.
    pub zero: Utc,
    /// One standard deviation of it, the tie between the scales included.
    pub sigma: Span,
}

/// What was forecast when the boat went, held against its crossing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// When the crossing was to be.
    pub forecast: Utc,
    /// One standard deviation of that, without that of zero.
    pub sigma: Span,
}

/// A lane with what goes by it.
#[derive(Clone, Debug)]
struct Way {
    ring: Ring,
    planner: Planner,
}

/// The run-in.
#[cfg(feature = "run-in")]
#[derive(Clone, Debug)]
pub struct RunIn {
    settings: RunInSettings,
    receiver: CrossingSettings,
    line: StartLine,
    line_sd: Millimetres,
    lane: Way,
    cut: Option<Way>,
    tracker: Tracker,
    motion: Motion,
    learner: Learner,
    plan: Option<Plan>,
    gone: Option<Outcome>,
    /// The last fix at which he did what he could.
    busy: Option<Utc>,
}

#[cfg(feature = "run-in")]
impl RunIn {
    /// Lays out the lane and prepares the boat.
    ///
    /// # Errors
    /// [`RunInFault`] says what is wrong with the settings.
    pub fn new(
        settings: &RunInSettings,
        receiver: &CrossingSettings,
        line: StartLine,
        line_sd: Millimetres,
    ) -> Result<Self, RunInFault> {
        let mut room = None;
        Self::lay(&mut room, settings, receiver, line, line_sd)?;
        room.ok_or(RunInFault::NotFitted)
    }

    /// The same in a room of the caller's: a run-in is large, and is not moved on a small stack.
    ///
    /// # Errors
    /// [`RunInFault`] says what is wrong with the settings; the room is empty then.
    pub fn lay(
        room: &mut Option<Self>,
        settings: &RunInSettings,
        receiver: &CrossingSettings,
        line: StartLine,
        line_sd: Millimetres,
    ) -> Result<(), RunInFault> {
        settings.check()?;
        Self::put_blank(room, settings, receiver, line, line_sd);
        let done = room.as_mut().map_or(Err(RunInFault::NotFitted), Self::lay_lanes);
        if done.is_err() {
            *room = None;
        }
        done
    }

    /// Not inlined: it has all of a run-in on the stack, what comes after it has not.
    #[inline(never)]
    fn put_blank(
        room: &mut Option<Self>,
        settings: &RunInSettings,
        receiver: &CrossingSettings,
        line: StartLine,
        line_sd: Millimetres,
    ) {
        *room = Some(Self {
            lane: Way::blank(),
            cut: settings.lane.cut.is_some().then(Way::blank),
            tracker: Tracker::new(settings.lane.tolerance, None),
            settings: settings.clone(),
            receiver: receiver.clone(),
            line,
            line_sd,
            motion: Motion::default(),
            learner: Learner::default(),
            plan: None,
            gone: None,
            busy: None,
        });
    }

    fn lay_lanes(&mut self) -> Result<(), RunInFault> {
        let RunInSettings { lane, boat, .. } = &self.settings;
        self.lane.lay(lane, None, &self.line, boat, None).map_err(RunInFault::Lane)?;
        if let Some(way) = self.cut.as_mut() {
            let same = Some(&self.lane.planner);
            way.lay(lane, lane.cut.as_ref(), &self.line, boat, same).map_err(RunInFault::Lane)?;
        }
        let entrance = lane.entrance.and_then(|mark| Point::new(self.line.beside(mark)));
        let fixed_within = entrance.and_then(|point| self.lane.ring.nearest(point));
        self.tracker = Tracker::new(lane.tolerance, fixed_within);
        Ok(())
    }

    /// Whether a run-in can be made of these, with less of the stack than to make it.
    ///
    /// # Errors
    /// [`RunInFault`] says what is wrong with them.
    pub fn check(settings: &RunInSettings, line: &StartLine) -> Result<(), RunInFault> {
        settings.check()?;
        let mut ring = Ring::default();
        let cut = settings.lane.cut.as_ref().map(Some);
        for by_cut in core::iter::once(None).chain(cut) {
            Way::check(&mut ring, &settings.lane, by_cut, line, &settings.boat).map_err(RunInFault::Lane)?;
        }
        Ok(())
    }

    /// Takes a good fix for a moment on the running scale.
    pub fn fix(&mut self, at: Utc, fix: &Fix, aim: Option<&Aim>) {
        let pull = self.motion.fix(at, fix.speed);
        let Some(place) = self.place(at, fix) else {
            self.learner.interrupted();
            (self.plan, self.gone) = (None, None);
            return;
        };
        let way = self.cut.as_ref().filter(|_| place.on_cut).unwrap_or(&self.lane);
        let limit = way.ring.limit(place.segment);
        let seen = Seen { at, to_line: self.bow(&place, way), speed: fix.speed, pull_mm_s2: pull };
        let known = (aim, self.plan.as_ref());
        let plan = Plan::new(&seen, &way.planner, &self.settings, known, self.place_sds(fix));
        self.learner.fix(at, fix.speed, limit, plan.is_going(), self.settings.boat.lag);
        let in_bend = fix.speed.as_mm_s() >= limit.as_mm_s().saturating_sub(NEAR_LIMIT);
        if !plan.is_idle() || in_bend {
            self.busy = Some(at);
        }
        let idle = self.busy.is_none_or(|busy| at.since(busy) > IDLES);
        self.gone = if plan.is_going() {
            self.gone.or(Some(Outcome { forecast: plan.crossing(), sigma: plan.own_sigma() }))
        } else if self.motion.has_lifted() || idle {
            None
        } else {
            self.gone
        };
        self.plan = Some(plan);
    }

    /// Fixes were missing for too long: what was going on is void.
    pub fn lost(&mut self) {
        (self.plan, self.gone) = (None, None);
        self.learner.interrupted();
    }

    /// The bow crossed the line in racing direction: what had been forecast, if the boat went for it.
    pub fn crossed(&mut self, at: Utc) -> Option<Outcome> {
        let outcome = self.gone.take()?;
        self.learner.crossed(outcome.forecast, at);
        Some(outcome)
    }

    /// What to show at a moment on the running scale.
    #[must_use]
    pub fn view(&self, now: Utc, aim: Option<&Aim>) -> RunInView {
        let demonstration = self.settings.boat.demonstration;
        match (aim, &self.plan) {
            (None, _) => RunInView::without(Advice::NoClock, demonstration),
            (_, None) => RunInView::without(Advice::OffCourse, demonstration),
            (Some(aim), Some(plan)) => plan.view(now, aim, &self.settings),
        }
    }

    /// What to show while there is no fresh fix.
    #[must_use]
    pub const fn blind(&self) -> RunInView {
        RunInView::without(Advice::NoFix, self.settings.boat.demonstration)
    }

    /// How good the forecasts were.
    #[must_use]
    pub fn track_record(&self) -> Option<TrackRecord> {
        self.learner.track_record()
    }

    /// The boat as hot laps have shown it, for the driver to accept.
    #[must_use]
    pub fn proposal(&self) -> Option<BoatModel> {
        self.learner.proposal(&self.settings.boat)
    }

    /// The same in a few figures, beside those in force.
    #[must_use]
    pub fn offer(&self) -> Option<Offer> {
        let bend = self.lane.planner.slowest(self.lane.planner.lap());
        self.learner.offer(&self.settings.boat, bend)
    }

    /// Runs on another boat from now on, and learns anew; false, and nothing has changed, where the lane cannot be
    /// run with it.
    pub fn adopt(&mut self, boat: &BoatModel) -> bool {
        let before = core::mem::replace(&mut self.settings.boat, boat.clone());
        if self.lay_lanes().is_err() {
            self.settings.boat = before;
            // It could be laid with that one.
            let _ = self.lay_lanes();
            return false;
        }
        self.learner = Learner::default();
        (self.plan, self.gone) = (None, None);
        true
    }

    fn place(&mut self, at: Utc, fix: &Fix) -> Option<OnLane> {
        let course = sin_cos(i64::from(fix.course.as_centi()) * 10_000_000);
        let (past, along) = self.line.turned(course.sin, course.cos);
        let ahead = |part: i64| i16::try_from(part >> 16).unwrap_or(0);
        let point = Point::new(self.line.beside(fix.position))?;
        let seen = Sighting { at, point, speed: fix.speed, ahead: (ahead(along), ahead(past)) };
        self.tracker.fix(&seen, &self.lane.ring, self.cut.as_ref().map(|cut| &cut.ring))
    }

    /// From the bow to the line: the antenna is behind it.
    fn bow(&self, place: &OnLane, way: &Way) -> Millimetres {
        let left = (place.to_line - self.receiver.antenna_to_bow).as_mm();
        Millimetres::from_mm(left.rem_euclid(way.ring.lap().as_mm().max(1)))
    }

    /// How well place and speed are known along the lane: place, lever and line together; then the speed.
    fn place_sds(&self, fix: &Fix) -> (Span, i32) {
        let part = |length: Millimetres| Span::from_micros(length.as_mm());
        let place = Span::root_sum_square(&[
            part(self.receiver.position_sd(fix)),
            part(self.receiver.antenna_to_bow_sd),
            part(self.line_sd),
        ]);
        (place, fix.speed_sd.unwrap_or(self.receiver.speed_sd).as_mm_s())
    }
}

impl Way {
    /// No lane yet.
    fn blank() -> Self {
        Self { ring: Ring::default(), planner: Planner::blank() }
    }

    fn lay(
        &mut self,
        lane: &LaneSettings,
        by_cut: Option<&Cut>,
        line: &StartLine,
        boat: &BoatModel,
        same_boat: Option<&Planner>,
    ) -> Result<(), LaneFault> {
        lane::lay_out(&mut self.ring, lane, by_cut, line, boat)?;
        let stretches = self.ring.stretches().map_err(LaneFault::Ring)?;
        self.planner.prepare(&stretches, boat, same_boat).ok_or(LaneFault::Bends)
    }

    /// Whether [`Way::lay`] would do.
    fn check(
        ring: &mut Ring,
        lane: &LaneSettings,
        by_cut: Option<&Cut>,
        line: &StartLine,
        boat: &BoatModel,
    ) -> Result<(), LaneFault> {
        lane::lay_out(ring, lane, by_cut, line, boat)?;
        let stretches = ring.stretches().map_err(LaneFault::Ring)?;
        if Planner::fits(&stretches) { Ok(()) } else { Err(LaneFault::Bends) }
    }
}

impl RunInSettings {
    /// Looks for a figure that makes no sense; what the lane is worth only [`RunIn::new`] can say.
    ///
    /// # Errors
    /// The first fault found.
    pub fn check(&self) -> Result<(), RunInFault> {
        self.boat.check().map_err(RunInFault::Boat)?;
        let risk = (risk::RISK_LEAST_PPM..=risk::RISK_MOST_PPM).contains(&self.risk_ppm);
        let short = |span: Span| (Span::ZERO..=Span::from_secs(10)).contains(&span);
        if risk && short(self.response) && short(self.sigma_most) { Ok(()) } else { Err(RunInFault::Risk) }
    }
}

#[cfg(test)]
#[cfg(feature = "run-in")]
mod tests;
