//! One real dash and one law book, side by side, and what happens to both.
//!
//! A [`Stage`] is a state of the search. [`Stage::after`] lets time run to the next moment that matters, lets something
//! happen there, and gives the stage afterwards with every difference between what the dash decided and what the
//! book demands. The dash gets what a board would get: edges with their bounce, pulses each second, fixes with
//! their labels.

use firmware::course::CourseSettings;
use firmware::dash::Dash;
use firmware::gnss::{Fix, Position};
use firmware::gun::Hand;
use firmware::input::{Input, Line};
use firmware::output::{Cause, Counted, Output, Tone};
use firmware::resume::{ClockCarried, RESTART_SD, Resume};
use firmware::settings::Settings;
use firmware::units::{
    CentiDegrees, Instant, Millimetres, MmPerSecond, NanoDegrees, PartsPerBillion, Span, Utc,
};

use super::book::{Armed, Book, Demand, Fact, Figures};

/// Something that can happen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Event {
    /// Nothing: only time passes.
    Quiet,
    /// A clean press of the button.
    Press,
    /// The same from a contact that bounces, on the way down and up.
    Bounce,
    /// The gun contact closes.
    Contact,
    /// The bow crosses the line in racing direction.
    Forward,
    /// The bow crosses it the other way.
    Backward,
    /// The page button.
    Page,
    /// The button is held until the clock is cleared.
    Hold,
    /// The receiver's pulse is lost, or comes back.
    Pulses,
    /// The board's program is restarted with the power on.
    Restart,
}

impl Event {
    /// The alphabet.
    pub const ALL: [Self; 10] = [
        Self::Quiet,
        Self::Press,
        Self::Bounce,
        Self::Contact,
        Self::Forward,
        Self::Backward,
        Self::Page,
        Self::Hold,
        Self::Pulses,
        Self::Restart,
    ];

    /// In words, for a heat file's comment.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Quiet => "nothing happens",
            Self::Press => "the button is pressed",
            Self::Bounce => "the button is pressed, and bounces",
            Self::Contact => "the gun contact closes",
            Self::Forward => "the bow crosses the line",
            Self::Backward => "the bow crosses the line the wrong way",
            Self::Page => "the page button is pressed",
            Self::Hold => "the button is held for 2.1 s",
            Self::Pulses => "the receiver's pulse goes, or comes back",
            Self::Restart => "the program is restarted, with the power on",
        }
    }
}

/// A difference between the dash and the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// The rule that is broken.
    pub rule: &'static str,
    /// What was demanded and what was decided.
    pub says: String,
}

/// What a step showed.
#[derive(Clone, Debug, Default)]
pub struct Findings {
    /// Every difference, first seen first.
    pub breaches: Vec<Breach>,
    /// The rules that demanded something.
    pub demanded: Vec<&'static str>,
}

/// What every stage has in common.
#[derive(Clone, Debug)]
pub struct Scene {
    /// What the dash runs on.
    pub settings: Settings,
    /// The same for the book.
    pub figures: Figures,
}

/// A dash and a book that have seen the same.
#[derive(Clone, Debug)]
pub struct Stage {
    /// The real dash.
    pub dash: Dash,
    /// What the rules make of it.
    pub book: Book,
    /// The board's clock, microseconds.
    pub now: i64,
    /// True while the receiver's pulse comes.
    pub pulses: bool,
}

/// The label of the board's first moment: an invented day.
pub const BOOT_UTC: Utc = Utc::from_unix_micros(1_936_811_100_000_000);

/// Switched on, with a fix and some pulses behind it.
const WARM: i64 = 10_000_000;

/// A fix reaches the board so long after its moment: the receiver's latency in the settings.
const LATENCY: i64 = 60_000;

/// A crossing takes so long from its first fix to its last; the bow is on the line in the middle.
pub const CROSSING_TAKES: i64 = 700_000;

/// A press lasts so long; a hold clears after 2 s.
const PRESS: i64 = 100_000;
const CLEARS: i64 = 2_000_000;

/// A restart takes so long; so long after it pulses and fixes have tied the clock to UTC again.
const RESTART: i64 = 350_000;
const HEARD: i64 = 2_000_000;

/// After its last edge a line is left in peace for longer than it may bounce.
const PEACE: i64 = 30_000;

/// The dash and the book round in different places: microseconds, and the crystal's part of a few more.
const ROUNDING: i64 = 100;

impl Scene {
    /// An invented line 157 m long, heats of one lap, all else as it ships; the crystal is perfect and known to be.
    #[must_use]
    pub fn new() -> Self {
        let mut settings = Settings::bare();
        settings.race.laps = 1;
        settings.timebase.crystal_sd = PartsPerBillion::ZERO;
        settings.course = Some(CourseSettings {
            line_left: beside(-78.5, 0.0),
            line_right: beside(78.5, 0.0),
            line_sd: Millimetres::ZERO,
            end_tolerance: Millimetres::from_mm(2_000),
            lap_length: Millimetres::from_mm(4_000_000),
        });
        let figures = Figures::of(&settings);
        Self { settings, figures }
    }

    /// A board that was just switched on, and one that was also told a scheduled zero 320 s ahead.
    #[must_use]
    pub fn beginnings(&self) -> [Stage; 2] {
        let fresh = || {
            let (dash, book) = (Dash::new(&self.settings), Book::default());
            let mut stage = Stage { dash, book, now: 0, pulses: true };
            stage.pass(1_000_000);
            stage.fix(1_000_000, (300.0, -30.0), true);
            stage.pass(WARM);
            stage
        };
        let mut scheduled = fresh();
        let zero = WARM + 320_000_000;
        let _ = scheduled
            .dash
            .feed(instant(WARM), Input::Schedule { zero: BOOT_UTC.plus(Span::from_micros(zero)) });
        scheduled.book.clock = Some(Armed { zero, scheduled: true, ..Armed::default() });
        [fresh(), scheduled]
    }
}

impl Default for Scene {
    fn default() -> Self {
        Self::new()
    }
}

impl Figures {
    fn of(settings: &Settings) -> Self {
        let (gun, race) = (&settings.gun, &settings.race);
        let us = |span: Span| span.as_micros();
        let sd = |span: Span| span.as_micros() as f64;
        let whole = |list: &[u16]| list.iter().map(|s| i64::from(*s)).collect();
        Self {
            signals_s: whole(&gun.signals_s),
            thumb_us: (us(gun.reaction_mean), sd(gun.reaction_sd), sd(gun.reaction_mean_sd)),
            contact_us: (us(gun.contact_delay), sd(gun.contact_sd)),
            gate: (f64::from(gun.gate_sigmas), sd(gun.gate_least)),
            replace_us: us(gun.replace_within),
            rename_us: 30_000_000,
            window_us: us(race.early_window),
            lap_us: us(race.lap_shortest),
            laps: race.laps,
            close_sigmas: f64::from(race.too_close_sigmas),
            counts_s: whole(&settings.counts_s),
        }
    }
}

impl Stage {
    /// What is there after `event` at `moment`, and every rule that the dash broke on the way.
    #[must_use]
    pub fn after(&self, scene: &Scene, moment: i64, event: Event) -> (Self, Findings) {
        let mut next = self.clone();
        let mut seen = Findings::default();
        next.run_to(moment, &scene.figures, &mut seen);
        next.happen(event, scene, &mut seen);
        next.stands_where_the_book_stands(event, &mut seen);
        (next, seen)
    }

    fn happen(&mut self, event: Event, scene: &Scene, seen: &mut Findings) {
        let figures = &scene.figures;
        match event {
            Event::Quiet => {}
            Event::Press => self.hand(Line::Button, &[(0, true), (PRESS, false)], figures, seen),
            Event::Bounce => self.hand(Line::Button, &BOUNCING, figures, seen),
            Event::Contact => self.hand(Line::GunContact, &[(0, true), (PRESS, false)], figures, seen),
            Event::Page => self.hand(Line::Page, &[(0, true), (PRESS, false)], figures, seen),
            Event::Hold => self.hold(figures, seen),
            Event::Forward | Event::Backward => self.cross(event == Event::Forward, figures, seen),
            Event::Pulses => self.pulses = !self.pulses,
            Event::Restart => self.restart(scene, seen),
        }
    }

    /// A line goes down and up; the first edge is the press, whatever follows.
    fn hand(&mut self, line: Line, edges: &[(i64, bool)], figures: &Figures, seen: &mut Findings) {
        let from = self.now;
        for (place, (after, active)) in edges.iter().enumerate() {
            self.run_to(from + after, figures, seen);
            let before = self.zero();
            let decided = self.feed(Input::Edge { line, active: *active });
            let demands = match line {
                _ if place > 0 => Vec::new(),
                Line::Button => self.book.signal(figures, Hand::Thumb, from),
                Line::GunContact => self.book.signal(figures, Hand::Contact, from),
                _ => self.book.page(figures, from),
            };
            // What follows the first edge is bounce, or the release.
            let extra = match line {
                _ if place > 0 => "C1",
                Line::Page => "C9",
                _ if self.book.clock.as_ref().is_some_and(|armed| armed.scheduled) => "C8",
                _ => "C6",
            };
            self.compare(&demands, &decided, (before, Some(extra)), seen);
        }
        if edges.len() > 1 {
            self.run_to(self.now + PEACE, figures, seen);
        }
    }

    /// The bow goes across: from beside the line, over it, to beside it, where no way back crosses it.
    fn cross(&mut self, forward: bool, figures: &Figures, seen: &mut Findings) {
        let (from, way) = (self.now, if forward { 1.0 } else { -1.0 });
        let path =
            [(100_000, 300.0, -25.0), (300_000, 0.0, -5.0), (400_000, 0.0, 5.0), (600_000, 300.0, 25.0)];
        for (after, east, north) in path {
            self.run_to(from + after + LATENCY, figures, seen);
            let before = self.zero();
            let decided = self.fix(from + after, (east, north * way), forward);
            let crossed = decided.iter().find_map(|output| match output {
                Output::Crossing { sigma, forward, .. } => Some((*forward, sigma.as_micros() as f64)),
                _ => None,
            });
            let demands = match (after == 400_000, crossed) {
                (true, Some((_, sigma))) => {
                    self.book.crossing(figures, from + CROSSING_TAKES / 2, forward, sigma)
                }
                (true, None) => vec![("L3", Fact::Crossing(Counted::WrongWay))],
                (false, _) => Vec::new(),
            };
            self.compare(&demands, &decided, (before, None), seen);
        }
        self.run_to(from + CROSSING_TAKES, figures, seen);
    }

    fn fix(&mut self, at: i64, (east, north): (f64, f64), forward: bool) -> Vec<Output> {
        let fix = Fix {
            utc: BOOT_UTC.plus(Span::from_micros(at)),
            position: beside(east, north),
            speed: MmPerSecond::from_mm_s(100_000),
            course: CentiDegrees::from_centi(if forward { 0 } else { 18_000 }),
            position_sd: None,
            speed_sd: None,
            hdop_centi: None,
            valid: true,
        };
        self.now = self.now.max(at + LATENCY);
        self.feed(Input::Fix(fix))
    }

    /// The button goes down, clears, and comes up.
    fn hold(&mut self, figures: &Figures, seen: &mut Findings) {
        let from = self.now;
        self.hand(Line::Button, &[(0, true)], figures, seen);
        self.run_to(from + CLEARS - 1, figures, seen);
        let before = self.zero();
        let mut demands = self.book.counts(figures, self.now, from + CLEARS);
        let decided = self.pass(from + CLEARS);
        demands.extend(self.book.held());
        self.compare(&demands, &decided, (before, None), seen);
        self.run_to(from + CLEARS + PRESS, figures, seen);
        let decided = self.feed(Input::Edge { line: Line::Button, active: false });
        self.compare(&[], &decided, (self.zero(), None), seen);
        self.run_to(self.now + PEACE, figures, seen);
    }

    /// The watchdog bites: a fresh dash is told what the old one knew, on the board's clock that carried on; then the
    /// receiver is heard again.
    fn restart(&mut self, scene: &Scene, seen: &mut Findings) {
        let carried = self.dash.carried(instant(self.now));
        self.dash = Dash::new(&scene.settings);
        self.now += RESTART;
        let clock = ClockCarried::CarriedOn { sd: RESTART_SD };
        let decided = match carried {
            Some(carried) => self.feed(Input::Resume(Resume { carried, clock })),
            None => Vec::new(),
        };
        let demands = self.book.restarted();
        self.compare(&demands, &decided, (self.zero(), Some("P5")), seen);
        let before = self.zero();
        let decided = self.fix(self.now, (300.0, -30.0), true);
        self.compare(&[], &decided, (before, Some("P5")), seen);
        self.run_to(self.now + HEARD, &scene.figures, seen);
    }

    /// Time passes, and nothing but counts is due.
    fn run_to(&mut self, to: i64, figures: &Figures, seen: &mut Findings) {
        let (from, before) = (self.now, self.zero());
        let decided = self.pass(to);
        let demands = self.book.counts(figures, from, to);
        self.compare(&demands, &decided, (before, None), seen);
    }

    /// Time passes: pulses, and whatever the dash asked to be woken for.
    fn pass(&mut self, to: i64) -> Vec<Output> {
        let mut decided = Vec::new();
        while self.now < to {
            let second = (self.now / 1_000_000 + 1) * 1_000_000;
            let wake = self.dash.next_wake().map_or(i64::MAX, |wake| micros(wake).max(self.now + 1));
            self.now = to.min(wake).min(if self.pulses { second } else { i64::MAX });
            let pulse = self.pulses && self.now == second;
            decided.extend(self.feed(if pulse { Input::Pps } else { Input::Tick }));
        }
        decided
    }

    fn feed(&mut self, input: Input) -> Vec<Output> {
        self.dash.feed(instant(self.now), input).as_slice().to_vec()
    }

    fn zero(&self) -> Option<i64> {
        self.dash.clock().zero().map(|zero| micros(zero.at))
    }

    /// Every decision is demanded, and every demand decided, in the same order.
    fn compare(
        &self,
        demands: &[Demand],
        decided: &[Output],
        (before, extra): (Option<i64>, Option<&'static str>),
        seen: &mut Findings,
    ) {
        let facts = facts(decided);
        let silent =
            self.zero() != before && !facts.iter().any(|fact| matches!(fact, Fact::Zero(_) | Fact::Cleared));
        if silent {
            let says = format!("zero went from {before:?} to {:?} and nobody was told", self.zero());
            seen.breaches.push(Breach { rule: "C11", says });
        }
        seen.demanded.extend(demands.iter().map(|(rule, _)| *rule));
        for place in 0..demands.len().max(facts.len()) {
            let (demand, fact) = (demands.get(place), facts.get(place));
            let rule = match (demand, fact) {
                (Some((_, wanted)), Some(fact)) if same(wanted, fact) => continue,
                (Some((rule, _)), _) => rule,
                // A count belongs to its own second, whatever else happens then.
                (None, Some(fact @ (Fact::Count | Fact::ZeroSound))) => fact.forbidden_by(),
                (None, Some(fact)) => extra.unwrap_or(fact.forbidden_by()),
                (None, None) => continue,
            };
            let says = format!("demanded {:?}, decided {fact:?}", demand.map(|(_, wanted)| wanted));
            return seen.breaches.push(Breach { rule, says });
        }
    }

    /// Zero, and whether a heat is on, are what the rules make of it.
    fn stands_where_the_book_stands(&self, event: Event, seen: &mut Findings) {
        if !seen.breaches.is_empty() {
            return;
        }
        let book = self.book.clock.as_ref().map(|armed| armed.zero);
        let near = match (self.zero(), book) {
            (Some(dash), Some(book)) => (dash - book).abs() <= ROUNDING,
            (dash, book) => dash == book,
        };
        if !near {
            let says = format!("zero is at {:?}, the rules put it at {book:?}", self.zero());
            seen.breaches.push(Breach { rule: "C11", says });
        }
        let (dash, book) = (self.dash.race().is_started(), self.book.heat.is_some());
        if dash != book {
            let says = format!("a heat is on: {dash}, by the rules: {book}");
            let rule = if event == Event::Restart { "P5" } else { "C7" };
            seen.breaches.push(Breach { rule, says });
        }
    }
}

/// Down and up with bounce for 15 ms each; less than 25 ms between edges.
const BOUNCING: [(i64, bool); 8] = [
    (0, true),
    (4_000, false),
    (9_000, true),
    (PRESS, false),
    (PRESS + 4_000, true),
    (PRESS + 9_000, false),
    (PRESS + 14_000, true),
    (PRESS + 15_000, false),
];

/// What the rules speak of among all that was decided.
fn facts(decided: &[Output]) -> Vec<Fact> {
    decided.iter().filter_map(fact).collect()
}

fn fact(decided: &Output) -> Option<Fact> {
    Some(match *decided {
        Output::Zero { at, .. } => Fact::Zero(micros(at)),
        Output::Stray { contact, why } => Fact::Stray(if contact { Hand::Contact } else { Hand::Thumb }, why),
        Output::Cleared => Fact::Cleared,
        Output::Crossing { counted, .. } => Fact::Crossing(counted),
        Output::Call { call, revised, .. } => Fact::Call(call, revised),
        Output::Penalty { cause: Cause::EarlyStart, laps, .. } => Fact::Owed(laps),
        Output::Lap { lap, .. } => Fact::Lap(lap),
        Output::Finish { laps, .. } => Fact::Finish(laps),
        Output::Cue(Tone::Count) => Fact::Count,
        Output::Cue(Tone::Zero) => Fact::ZeroSound,
        _ => return None,
    })
}

/// Alike, but for the rounding of a zero.
fn same(wanted: &Fact, fact: &Fact) -> bool {
    match (wanted, fact) {
        (Fact::Zero(wanted), Fact::Zero(fact)) => (wanted - fact).abs() <= ROUNDING,
        _ => wanted == fact,
    }
}

/// A moment on the board's clock.
#[must_use]
pub fn instant(us: i64) -> Instant {
    Instant::from_micros(u64::try_from(us).unwrap_or(0))
}

/// The same as a number.
#[must_use]
pub fn micros(at: Instant) -> i64 {
    i64::try_from(at.as_micros()).unwrap_or(i64::MAX)
}

/// East and north of the middle of the line, which lies on an invented piece of ocean. Metres per degree at latitude
/// 45 on WGS 84, by the usual series.
#[must_use]
pub fn beside(east_m: f64, north_m: f64) -> Position {
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(45.0 + north_m / 111_131.8), lon: nano(-30.0 + east_m / 78_846.8) }
}
