//! The supervised start: which step of the dock's sequence the engine is in, and what is wrong with it.
//!
//! It advises and switches nothing. The step is inferred from N1, from EGT (a rise above the coolest while cranking
//! is fire) and from the dock's switches where they are wired; a switch that was never seen is unknown. Without any
//! switch the sequence is followed by N1 and EGT alone.
//!
//! Values that may be believed flow in whenever the engine room settles, steps flow out, conditions can be asked
//! for. Time alone can change both: `due` says when. The rules are D of the law book.
//!
//! This room knows the units, the outputs, the views and the engine's settings.

mod cooling;
mod rise;
mod sequence;
mod settings;
mod starter;
mod steady;
mod switches;
mod warnings;

pub use settings::{StartSettings, Wired};

use super::{EngineSettings, Known};
use crate::input::Line;
use crate::output::{AlertId, Output, Outputs, StartStep};
use crate::units::{CentiPercent, Instant, MilliCelsius, Span};
use crate::view::{StartAct, StartView};
use cooling::Cooling;
use rise::Rise;
use sequence::Seen;
use starter::Starter;
use steady::Steady;
use switches::Switches;
use warnings::HOT_LASTS;

/// How many alerts the start can ask for.
pub const START_CONDITIONS: usize = 8;

/// More deadlines than can be open at once: every `due` below, and each warning once more.
pub(super) const START_DEADLINES: usize = 12 + 2 * START_CONDITIONS;

/// A start that is done is shown for so long (common practice, no source).
const READY_SHOWN: Span = Span::from_secs(10);

/// N1 that falls by this much is falling; noise of a pickup is less (common practice, no source).
const FALLS_BY: CentiPercent = CentiPercent::from_centi(100);

/// N1 counts as falling for so long after it was last seen to (common practice, no source).
const FALLING_LASTS: Span = Span::from_millis(1_500);

/// One start, from the first switch to power.
#[derive(Clone, Debug)]
pub(super) struct Start {
    step: StartStep,
    since: Instant,
    switches: Switches,
    rise: Rise,
    starter: Starter,
    cooling: Cooling,
    /// The coolest EGT while cranking: fire is a rise above it.
    coolest: Option<MilliCelsius>,
    /// The hottest since light-off.
    hottest: MilliCelsius,
    /// Since when fuel is on: by its switch, or by inference and then maybe in the future.
    fuel: Option<Instant>,
    fuel_was: Option<bool>,
    /// N1 at light-off.
    lit_at: Option<CentiPercent>,
    /// When N1 last gained something worth the name, and from what it has to gain again.
    gained: Option<(Instant, CentiPercent)>,
    /// The N1 below which it falls, and when it last did.
    top: CentiPercent,
    fell: Option<Instant>,
    /// Since when N1 has been that of an idle.
    idles: Option<Instant>,
    /// When N1 was last that of power.
    power: Option<Instant>,
    /// Since when neither N1 nor EGT are known.
    blind: Option<Instant>,
    /// Reads that say that the limit is near, less those that do not.
    near: u8,
    /// Reads in a row that say that EGT is about to be over it.
    close: u8,
    /// When it was last said for either reason.
    hot: Option<Instant>,
    /// When the gas will be at its limit, as of the last read.
    reaches: Option<Instant>,
    said: [Steady; START_CONDITIONS],
    due: Option<Instant>,
}

impl Start {
    /// An engine at rest.
    pub(super) fn new() -> Self {
        Self {
            step: StartStep::AtRest,
            since: Instant::BOOT,
            switches: Switches::default(),
            rise: Rise::default(),
            starter: Starter::default(),
            cooling: Cooling::default(),
            coolest: None,
            hottest: MilliCelsius::ZERO,
            fuel: None,
            fuel_was: None,
            lit_at: None,
            gained: None,
            top: CentiPercent::ZERO,
            fell: None,
            idles: None,
            power: None,
            blind: None,
            near: 0,
            close: 0,
            hot: None,
            reaches: None,
            said: [Steady::default(); START_CONDITIONS],
            due: None,
        }
    }

    /// One of the dock's switches moved.
    pub(super) fn switch(&mut self, at: Instant, line: Line, active: bool, settings: &EngineSettings) {
        self.switches.edge(at, line, active, &settings.start.wired);
    }

    /// The thermocouples were read: EGT is this, if it is known.
    pub(super) fn read(&mut self, at: Instant, egt: Option<MilliCelsius>, settings: &EngineSettings) {
        match egt {
            Some(egt) if self.rise.read(at, egt) => self.look_ahead(at, settings),
            Some(_) => {}
            None => self.rise.forget(),
        }
    }

    /// What is known at `at`: the step and the conditions follow.
    pub(super) fn see(&mut self, at: Instant, known: Known, settings: &EngineSettings, out: &mut Outputs) {
        self.switches.settle(at);
        if known.egt.is_none() {
            self.rise.forget();
            (self.hot, self.reaches, self.near, self.close) = (None, None, 0, 0);
        }
        let seen = self.seen(at, known, settings);
        self.follow_fuel(&seen, settings);
        self.follow_shaft(&seen, settings);
        self.follow_heat(&seen);
        // No more steps than there are can follow from one look.
        for _ in 0..=StartStep::Cooling as u8 {
            let Some(next) = self.next(&seen, settings) else { break };
            self.enter(next, &seen, out);
        }
        self.starter.see(at, self.starter_is_on(&seen), &settings.start);
        self.warn(&seen, settings);
        self.due = self.first_due(&seen, settings);
    }

    /// When time alone will change something.
    pub(super) const fn due(&self) -> Option<Instant> {
        self.due
    }

    /// Which alerts the start asks for.
    pub(super) fn conditions(&self) -> [(AlertId, bool); START_CONDITIONS] {
        let mut conditions = warnings::IDS.map(|id| (id, false));
        for ((_, holds), said) in conditions.iter_mut().zip(&self.said) {
            *holds = said.holds();
        }
        conditions
    }

    /// What a screen may show; nothing when no start is going on.
    pub(super) fn view(&self, at: Instant, settings: &EngineSettings) -> Option<StartView> {
        let in_step = at.since(self.since);
        let goes_on = match self.step {
            StartStep::AtRest | StartStep::Running => false,
            StartStep::Ready => in_step <= READY_SHOWN && self.lit_at.is_some(),
            StartStep::Cooling => self.cooling.is_given_up(),
            _ => true,
        };
        goes_on.then(|| StartView {
            step: self.step,
            in_step,
            to_limit: self.reaches.filter(|_| self.may_get_hot()).map(|when| when.since(at).max(Span::ZERO)),
            starter: self.starter.view(at, &settings.start),
            act: self.act(),
            demonstration: settings.start.demonstration || settings.demonstration,
        })
    }

    /// What to do about the gravest condition; the engine maker's manual rules.
    fn act(&self) -> Option<StartAct> {
        warnings::IDS.iter().zip(&self.said).find(|(_, said)| said.holds()).map(|(id, _)| warnings::act(*id))
    }

    /// A new step: its time begins, and what it is judged by.
    fn enter(&mut self, next: StartStep, seen: &Seen, out: &mut Outputs) {
        let took = seen.at.since(self.since);
        out.push(Output::StartStep { step: next, took });
        let from = self.step;
        (self.step, self.since) = (next, seen.at);
        match next {
            StartStep::AtRest => {
                (self.coolest, self.fuel, self.lit_at, self.gained) = (None, None, None, None);
            }
            StartStep::Lit => {
                self.hottest = seen.level.unwrap_or(MilliCelsius::ZERO);
                self.lit_at = seen.n1;
                self.gained = seen.n1.map(|n1| (seen.at, n1));
            }
            StartStep::Accelerating => self.lit_at = self.lit_at.or(seen.n1),
            StartStep::Cooling => {
                self.cooling = Cooling::begin(seen.at, seen.level, sequence::is_start(from));
                (self.coolest, self.fuel) = (seen.level, None);
            }
            _ => {}
        }
    }

    /// The first of all deadlines still to come.
    fn first_due(&self, seen: &Seen, settings: &EngineSettings) -> Option<Instant> {
        let start = &settings.start;
        let hangs =
            self.gained.filter(|_| sequence::may_hang(self.step)).map(|(at, _)| at.plus(start.hung_after));
        let due = [
            self.switches.due(),
            self.starter.due(start),
            self.fuel,
            self.fuel.map(|at| at.plus(start.light_off_within)),
            hangs,
            self.hot.map(|at| at.plus(HOT_LASTS)),
            self.idles.map(|at| at.plus(sequence::IDLE_HOLDS)),
            self.power.map(|at| at.plus(start.shut_down_after)),
            self.blind.map(|at| at.plus(sequence::BLIND_LASTS)),
            self.cooling.falls_by(start).filter(|_| self.step == StartStep::Cooling),
            self.cooling.stands_by().filter(|_| self.step == StartStep::Cooling),
        ]
        .into_iter()
        .chain(self.said.iter().map(|said| said.due()))
        .flatten();
        let first = |first: Option<Instant>, due: Instant| {
            if due > seen.at { Some(first.map_or(due, |first| first.min(due))) } else { first }
        };
        due.fold(None, first)
    }
}

#[cfg(test)]
mod tests;
