//! A second opinion: zero, crossings, call, laps and finish, worked out anew from what a record says was measured.
//!
//! It shares no code with the dash's deciding path; it knows the law book, floating point, and geodesics from a library.
//! It sees the whole record at once: the tie between the board's clock and UTC is looked at from both sides of each
//! moment, where the dash had only what had come. What a crossing counted as hangs on zero as it stood then (rule S7), so
//! the events are gone through in order.
//!
//! Not part of it: the speed floor's penalties (group F), the engine (group E) and the run-in (group G).
//!
//! A heat's inputs in, an opinion out.

pub mod crossing;
mod race;
pub mod tie;
pub mod zero;

use firmware::input::{Input, Line};
use firmware::resume::{Carried, ClockCarried};
use firmware::settings::Settings;

use super::record::{HeatParts, Life, Step};
use crossing::{Bow, Watch};
pub use race::{Called, Counted, Lap, Race, Seen};
use tie::{Moment, Tie, micros};
use zero::{Clock, Contact, Rests, Zero};

/// What it came to. Moments are seconds of UTC since 1970 in one piece; without any UTC, of the board's clock.
#[derive(Clone, Debug)]
pub struct Opinion {
    /// Zero.
    pub zero: Option<Zero>,
    /// Its place on the board's clock of the heat's last life, seconds.
    pub zero_on_board_s: Option<f64>,
    /// Crossings, call, laps and finish.
    pub race: Race,
    /// Where the bow was at every fix.
    pub bows: Vec<Bow>,
    /// The line's length in metres.
    pub line_m: Option<f64>,
    /// Whether UTC was known.
    pub knows_utc: bool,
    /// Pulses used.
    pub pulses: usize,
    /// The crystal's error, parts per million.
    pub drift_ppm: Option<f64>,
    /// By how many seconds the receiver's labels jumped in all.
    pub relabel_s: f64,
}

/// Goes through a heat; `settings` are those of the record.
#[must_use]
pub fn opinion(heat: &HeatParts, lives: &[Life], settings: &Settings) -> Opinion {
    let ties = ties(heat, lives, settings);
    let knows_utc = ties.iter().any(|tie| !tie.is_none());
    let mut court = Court {
        settings,
        clock: Clock::new(settings, knows_utc),
        waiting: None,
        watch: Watch::new(settings),
        race: Race::new(settings),
        bows: Vec::new(),
    };
    for (number, (part, tie)) in heat.0.iter().zip(&ties).enumerate() {
        let Some(life) = lives.get(part.life) else { continue };
        court.life(life, tie, &part.steps, number == 0);
    }
    let zero = court.clock.zero();
    let last = ties.last();
    Opinion {
        zero_on_board_s: zero.as_ref().and_then(|zero| Some(last?.board(zero.at.s))),
        zero,
        line_m: court.watch.as_ref().map(|watch| watch.length_m),
        race: court.race,
        bows: court.bows,
        knows_utc,
        pulses: ties.iter().map(Tie::pulses).sum(),
        drift_ppm: last.and_then(Tie::drift_ppm),
        relabel_s: last.map_or(0.0, |tie| tie.relabel_s),
    }
}

/// The tie of each life of the heat; one that knows no UTC borrows its neighbour's where the board's clock carried on.
fn ties(heat: &HeatParts, lives: &[Life], settings: &Settings) -> Vec<Tie> {
    let steps = |place: usize| -> &[Step] {
        heat.0.get(place).and_then(|part| lives.get(part.life)).map_or(&[], |life| &life.steps)
    };
    let mut ties: Vec<Tie> = Vec::new();
    for place in 0..heat.0.len() {
        let relabel_s = ties.last().map_or(0.0, |tie| tie.relabel_s);
        ties.push(Tie::of(steps(place), settings, relabel_s));
    }
    for place in 1..ties.len() {
        let carried_on = resume(steps(place)).is_some_and(|(_, clock)| clock != ClockCarried::Unknown);
        let borrowed = match (ties.get(place - 1), ties.get(place)) {
            (Some(before), Some(after)) if carried_on && before.is_none() => Some((place - 1, after.clone())),
            (Some(before), Some(after)) if carried_on && after.is_none() => Some((place, before.clone())),
            _ => None,
        };
        if let Some((to, tie)) = borrowed {
            // The fixes stay each life's own: they are counted by its steps.
            if let Some(own) = ties.get_mut(to) {
                let fixes = std::mem::take(&mut own.fixes);
                *own = tie;
                own.fixes = fixes;
            }
        }
    }
    ties
}

fn resume(steps: &[Step]) -> Option<(Carried, ClockCarried)> {
    match steps.first()?.input {
        Input::Resume(resume) => Some((resume.carried, resume.clock)),
        _ => None,
    }
}

/// Goes through the events.
struct Court<'a> {
    settings: &'a Settings,
    clock: Clock<'a>,
    /// A schedule that waits for UTC.
    waiting: Option<f64>,
    watch: Option<Watch<'a>>,
    race: Race,
    bows: Vec<Bow>,
}

impl Court<'_> {
    fn life(&mut self, life: &Life, tie: &Tie, range: &std::ops::Range<usize>, first: bool) {
        if let Some(watch) = self.watch.as_mut() {
            watch.restart();
        }
        if let (true, Some((carried, clock))) = (first, resume(&life.steps)) {
            self.take_over(&carried, clock, tie);
        }
        let (mut button, mut contact, mut page) =
            (Contact::default(), Contact::default(), Contact::default());
        let mut fixes = tie.fixes.iter().peekable();
        for (number, step) in life.steps.iter().enumerate() {
            // What was before belongs to another heat, and still moves the lines and the boat.
            let counts = range.contains(&number);
            match step.input {
                Input::Edge { line, active } => {
                    let quiet = micros(self.settings.gun.debounce.as_micros());
                    let at_s = micros(step.at.as_micros() as i64);
                    let begins = match line {
                        Line::Button => button.edge(at_s, active, quiet),
                        Line::GunContact => contact.edge(at_s, active, quiet),
                        Line::Page => page.edge(at_s, active, quiet),
                        _ => false,
                    };
                    if begins && counts {
                        self.pressed(line, tie.utc(at_s).s);
                    }
                }
                Input::Fix(fix) => {
                    let Some(labelled) = fixes.next_if(|fix| fix.step == number) else { continue };
                    self.fix(labelled.utc_s, &fix, tie, counts);
                }
                Input::Schedule { zero } if counts => {
                    let zero_s = micros(zero.as_unix_micros());
                    if self.race_may_be_scheduled(step, tie, zero_s) {
                        self.schedule(zero_s + tie.relabel_s);
                    }
                }
                _ => {}
            }
        }
    }

    fn pressed(&mut self, line: Line, at_s: f64) {
        if line == Line::Page {
            self.clock.next_signal(at_s);
        } else {
            self.clock.signal(line, at_s);
        }
        self.race.zero_is(self.clock.zero());
    }

    /// One that comes before UTC is known waits for the first fix; one whose zero is past is refused (rule C8).
    fn race_may_be_scheduled(&mut self, step: &Step, tie: &Tie, zero_s: f64) -> bool {
        let board_s = micros(step.at.as_micros() as i64);
        let known = tie.fixes.first().is_some_and(|fix| tie.board(fix.utc_s) <= board_s);
        if !known {
            self.waiting = Some(zero_s);
        }
        known && tie.utc(board_s).s < zero_s
    }

    fn schedule(&mut self, utc_s: f64) {
        self.clock.fix(Zero { at: Moment { s: utc_s, sigma_s: 0.0 }, rests: Rests::Schedule });
        self.race.zero_is(self.clock.zero());
    }

    fn fix(&mut self, utc_s: f64, fix: &firmware::gnss::Fix, tie: &Tie, counts: bool) {
        let waited = self.waiting.take_if(|_| counts).map(|zero_s| zero_s + tie.relabel_s);
        if let Some(zero_s) = waited.filter(|zero_s| *zero_s > utc_s) {
            self.schedule(zero_s);
        }
        let Some(watch) = self.watch.as_mut() else { return };
        let (bow, crossing) = watch.fix(utc_s, fix);
        if !counts {
            return;
        }
        self.bows.push(bow);
        self.race.run_on(&bow);
        if let Some(crossing) = crossing {
            let tie_sigma_s = tie.utc(tie.board(crossing.at.s)).sigma_s;
            self.race.crossing(crossing, tie_sigma_s);
        }
    }

    /// What stood before the record is not in it: what was carried is taken over, unexamined.
    fn take_over(&mut self, carried: &Carried, clock: ClockCarried, tie: &Tie) {
        let Some(known) = carried.known_zero else { return };
        let at = match (known.utc, clock) {
            (Some(label), _) => micros(label.utc.as_unix_micros()) + tie.relabel_s,
            (None, ClockCarried::CarriedOn { .. }) => tie.utc(micros(known.at.as_micros() as i64)).s,
            (None, ClockCarried::Unknown) => return,
        };
        let sigma_s = micros(known.sigma.as_micros());
        self.clock.fix(Zero { at: Moment { s: at, sigma_s }, rests: Rests::Carried });
        self.race.zero_is(self.clock.zero());
        self.race.take_over(&carried.race, tie.relabel_s);
    }
}
