//! The start call, the laps and the finish.
//!
//! The first crossing that counts is the start, lap 0; each later one ends a lap. While milling, crossings count
//! for nothing; inside the window before zero one is an early start. The rules are written for people in
//! `docs/timing-logic.md`; the numbers in brackets are theirs. The call is advice: the race officials decide.
//!
//! Knows units, outputs and zero. Crossings in, decisions out.

use serde::{Deserialize, Serialize};

use crate::gun::Zero;
use crate::mutant::{Mutant, planted};
use crate::output::{Call, Cause, Counted, Output, Outputs};
use crate::resume::{CarriedCrossing, CarriedRace};
use crate::units::{Instant, Millimetres, MmPerSecond, Span, Utc, mul_div};
use crate::view::{CallView, LapView};

/// What the sanctioning body's rules say of starts and laps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RaceSettings {
    /// A crossing this close before zero is an early start; before it, the boat is milling.
    pub early_window: Span,
    /// What an early start costs.
    pub early_costs: EarlyCost,
    /// Laps to run.
    pub laps: u16,
    /// No boat laps faster than this; a crossing sooner after a counted one is not a lap.
    pub lap_shortest: Span,
    /// More water than this since the last counted crossing, in percent of the lap length, means one was missed.
    pub lap_missed_percent: u16,
    /// How long before the line the driver is told that it comes.
    pub approach: Span,
    /// A margin within so many standard deviations of zero is too close to call.
    pub too_close_sigmas: u8,
}

/// What an early start costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum EarlyCost {
    /// One more lap to run.
    Lap,
    /// Time added to the heat time.
    Time(Span),
    /// Nothing that the dash could count.
    Nothing,
}

/// A crossing of the line, placed on both scales.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crossed {
    /// The moment on the board's clock.
    pub at: Instant,
    /// The moment on the running scale of the fixes.
    pub running: Utc,
    /// One standard deviation by the receiver alone.
    pub sigma: Span,
    /// One standard deviation of the tie between the scales.
    pub tie_sigma: Span,
    /// True in racing direction.
    pub forward: bool,
    /// From the line's left end.
    pub place: Millimetres,
}

impl Crossed {
    /// Crossing less zero, and one standard deviation of that.
    ///
    /// A scheduled zero is on the fixes' own scale: the tie to the board's clock drops out.
    #[must_use]
    pub fn margin(&self, zero: &Zero) -> (Span, Span) {
        match zero.scheduled {
            Some(running) => (self.running.since(running), self.sigma),
            None => {
                let sigma = Span::root_sum_square(&[self.sigma, self.tie_sigma, zero.sigma]);
                (self.at.since(zero.at), sigma)
            }
        }
    }
}

/// Exactly zero is legal; an error bar that reaches across zero is too close to call (rules S4 to S6).
#[must_use]
pub fn call(margin: Span, sigma: Span, too_close_sigmas: u8) -> Call {
    let reach = Span::from_micros(sigma.as_micros().saturating_mul(i64::from(too_close_sigmas)));
    let margin = if planted(Mutant::SignLost) { margin.abs() } else { margin };
    if margin.abs() < reach && !planted(Mutant::BarIgnored) {
        Call::TooClose
    } else if margin < Span::ZERO || (planted(Mutant::LegalFromFive) && margin < Span::from_secs(5)) {
        Call::Early
    } else {
        Call::Legal
    }
}

/// One heat, from the first crossing that counts to the finish.
#[derive(Clone, Debug)]
pub struct Race {
    settings: RaceSettings,
    lap_length: Millimetres,
    start: Option<Crossed>,
    call: Option<CallView>,
    last_counted: Option<Crossed>,
    laps_done: u16,
    last_lap: Option<LapView>,
    finished: bool,
    /// Time owed for anything but the start.
    time_owed: Span,
    /// Water gone by since the last counted crossing.
    run: Millimetres,
    missed_said: bool,
    /// True when the start was made before a restart.
    start_was_carried: bool,
}

impl Race {
    /// A heat that has not started.
    #[must_use]
    pub fn new(settings: &RaceSettings, lap_length: Millimetres) -> Self {
        Self {
            settings: settings.clone(),
            lap_length,
            start: None,
            call: None,
            last_counted: None,
            laps_done: 0,
            last_lap: None,
            finished: false,
            time_owed: Span::ZERO,
            run: Millimetres::ZERO,
            missed_said: false,
            start_was_carried: false,
        }
    }

    /// True from the crossing that counted as the start.
    #[must_use]
    pub const fn is_started(&self) -> bool {
        self.start.is_some()
    }

    /// True once the last lap owed is complete.
    #[must_use]
    pub const fn is_finished(&self) -> bool {
        self.finished
    }

    /// The start call, once made.
    #[must_use]
    pub const fn start_call(&self) -> Option<&CallView> {
        self.call.as_ref()
    }

    /// Laps completed.
    #[must_use]
    pub const fn laps_done(&self) -> u16 {
        self.laps_done
    }

    /// Laps to run in all, a penalty lap included (rule L4).
    #[must_use]
    pub fn laps_owed(&self) -> u16 {
        let owes = !planted(Mutant::NothingOwed);
        let penalty = u16::from(owes && self.is_early() && self.settings.early_costs == EarlyCost::Lap);
        self.settings.laps.saturating_add(penalty)
    }

    /// The last completed lap.
    #[must_use]
    pub const fn last_lap(&self) -> Option<&LapView> {
        self.last_lap.as_ref()
    }

    fn is_early(&self) -> bool {
        self.call.is_some_and(|view| view.call == Call::Early)
    }

    /// The bow crossed the line: decides what that counts as, and says so.
    pub fn crossing(&mut self, crossed: &Crossed, zero: Option<&Zero>, out: &mut Outputs) {
        let counted = self.count(crossed, zero);
        out.push(Output::Crossing {
            at: crossed.at,
            sigma: crossed.sigma,
            forward: crossed.forward,
            place: crossed.place,
            counted,
        });
        match (counted, zero) {
            (Counted::Start, Some(zero)) => self.make_start(crossed, zero, out),
            (Counted::Lap, Some(zero)) => self.end_lap(crossed, zero, out),
            _ => {}
        }
    }

    /// What a crossing counts as (rules S1 to S3, L1 to L3).
    fn count(&self, crossed: &Crossed, zero: Option<&Zero>) -> Counted {
        let Some(zero) = zero else {
            let misread = planted(Mutant::MillingMisread);
            return if crossed.forward && !misread { Counted::Milling } else { Counted::WrongWay };
        };
        if !crossed.forward && !planted(Mutant::WrongWayCounts) {
            return Counted::WrongWay;
        }
        if self.finished {
            return Counted::AfterFinish;
        }
        match &self.last_counted {
            None if crossed.margin(zero).0 < -self.settings.early_window && !planted(Mutant::WindowOpen) => {
                Counted::Milling
            }
            None if planted(Mutant::LateStartsNothing) && crossed.margin(zero).0 > Span::from_secs(1) => {
                Counted::Milling
            }
            None => Counted::Start,
            Some(last)
                if crossed.at.since(last.at) < self.settings.lap_shortest && !planted(Mutant::SoonCounts) =>
            {
                Counted::TooSoon
            }
            Some(_) => Counted::Lap,
        }
    }

    fn make_start(&mut self, crossed: &Crossed, zero: &Zero, out: &mut Outputs) {
        self.start = Some(*crossed);
        self.begin_lap(crossed);
        self.laps_done = u16::from(planted(Mutant::StartIsLap));
        self.make_call(zero, false, out);
    }

    fn begin_lap(&mut self, crossed: &Crossed) {
        self.last_counted = Some(*crossed);
        self.run = Millimetres::ZERO;
        self.missed_said = false;
    }

    /// Zero has moved: a start already made is called anew, and the new call replaces the old one (rule S7).
    pub fn zero_moved(&mut self, zero: &Zero, out: &mut Outputs) {
        if self.start.is_some() && !self.finished && !planted(Mutant::CallStands) {
            self.make_call(zero, true, out);
        }
    }

    fn make_call(&mut self, zero: &Zero, revised: bool, out: &mut Outputs) {
        let Some(start) = &self.start else { return };
        let (margin, sigma) = start.margin(zero);
        let verdict = call(margin, sigma, self.settings.too_close_sigmas);
        let was_early = self.is_early();
        self.call = Some(CallView { call: verdict, margin, sigma });
        out.push(Output::Call { call: verdict, margin, sigma, revised });
        if self.is_early() != was_early {
            let (laps, time) = self.early_penalty();
            out.push(Output::Penalty { cause: Cause::EarlyStart, laps, time });
        }
    }

    /// What the early start costs; nothing when it was not early.
    fn early_penalty(&self) -> (u16, Span) {
        match self.settings.early_costs {
            EarlyCost::Lap if self.is_early() => (1, Span::ZERO),
            EarlyCost::Time(time) if self.is_early() => (0, time),
            _ => (0, Span::ZERO),
        }
    }

    fn end_lap(&mut self, crossed: &Crossed, zero: &Zero, out: &mut Outputs) {
        let Some(last) = self.last_counted else { return };
        let time = crossed.running.since(last.running);
        let speed = lap_speed(self.lap_length, time);
        let sigma = Span::root_sum_square(&[crossed.sigma, last.sigma]);
        self.laps_done = self.laps_done.saturating_add(1);
        self.last_lap = Some(LapView { time, speed });
        out.push(Output::Lap { lap: self.laps_done, time, speed, sigma });
        self.begin_lap(crossed);
        let late = u16::from(planted(Mutant::FinishLate) && !self.is_early());
        if self.laps_done >= self.laps_owed().saturating_add(late) {
            self.finished = true;
            // On the fixes' own scale from the start on: the board's crystal has no part in it.
            let time = self
                .start
                .as_ref()
                .map_or(Span::ZERO, |start| start.margin(zero).0 + crossed.running.since(start.running));
            let penalty = self.early_penalty().1 + self.time_owed;
            out.push(Output::Finish { laps: self.laps_done, time, penalty });
        }
    }

    /// So much time is owed for anything but the start; the finish counts it in.
    pub const fn owe_time(&mut self, time: Span) {
        self.time_owed = time;
    }

    /// The boat has run on by `run`: says once per lap when that is more than a lap can hold (rule L5).
    pub fn run_on(&mut self, run: Millimetres, out: &mut Outputs) {
        if self.start.is_none() || self.finished {
            return;
        }
        self.run = self.run + run;
        let lap = self.lap_length.as_mm();
        let most = mul_div(lap, i64::from(self.settings.lap_missed_percent), 100);
        if !self.missed_said && self.run > Millimetres::from_mm(most) {
            self.missed_said = true;
            out.push(Output::LapMissed { run: self.run });
        }
    }

    /// What a fresh race would have to know to go on; `label` takes a moment from the running scale to the labels.
    #[must_use]
    pub fn carried(&self, label: impl Fn(Utc) -> Utc) -> CarriedRace {
        let crossing = |crossed: &Crossed| CarriedCrossing {
            at: crossed.at,
            utc: label(crossed.running),
            sigma: crossed.sigma,
            tie_sigma: crossed.tie_sigma,
        };
        CarriedRace {
            start: self.start.as_ref().map(crossing),
            call: self.call,
            last_counted: self.last_counted.as_ref().map(crossing),
            laps_done: self.laps_done,
            last_lap: self.last_lap,
            finished: self.finished,
        }
    }

    /// Goes on after a restart (rule P5): instants move by `shift` to the new clock, `running` takes labels to the
    /// running scale.
    pub fn resume(&mut self, carried: &CarriedRace, shift: Span, running: impl Fn(Utc) -> Utc) {
        let crossing = |crossed: CarriedCrossing| Crossed {
            at: crossed.at.plus(shift),
            running: running(crossed.utc),
            sigma: crossed.sigma,
            tie_sigma: crossed.tie_sigma,
            forward: true,
            place: Millimetres::ZERO,
        };
        self.start = carried.start.map(crossing);
        self.last_counted = carried.last_counted.map(crossing);
        (self.call, self.last_lap) = (carried.call, carried.last_lap);
        (self.laps_done, self.finished) = (carried.laps_done, carried.finished);
        self.start_was_carried = self.start.is_some();
    }

    /// The clock was found to be off by `by` since a restart. True when a start of before the restart goes with it:
    /// its margin is what it was, and it is not called anew (rule P5).
    pub fn start_goes_with_the_clock(&mut self, by: Span) -> bool {
        if let Some(start) = self.start.as_mut().filter(|_| self.start_was_carried) {
            start.at = start.at.plus(by);
        }
        self.start_was_carried
    }

    /// How long before the line the driver is told that it comes.
    #[must_use]
    pub const fn approach(&self) -> Span {
        self.settings.approach
    }
}

/// The official lap length over the time, rounded to the nearest millimetre per second.
#[must_use]
pub fn lap_speed(length: Millimetres, time: Span) -> MmPerSecond {
    let mm_s = mul_div(length.as_mm(), 1_000_000, time.as_micros());
    MmPerSecond::from_mm_s(i32::try_from(mm_s).unwrap_or(i32::MAX))
}

#[cfg(test)]
mod tests;
