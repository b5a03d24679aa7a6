//! The dash: the rooms composed, one `feed`, one `next_wake`, one `view`.
//!
//! `feed` is the only way in. It hands an input to the room it concerns, lets the others hear of what was
//! decided, and gives all decisions back. Nothing here reads a clock: `at` is the caller's. Same inputs, same
//! decisions, bit for bit.
//!
//! Knows all rooms; no room knows it. Inputs in, decisions out. What deserves the driver's eye is gathered in
//! `attention`, what the run-in advises in `advice`, the picture of the state in `picture`, what a restart needs in `restart`,
//! the course's marks in `survey`; what goes on about zero itself in `zero`.

mod advice;
mod asked;
mod attention;
mod learned;
mod picture;
mod restart;
mod survey;
mod zero;

use core::mem::MaybeUninit;

use crate::alerts::Alerts;
use crate::course::StartLine;
use crate::crossing::{Crossing, CrossingWatch};
use crate::engine::Engine;
use crate::floor::SpeedFloor;
use crate::gnss::Fix;
use crate::gun::debounce::Debounce;
use crate::gun::{Hand, StartClock};
use crate::input::{Input, Line};
use crate::laps::{Crossed, Race};
use crate::mutant::{Mutant, planted};
use crate::output::{AlertId, Output, Outputs, Refused, Tie};
use crate::resume::{Carried, CarriedZero};
use crate::run_in::speech::Speech;
use crate::run_in::{Aim, RunIn};
use crate::settings::Settings;
use crate::timebase::Timebase;
use crate::units::{Instant, Millimetres, PartsPerBillion, Span, Utc, mul_div};

/// A stamp may be older than one fed before it by this much: an edge is stamped in an interrupt and may wait
/// behind a message that was finished meanwhile.
const LATE_STAMP: Span = Span::from_millis(100);

/// The dash.
#[derive(Clone, Debug)]
pub struct Dash {
    settings: Settings,
    now: Instant,
    lines: Lines,
    timebase: Timebase,
    clock: StartClock,
    watch: Option<CrossingWatch>,
    race: Race,
    floor: Option<SpeedFloor>,
    engine: Engine,
    alerts: Alerts,
    run_in: Option<RunIn>,
    speech: Speech,
    /// When the run-in's number is recorded again.
    advice_due: Instant,
    offered: learned::Offered,
    survey: survey::Surveying,
    last_fix: Option<LastFix>,
    /// When and how far zero moved by more than is natural.
    zero_moved: Option<(Instant, Span)>,
    /// A schedule that came before UTC was known.
    waiting_schedule: Option<Utc>,
    /// What was carried through a restart, while its zero waits for UTC.
    waiting_zero: Option<Carried>,
    /// What is carried of zero, with the signals taken: renewed when it changes in earnest.
    carried_zero: Option<(CarriedZero, u16)>,
    /// True when this start came through a restart.
    resumed: bool,
    /// Place in the list of counts; past its end stands zero itself.
    next_count: usize,
    approach_said: bool,
    last_tie: Tie,
    lost: u16,
}

#[derive(Clone, Debug)]
struct Lines {
    button: Debounce,
    contact: Debounce,
    acknowledge: Debounce,
    page: Debounce,
    /// The press that has cleared the clock already.
    cleared_by: Option<Instant>,
}

#[derive(Clone, Copy, Debug)]
struct LastFix {
    arrived: Instant,
    running: Utc,
    fix: Fix,
}

impl Dash {
    /// A dash that knows its settings and nothing else.
    ///
    /// A course that makes no line leaves the dash a clock and an engine watch; [`Settings::check`] tells why.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let mut dash = Self::without_run_in(settings);
        dash.lay_run_in();
        dash
    }

    /// The same in a room of the caller's, with less of the stack: the run-in is made where it stays.
    pub fn new_in<'a>(room: &'a mut MaybeUninit<Self>, settings: &Settings) -> &'a mut Self {
        let dash = Self::put(room, settings);
        dash.lay_run_in();
        dash
    }

    /// Not inlined: it has all of a dash on the stack, what comes after it has not.
    #[inline(never)]
    fn put<'a>(room: &'a mut MaybeUninit<Self>, settings: &Settings) -> &'a mut Self {
        room.write(Self::without_run_in(settings))
    }

    /// A lane that cannot be laid out leaves the dash without a run-in; [`Settings::check`] tells why.
    fn lay_run_in(&mut self) {
        let (Some(course), Some(run_in)) = (&self.settings.course, &self.settings.run_in) else { return };
        let Ok(line) = StartLine::new(course) else { return };
        let _ = RunIn::lay(&mut self.run_in, run_in, &self.settings.crossing, line, course.line_sd);
    }

    fn without_run_in(settings: &Settings) -> Self {
        let line = settings.course.as_ref().and_then(|course| Some((course, StartLine::new(course).ok()?)));
        let debounce = Debounce::new(settings.gun.debounce);
        Self {
            now: Instant::BOOT,
            lines: Lines {
                button: debounce.clone(),
                contact: debounce.clone(),
                acknowledge: debounce.clone(),
                page: debounce,
                cleared_by: None,
            },
            timebase: Timebase::new(&settings.timebase),
            clock: StartClock::new(&settings.gun),
            watch: line.map(|(course, line)| CrossingWatch::new(&settings.crossing, course, line)),
            race: Race::new(&settings.race, lap_length(settings)),
            floor: settings.floor.as_ref().map(SpeedFloor::new),
            engine: Engine::new(&settings.engine),
            alerts: Alerts::new(),
            run_in: None,
            speech: Speech::default(),
            advice_due: Instant::BOOT,
            offered: learned::Offered::default(),
            survey: survey::Surveying::default(),
            last_fix: None,
            zero_moved: None,
            waiting_schedule: None,
            waiting_zero: None,
            carried_zero: None,
            resumed: false,
            next_count: 0,
            approach_said: false,
            last_tie: Tie::None,
            lost: 0,
            settings: settings.clone(),
        }
    }

    /// Takes one input, stamped with the board's clock; gives what was decided, in order.
    ///
    /// Time may stand still between inputs; a stamp that runs back by more than 100 ms is refused. Feeding
    /// [`Input::Tick`] early or twice does no harm.
    #[must_use]
    pub fn feed(&mut self, at: Instant, input: Input) -> Outputs {
        let mut out = Outputs::default();
        self.feed_into(at, input, &mut out);
        out
    }

    /// The same, with the decisions added to a list of the caller's: it is long, and to hand it over costs more
    /// than most inputs do.
    pub fn feed_into(&mut self, at: Instant, input: Input, out: &mut Outputs) {
        if self.lost > 0 {
            out.push(Output::Lost(self.lost));
        }
        if self.now.since(at) > LATE_STAMP {
            out.push(Output::Refused(Refused::Late));
        } else {
            self.now = self.now.max(at);
            // Before the input: it may be the release of a button that was held long enough.
            self.hold(out);
            self.take(at, input, out);
            self.time_has_passed(out);
            self.tell_alerts(out);
            self.note_zero();
        }
        self.lost = out.lost();
    }

    fn take(&mut self, at: Instant, input: Input, out: &mut Outputs) {
        match input {
            Input::Tick | Input::Rejected(_) => {}
            Input::Edge { line, active } => self.edge(at, line, active, out),
            Input::Pps => self.pulse(at, out),
            Input::Fix(fix) => self.fix(at, &fix, out),
            Input::Probe { index, reading } => self.engine.probe(self.now, index, reading, out),
            Input::Shafts { n1, n2 } => self.engine.shafts(self.now, n1, n2, out),
            Input::Schedule { zero } => self.schedule(zero, out),
            Input::Resume(resume) => self.resume(&resume, out),
            Input::N2Turns { turns } => self.engine.n2_turns(self.now, turns, out),
            Input::Suffered(accounts) => self.suffered(&accounts, out),
            Input::Utc { at, utc, sd } => self.told_utc(at, utc, sd, out),
            Input::Offer { accept } => self.answer_offer(accept, out),
        }
    }

    fn edge(&mut self, at: Instant, line: Line, active: bool, out: &mut Outputs) {
        let crystal = self.crystal();
        match line {
            Line::Button if self.lines.button.edge(at, active) => self.signal(at, Hand::Thumb, out),
            Line::GunContact if self.lines.contact.edge(at, active) => self.signal(at, Hand::Contact, out),
            Line::Acknowledge => {
                let pressed = self.lines.acknowledge.edge(at, active);
                if pressed || !active {
                    self.press_on_offer(at, active);
                    self.press_on_survey(at, active, out);
                }
                if pressed {
                    self.alerts.acknowledge(self.now, out);
                }
            }
            Line::Page if self.lines.page.edge(at, active) => {
                let before = out.as_slice().len();
                let _ = self.clock.next_signal(at, crystal, out);
                self.after_zero(before, out);
            }
            Line::Igniter | Line::StarterLow | Line::StarterHigh | Line::StartFuel | Line::ExternalPower => {
                self.engine.switch(self.now, line, active, out)
            }
            _ => {}
        }
    }

    fn signal(&mut self, at: Instant, hand: Hand, out: &mut Outputs) {
        if self.is_stray_while_finding_zero(hand, out) {
            return;
        }
        let before = out.as_slice().len();
        let crystal = self.crystal();
        self.clock.signal(at, hand, crystal, out);
        self.after_zero(before, out);
    }

    fn pulse(&mut self, at: Instant, out: &mut Outputs) {
        match self.timebase.pulse(at) {
            Ok(()) => self.retime(out),
            Err(why) => out.push(Output::Refused(why)),
        }
    }

    fn fix(&mut self, at: Instant, fix: &Fix, out: &mut Outputs) {
        if !fix.valid {
            return;
        }
        let running = match self.timebase.label(at, fix.utc) {
            Ok(running) => running,
            Err(why) => return out.push(Output::Refused(why)),
        };
        let last = self.last_fix;
        if last.is_some_and(|last| running <= last.running) {
            return out.push(Output::Refused(Refused::Repeated));
        }
        self.last_fix = Some(LastFix { arrived: self.now, running, fix: *fix });
        self.find_zero(out);
        if let Some(zero) = self.waiting_schedule.take() {
            self.schedule(zero, out);
        }
        // Only pulses measure the crystal; a fix can move no more than a zero that UTC puts in its place.
        if self.clock.by_utc().is_some() {
            self.retime(out);
        }
        self.follow(running, fix, last, out);
    }

    /// What a good fix means for the line, the lap and the speed floor.
    fn follow(&mut self, running: Utc, fix: &Fix, last: Option<LastFix>, out: &mut Outputs) {
        if let Some(last) = last {
            self.race.run_on(distance_run(&last, running, fix), out);
        }
        let gap = last.is_some_and(|last| running.since(last.running) > self.settings.fix_lost_after);
        self.floor_watch((running, fix, gap), out);
        if let Some(run_in) = self.run_in.as_mut().filter(|_| gap) {
            run_in.lost();
        }
        let crossing = self.watch.as_mut().and_then(|watch| watch.fix(running, fix));
        if let Some(crossing) = crossing {
            self.crossing(&crossing, out);
        }
        let aim = self.aim(self.now).filter(|_| !self.race.is_started());
        if let Some(run_in) = self.run_in.as_mut() {
            run_in.fix(running, fix, aim.as_ref());
        }
        self.approach(out);
        self.advise(out);
        self.renew_offer(out);
        self.survey_fix(running, fix, out);
    }

    /// Zero on the fixes' scale; a scheduled one is there already, and the tie between the scales drops out.
    fn aim(&self, at: Instant) -> Option<Aim> {
        let zero = self.clock.zero()?;
        let tie_sigma = self.timebase.sigma(at);
        Some(match zero.scheduled {
            Some(running) => Aim { zero: running, sigma: Span::ZERO },
            None => {
                let sigma = Span::root_sum_square(&[zero.sigma, tie_sigma]);
                Aim { zero: self.timebase.running(zero.at)?, sigma }
            }
        })
    }

    fn crossing(&mut self, crossing: &Crossing, out: &mut Outputs) {
        let Some(at) = self.timebase.instant(crossing.at) else { return };
        let crossed = Crossed {
            at,
            running: crossing.at,
            sigma: crossing.sigma,
            tie_sigma: self.timebase.sigma(self.now),
            forward: crossing.forward,
            place: crossing.place,
        };
        let started = self.race.is_started();
        self.race.crossing(&crossed, self.clock.zero(), out);
        self.approach_said = false;
        let outcome =
            self.run_in.as_mut().filter(|_| crossing.forward).and_then(|it| it.crossed(crossing.at));
        let starts = !started && self.race.is_started();
        if let (Some(outcome), Some(aim), true) = (outcome, self.aim(self.now), starts) {
            out.push(Output::RunIn {
                forecast: outcome.forecast.since(aim.zero),
                actual: crossing.at.since(aim.zero),
                sigma: outcome.sigma,
            });
        }
    }

    /// Tells once per lap that the line comes: heading for it, between its ends, and soon (rule A1).
    fn approach(&mut self, out: &mut Outputs) {
        let racing = self.race.is_started() && !self.race.is_finished();
        if !racing || self.approach_said {
            return;
        }
        let time = self.watch.as_ref().and_then(CrossingWatch::time_to_line);
        if time.is_some_and(|time| time <= self.race.approach()) {
            self.approach_said = true;
            self.alerts.pulse(self.now, AlertId::Approach, out);
        }
    }

    fn floor_watch(&mut self, (running, fix, gap): (Utc, &Fix, bool), out: &mut Outputs) {
        let Some(floor) = self.floor.as_mut() else { return };
        if gap {
            floor.end_violation();
        }
        // The fix's own moment, not its arrival (rule T1).
        let at = self.timebase.instant(running).unwrap_or(self.now);
        let race_time = self.clock.zero().map(|zero| at.since(zero.at));
        if race_time.is_some_and(|time| time >= -floor.from()) && !self.race.is_started() {
            floor.speed(running, fix.speed, out);
            self.race.owe_time(floor.owed());
        } else {
            floor.end_violation();
        }
    }

    /// What time alone changes: a button held, a count due, values gone stale, a tie lost.
    fn time_has_passed(&mut self, out: &mut Outputs) {
        self.hold(out);
        self.count(out);
        self.advise_of_lost_fixes(out);
        self.speak(out);
        self.engine.tick(self.now, out);
        self.end_survey_with_a_clock();
        self.alerts.hush(self.now, self.is_quiet(), out);
        self.alerts.tick(self.now, out);
        let tie = self.timebase.tie(self.now);
        if tie != self.last_tie {
            self.last_tie = tie;
            out.push(Output::Clock {
                tie,
                drift: self.timebase.drift(),
                sigma: self.timebase.sigma(self.now),
            });
        }
    }

    /// A button held long enough clears the clock and the heat, once per hold (rule C7).
    fn hold(&mut self, out: &mut Outputs) {
        self.accept(out);
        self.hold_for_survey(out);
        let Some(since) = self.lines.button.held_since(self.now) else { return };
        if self.now.since(since) < self.settings.gun.hold_to_clear || self.lines.cleared_by == Some(since) {
            return;
        }
        self.lines.cleared_by = Some(since);
        (self.waiting_schedule, self.waiting_zero, self.resumed) = (None, None, false);
        self.clock.clear(out);
        if !planted(Mutant::HeatKept) {
            self.race = Race::new(&self.settings.race, lap_length(&self.settings));
        }
        self.engine.begin_heat();
        self.floor = self.settings.floor.as_ref().map(SpeedFloor::new);
        self.zero_moved = None;
        (self.speech, self.advice_due, self.offered.finished) = (Speech::default(), Instant::BOOT, None);
        self.next_count = 0;
        self.approach_said = false;
        self.alerts.clear_race(self.now, out);
    }

    /// When time alone will change something; always later than the last input.
    #[must_use]
    pub fn next_wake(&self) -> Option<Instant> {
        let fix_lost = self.last_fix.map(|last| just_after(last.arrived, self.settings.fix_lost_after));
        let due = [
            self.hold_due(),
            self.quiet_due(),
            self.count_due().map(|(due, _)| due),
            self.timebase.next_wake(self.now),
            self.engine.next_wake(),
            self.alerts.next_wake(),
            self.speech.due(),
            self.accept_due(),
            self.survey_due(),
            fix_lost,
        ];
        due.iter().flatten().filter(|due| **due > self.now).min().copied()
    }

    fn hold_due(&self) -> Option<Instant> {
        let since = self.lines.button.held_since(self.now)?;
        (self.lines.cleared_by != Some(since)).then(|| since.plus(self.settings.gun.hold_to_clear))
    }

    /// The start clock.
    #[must_use]
    pub const fn clock(&self) -> &StartClock {
        &self.clock
    }

    /// The heat.
    #[must_use]
    pub const fn race(&self) -> &Race {
        &self.race
    }

    /// The settings it runs on.
    #[must_use]
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The crystal's error and one standard deviation of it, once pulses have measured it.
    #[must_use]
    pub fn measured_crystal(&self) -> Option<(PartsPerBillion, PartsPerBillion)> {
        let (drift, sd) = (self.timebase.drift(), self.timebase.drift_sd());
        (sd < self.settings.timebase.crystal_sd).then_some((drift, sd))
    }

    /// Time relative to zero on the board's clock; `None` until the clock is armed.
    #[must_use]
    pub fn race_time(&self, at: Instant) -> Option<Span> {
        self.clock.zero().map(|zero| at.since(zero.at))
    }
}

fn lap_length(settings: &Settings) -> Millimetres {
    settings.course.as_ref().map_or(Millimetres::ZERO, |course| course.lap_length)
}

fn just_after(from: Instant, span: Span) -> Instant {
    from.plus(span).plus(Span::from_micros(1))
}

/// The way between two fixes: the mean of their speeds times the time between their moments.
fn distance_run(last: &LastFix, running: Utc, fix: &Fix) -> Millimetres {
    let both = i64::from(last.fix.speed.as_mm_s()).saturating_add(i64::from(fix.speed.as_mm_s()));
    Millimetres::from_mm(mul_div(both, running.since(last.running).as_micros(), 2_000_000))
}

#[cfg(test)]
mod boundaries;
#[cfg(test)]
mod tests;
