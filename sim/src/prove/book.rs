//! The law book as a machine: what the rules say must be decided, worked out apart from the dash.
//!
//! Written from `docs/timing-logic.md` alone, in floating point, and shares nothing with the firmware but the words
//! of its decisions. Happenings go in; the decisions that the rules demand come out, each with the rule that demands
//! it. Rules C1 to C9, C11, C12, S1 to S7, L1 to L4 and L8. Times are microseconds on the board's clock.

use firmware::gun::Hand;
use firmware::output::{Call, Counted, Stray};

/// The figures of the rules, as the settings give them.
#[derive(Clone, Debug)]
pub struct Figures {
    /// Seconds from each signal to zero, in the order they come.
    pub signals_s: Vec<i64>,
    /// How late the thumb is, on average; its spread; how well the mean is known.
    pub thumb_us: (i64, f64, f64),
    /// How late the contact is; its spread.
    pub contact_us: (i64, f64),
    /// The gate: so many sigmas, and at least so much.
    pub gate: (f64, f64),
    /// Beyond the gate, but within this, a signal replaces zero.
    pub replace_us: i64,
    /// So long after arming the page button may rename the signal.
    pub rename_us: i64,
    /// The early window.
    pub window_us: i64,
    /// The shortest lap.
    pub lap_us: i64,
    /// Laps of the rules.
    pub laps: u16,
    /// A margin within so many sigmas is too close.
    pub close_sigmas: f64,
    /// Seconds before zero at which a count sounds.
    pub counts_s: Vec<i64>,
}

/// A decision that matters to the rules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fact {
    /// Zero was set or moved there.
    Zero(i64),
    /// A press or closure was not taken.
    Stray(Hand, Stray),
    /// Clock and heat were cleared.
    Cleared,
    /// A crossing counted as this.
    Crossing(Counted),
    /// The start was called, or called anew.
    Call(Call, bool),
    /// Laps owed for an early start.
    Owed(u16),
    /// A lap ended.
    Lap(u16),
    /// The heat ended after so many laps.
    Finish(u16),
    /// A count sounded.
    Count,
    /// Zero sounded.
    ZeroSound,
}

impl Fact {
    /// The rule that forbids it where no rule demands it.
    #[must_use]
    pub const fn forbidden_by(self) -> &'static str {
        match self {
            Self::Zero(_) => "C11",
            Self::Stray(..) => "C6",
            Self::Cleared => "C7",
            Self::Crossing(_) => "S1",
            Self::Call(_, false) => "S3",
            Self::Call(_, true) => "S7",
            Self::Owed(_) => "S5",
            Self::Lap(_) => "L1",
            Self::Finish(_) => "L4",
            Self::Count | Self::ZeroSound => "C12",
        }
    }
}

/// A decision that a rule demands.
pub type Demand = (&'static str, Fact);

/// An observation of zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// By which hand.
    pub hand: Hand,
    /// Place in the list of signals.
    pub signal: usize,
    /// When the signal was given.
    pub given: i64,
}

/// The clock, once armed.
#[derive(Clone, Debug, Default)]
pub struct Armed {
    /// Where zero is.
    pub zero: i64,
    /// One standard deviation of that.
    pub sigma: f64,
    /// True when it rests on a schedule.
    pub scheduled: bool,
    /// What it rests on; under a schedule, what was confirmed.
    pub seen: Vec<Seen>,
    /// When it was armed by hand.
    pub armed_at: Option<i64>,
    /// The zero that came through a restart, as one observation: by which hand, where, and its sigma.
    pub carried: Option<(Hand, i64, f64)>,
    /// Signals taken before a restart.
    pub taken: Vec<(Hand, usize)>,
}

/// The heat, once started.
#[derive(Clone, Copy, Debug)]
pub struct Racing {
    /// When the bow crossed at the start.
    pub start: i64,
    /// The crossing's own sigma.
    pub sigma: f64,
    /// The call in force.
    pub call: Call,
    /// The last crossing that counted.
    pub last: i64,
    /// Laps done.
    pub laps: u16,
    /// True once the last lap owed is done.
    pub finished: bool,
}

/// What the rules make of all that happened so far.
#[derive(Clone, Debug, Default)]
pub struct Book {
    /// Place of the signal that the next press counts for while the clock waits.
    pub expected: usize,
    /// The clock.
    pub clock: Option<Armed>,
    /// The heat.
    pub heat: Option<Racing>,
}

impl Book {
    /// A press or closure, at its first edge.
    pub fn signal(&mut self, figures: &Figures, hand: Hand, at: i64) -> Vec<Demand> {
        let given = at - figures.delay(hand);
        let Some(armed) = &mut self.clock else {
            let seen = Seen { hand, signal: self.expected, given };
            let mut armed = Armed { seen: vec![seen], armed_at: Some(at), ..Armed::default() };
            armed.settle(figures);
            let rule = if figures.delay(hand) > 0 { "C2" } else { "C1" };
            let demands = vec![(rule, Fact::Zero(armed.zero))];
            self.clock = Some(armed);
            return demands;
        };
        let (signal, off) = figures.nearest(given, armed.zero);
        let taken = armed.seen.iter().any(|seen| (seen.hand, seen.signal) == (hand, signal))
            || armed.taken.contains(&(hand, signal));
        let stray = |why| vec![("C6", Fact::Stray(hand, why))];
        let better_than_a_thumb = armed.scheduled
            || armed.carried.is_some_and(|(hand, ..)| hand == Hand::Contact)
            || armed.seen.iter().any(|seen| seen.hand == Hand::Contact);
        let within = off.abs() as f64 <= armed.gate(figures, hand);
        if !within && off.abs() > figures.replace_us {
            let past = given - armed.zero > figures.replace_us;
            return stray(if past { Stray::RaceOn } else { Stray::NoSignalDue });
        }
        if taken {
            return stray(Stray::AlreadyTaken);
        }
        if within && armed.scheduled {
            armed.seen.push(Seen { hand, signal, given });
            return Vec::new();
        }
        if within {
            armed.seen.push(Seen { hand, signal, given });
            return self.moved("C3", figures);
        }
        if hand == Hand::Thumb && better_than_a_thumb {
            return vec![("C5", Fact::Stray(hand, Stray::Overruled))];
        }
        (armed.scheduled, armed.seen) = (false, vec![Seen { hand, signal, given }]);
        (armed.carried, armed.taken) = (None, Vec::new());
        self.moved("C4", figures)
    }

    /// The page button.
    pub fn page(&mut self, figures: &Figures, at: i64) -> Vec<Demand> {
        let signals = figures.signals_s.len();
        let Some(armed) = &mut self.clock else {
            self.expected = (self.expected + 1) % signals;
            return Vec::new();
        };
        let late = armed.armed_at.is_none_or(|armed_at| at - armed_at > figures.rename_us);
        if armed.scheduled || late || armed.seen.iter().any(|seen| seen.signal != self.expected) {
            return Vec::new();
        }
        self.expected = (self.expected + 1) % signals;
        armed.seen.iter_mut().for_each(|seen| seen.signal = self.expected);
        self.moved("C9", figures)
    }

    /// The board was restarted with its power on: zero, the signals taken and the heat are what they were. All that was
    /// seen becomes one observation, of the better kind.
    pub fn restarted(&mut self) -> Vec<Demand> {
        self.expected = 0;
        let Some(armed) = &mut self.clock else { return Vec::new() };
        armed.armed_at = None;
        if !armed.scheduled {
            let contact = |hand: &Hand| *hand == Hand::Contact;
            let before = armed.carried.map(|(hand, ..)| hand);
            let by_contact = armed.seen.iter().map(|seen| seen.hand).chain(before).any(|hand| contact(&hand));
            let hand = if by_contact { Hand::Contact } else { Hand::Thumb };
            armed.carried = Some((hand, armed.zero, armed.sigma));
        }
        armed.taken.extend(armed.seen.drain(..).map(|seen| (seen.hand, seen.signal)));
        vec![("P2", Fact::Zero(armed.zero))]
    }

    /// The button was held for long enough.
    pub fn held(&mut self) -> Vec<Demand> {
        *self = Self::default();
        vec![("C7", Fact::Cleared)]
    }

    /// Zero is where the observations put it: said, and a start already made is called anew.
    fn moved(&mut self, rule: &'static str, figures: &Figures) -> Vec<Demand> {
        let Some(armed) = &mut self.clock else { return Vec::new() };
        armed.settle(figures);
        let mut demands = vec![(rule, Fact::Zero(armed.zero))];
        if let Some(heat) = self.heat.as_mut().filter(|heat| !heat.finished) {
            let call = armed.call(figures, heat.start, heat.sigma);
            demands.push(("S7", Fact::Call(call, true)));
            demands.extend(heat.called(call));
        }
        demands
    }

    /// The bow crossed the line; `sigma` is what the dash says of the crossing itself.
    pub fn crossing(&mut self, figures: &Figures, at: i64, forward: bool, sigma: f64) -> Vec<Demand> {
        let counts = |rule, counted| (rule, Fact::Crossing(counted));
        let (Some(armed), true) = (&self.clock, forward) else {
            let milling = self.clock.is_none() && forward;
            return vec![if milling {
                counts("S1", Counted::Milling)
            } else {
                counts("L3", Counted::WrongWay)
            }];
        };
        let Some(heat) = &mut self.heat else {
            if at - armed.zero < -figures.window_us {
                return vec![counts("S2", Counted::Milling)];
            }
            let call = armed.call(figures, at, sigma);
            let mut heat = Racing { start: at, sigma, call: Call::Legal, last: at, laps: 0, finished: false };
            let rule = if at < armed.zero { "S2" } else { "S3" };
            let mut demands =
                vec![counts(rule, Counted::Start), (rule_of(call, armed, at), Fact::Call(call, false))];
            demands.extend(heat.called(call));
            self.heat = Some(heat);
            return demands;
        };
        if heat.finished {
            return vec![counts("L3", Counted::AfterFinish)];
        }
        if at - heat.last < figures.lap_us {
            return vec![counts("L2", Counted::TooSoon)];
        }
        (heat.last, heat.laps) = (at, heat.laps + 1);
        let mut demands = vec![counts("L1", Counted::Lap), ("L1", Fact::Lap(heat.laps))];
        if heat.laps >= figures.laps + u16::from(heat.call == Call::Early) {
            heat.finished = true;
            let rule = if heat.call == Call::Early { "L4" } else { "L8" };
            demands.push((rule, Fact::Finish(heat.laps)));
        }
        demands
    }

    /// The counts that sound after `from` and up to `to`.
    #[must_use]
    pub fn counts(&self, figures: &Figures, from: i64, to: i64) -> Vec<Demand> {
        let Some(armed) = &self.clock else { return Vec::new() };
        let due = |moment: i64| from < moment && moment <= to;
        let counts = figures.counts_s.iter().filter(|s| due(armed.zero - **s * 1_000_000));
        let mut demands: Vec<Demand> = counts.map(|_| ("C12", Fact::Count)).collect();
        demands.extend(due(armed.zero).then_some(("C12", Fact::ZeroSound)));
        demands
    }
}

/// Which rule a first call hangs on.
fn rule_of(call: Call, armed: &Armed, at: i64) -> &'static str {
    match call {
        Call::TooClose => "S6",
        _ if at < armed.zero => "S5",
        _ => "S4",
    }
}

impl Racing {
    /// The call in force changes; a penalty is given or withdrawn with it.
    fn called(&mut self, call: Call) -> Option<Demand> {
        let was_early = std::mem::replace(&mut self.call, call) == Call::Early;
        let early = call == Call::Early;
        (early != was_early).then_some(("S5", Fact::Owed(u16::from(early))))
    }
}

impl Armed {
    /// A margin against its error bar.
    fn call(&self, figures: &Figures, crossed: i64, sigma: f64) -> Call {
        let margin = crossed - self.zero;
        let bar = if self.scheduled { sigma } else { sigma.hypot(self.sigma) };
        if (margin.abs() as f64) < figures.close_sigmas * bar {
            Call::TooClose
        } else if margin < 0 {
            Call::Early
        } else {
            Call::Legal
        }
    }

    /// How far from zero an observation by this hand still agrees.
    fn gate(&self, figures: &Figures, hand: Hand) -> f64 {
        let own = match hand {
            Hand::Thumb => figures.thumb_us.1,
            Hand::Contact => figures.contact_us.1,
        };
        (self.sigma.hypot(own) * figures.gate.0).max(figures.gate.1)
    }

    /// Zero by all that was seen: each hand's mean, then both by inverse variance. A schedule stands alone.
    fn settle(&mut self, figures: &Figures) {
        if self.scheduled {
            return;
        }
        let mean = |hand: Hand| {
            let (own, shared) = match hand {
                Hand::Thumb => (figures.thumb_us.1, figures.thumb_us.2),
                Hand::Contact => (figures.contact_us.1, 0.0),
            };
            let of = self.seen.iter().filter(|seen| seen.hand == hand);
            let mut zeros: Vec<(f64, f64)> =
                of.map(|seen| (figures.zero_by(seen) as f64, own.powi(-2))).collect();
            // What was carried has the part that all of its kind share in it already.
            let carried = self.carried.filter(|(kind, ..)| *kind == hand);
            zeros
                .extend(carried.map(|(_, zero, sigma)| {
                    (zero as f64, (sigma.powi(2) - shared.powi(2)).max(1.0).recip())
                }));
            // About the first, so that small differences of large numbers keep their digits.
            let (first, _) = *zeros.first()?;
            let weight: f64 = zeros.iter().map(|(_, weight)| weight).sum();
            let moment: f64 = zeros.iter().map(|(zero, weight)| (zero - first) * weight).sum();
            Some((first + moment / weight, weight.sqrt().recip().hypot(shared)))
        };
        let (zero, sigma) = match (mean(Hand::Thumb), mean(Hand::Contact)) {
            (Some((a, sa)), Some((b, sb))) => {
                let (wa, wb) = (sa.powi(-2), sb.powi(-2));
                (a + (b - a) * wb / (wa + wb), (wa + wb).sqrt().recip())
            }
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => return,
        };
        (self.zero, self.sigma) = (zero.round() as i64, sigma);
    }
}

impl Figures {
    fn delay(&self, hand: Hand) -> i64 {
        match hand {
            Hand::Thumb => self.thumb_us.0,
            Hand::Contact => self.contact_us.0,
        }
    }

    /// Where an observation puts zero.
    #[must_use]
    pub fn zero_by(&self, seen: &Seen) -> i64 {
        seen.given + self.signals_s.get(seen.signal).map_or(0, |s| s * 1_000_000)
    }

    /// The signal that comes nearest, and by how much zero would have to move for it.
    fn nearest(&self, given: i64, zero: i64) -> (usize, i64) {
        let offs = self.signals_s.iter().map(|s| given + s * 1_000_000 - zero);
        offs.enumerate().min_by_key(|(_, off)| off.abs()).unwrap_or((0, i64::MAX))
    }
}
