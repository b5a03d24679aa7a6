//! One start while it is driven: the world under the driver's hands, the dash in its rig, the boats about him.
//!
//! Time is what [`Session::advance`] is given: nothing here reads a clock, so the same hands at the same moments make the
//! same start, whether a page drives it or a test. When it is over it leaves the heat file that plays it again.
//!
//! Hands and presses in, what the page shows out.

use std::fmt;

use firmware::input::Line;
use firmware::output::Output;
use firmware::units::Span;

use super::board::{BoardAt, OnBoard, Shown};
use super::panel::{Look, Panel};
use super::pilot::Pilot;
use super::plan::{Driven, Files, Mode, Plan};
use super::rivals::Rivals;
use crate::log::Log;
use crate::rig::Rig;
use crate::scenario::{Heat, Report};
use crate::world::course::Course;
use crate::world::craft::{Drive, Hands};
use crate::world::faults::Faults;
use crate::world::guns::{Shot, shots};
use crate::world::live::Live;
use crate::world::maths::{seconds, span};
use crate::world::truth::STEP_S;

/// A start is followed so long after its call, so that he sees what came of it.
const AFTER_CALL: Span = Span::from_secs(6);
/// Who has not crossed by then is no longer waited for.
const GIVEN_UP: Span = Span::from_secs(40);
/// In the mode with the covered clock, it is covered from here to zero.
pub const COVERED_FROM: Span = Span::from_secs(-20);

/// Why no start can be driven.
#[derive(Debug)]
pub struct NoStart(pub String);

impl fmt::Display for NoStart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for NoStart {}

impl From<Report> for NoStart {
    fn from(report: Report) -> Self {
        Self(report.render(false))
    }
}

/// A start under way.
pub struct Session {
    plan: Plan,
    /// The text of the dash's settings.
    settings: String,
    heat: Heat,
    drive: Drive,
    course: Course,
    live: Live,
    rig: Rig,
    /// The real board that is the dash, where there is one.
    board: Option<OnBoard>,
    rivals: Rivals,
    pilot: Pilot,
    panel: Panel,
    shots: Vec<Shot>,
    now: Span,
    /// Throttle and helm as the driver has them.
    wish: Hands,
    /// His first press, which starts a stopwatch.
    first_press: Option<Span>,
    /// Decisions that were looked at.
    heard: usize,
    called: Option<Span>,
    /// How far the bow was past the line a step ago, and when it crossed it for a start.
    past_m: f64,
    crossed: Option<Span>,
}

/// A start that is over.
#[derive(Debug)]
pub struct Finished {
    /// What was practised.
    pub plan: Plan,
    /// The heat as files.
    pub files: Files,
    /// The digest of what the dash decided while it was driven.
    pub digest: [u8; 32],
    /// What the dash recorded meanwhile.
    pub journal: Vec<u8>,
}

impl Session {
    /// Prepares a start; `owner` is the text of the settings that the dash is given.
    ///
    /// # Errors
    /// What is wrong with the settings.
    pub fn new(plan: Plan, owner: &str) -> Result<Self, NoStart> {
        Self::on(plan, owner, None)
    }

    /// The same, with a real board as its dash where one can be reached there.
    ///
    /// # Errors
    /// What is wrong with the settings, or why the board cannot be had.
    pub fn on(plan: Plan, owner: &str, board: Option<&BoardAt>) -> Result<Self, NoStart> {
        let settings = plan.settings(owner).map_err(|error| NoStart(error.to_string()))?;
        let drive = plan.drive();
        let files = plan.files(&settings, &Driven { drive: drive.clone(), ..Driven::default() });
        let heat = files.load()?;
        let live = Live::new(&heat.world, heat.seed);
        let faults = Faults::drawn(&heat.world.faults, heat.seed);
        let mut rig = Rig::new(&heat.settings, None, *live.world().crystal());
        if board.is_some() {
            rig.keep_fed();
        }
        let mut session = Self {
            rig,
            board: None,
            rivals: Rivals::new(&heat.world, heat.seed),
            shots: shots(&heat.world.guns, &faults),
            course: Course::new(&heat.world.course),
            pilot: Pilot::default(),
            panel: Panel::default(),
            now: span(heat.world.begins_s),
            wish: Hands {
                throttle: Hands::of(live.craft().parts().0.power_to_hold(drive.speed_m_s), 0.0).throttle,
                ..drive.at_rest()
            },
            first_press: None,
            heard: 0,
            called: None,
            past_m: 0.0,
            crossed: None,
            plan,
            settings,
            drive,
            heat,
            live,
        };
        session.advance(session.now);
        // Last, so that its clock and the page's begin together.
        let begun = board.map(|at| OnBoard::begin(at, &session.heat.settings));
        session.board = begun.transpose().map_err(|trouble| NoStart(trouble.told(false)))?;
        Ok(session)
    }

    /// Race time up to which it has been driven.
    #[must_use]
    pub const fn now(&self) -> Span {
        self.now
    }

    /// What is practised.
    #[must_use]
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The heat that is played.
    #[must_use]
    pub const fn heat(&self) -> &Heat {
        &self.heat
    }

    /// Where it is run.
    #[must_use]
    pub const fn course(&self) -> &Course {
        &self.course
    }

    /// The guns that fire.
    #[must_use]
    pub fn shots(&self) -> &[Shot] {
        &self.shots
    }

    /// The world as it goes.
    #[must_use]
    pub const fn live(&self) -> &Live {
        &self.live
    }

    /// The boats about him.
    #[must_use]
    pub const fn rivals(&self) -> &Rivals {
        &self.rivals
    }

    /// Throttle and helm as the driver has them, and the lane that the boat holds with steering help.
    #[must_use]
    pub const fn wish(&self) -> (Hands, f64) {
        (self.wish, self.pilot.aside_m())
    }

    /// He moves throttle and helm.
    pub const fn hands(&mut self, throttle: u16, helm: i16) {
        (self.wish.throttle, self.wish.helm) = (throttle, helm);
    }

    /// He opens or shuts the fuel lever.
    pub const fn lever(&mut self, open: bool) {
        self.wish.open = open;
    }

    /// He presses a button or throws a switch, or lets it go. It counts from now on.
    pub fn button(&mut self, line: Line, down: bool) {
        let Some(at) = self.live.edge(self.now, line, down) else { return };
        if down && line == Line::Button {
            self.first_press.get_or_insert(at);
        }
        self.advance(at);
    }

    /// Lets time pass up to `to`.
    pub fn advance(&mut self, to: Span) {
        let step = span(STEP_S);
        while self.live.horizon() + step <= to {
            let hands = self.steered();
            self.live.run(hands);
            self.watch_line();
            self.look(self.live.horizon());
        }
        self.look(to.max(self.live.horizon()));
        self.now = self.now.max(to);
    }

    /// Has the bow crossed the line for a start? The dash may not have been armed, and there is no call then.
    fn watch_line(&mut self) {
        let (east, north) = self.live.craft().pose().place().ahead(self.heat.world.boat.antenna_to_bow_m);
        let (past_m, along_m) = self.course.from_line(east, north);
        let forward = self.past_m < 0.0 && past_m >= 0.0 && (0.0..=self.course.line_m()).contains(&along_m);
        let now = self.live.craft().now();
        if forward && now >= -self.heat.settings.race.early_window {
            self.crossed.get_or_insert(now);
        }
        self.past_m = past_m;
    }

    /// What the hands do in the next step: the driver's own, or the help's for him.
    fn steered(&mut self) -> Hands {
        if !self.plan.steered {
            return self.wish;
        }
        let craft = self.live.craft();
        let wanted = f64::from(self.wish.helm) / f64::from(Hands::FULL);
        let seen = (craft.pose(), craft.motion().1);
        let grip = (self.heat.world.boat.cornering_m_s2, STEP_S);
        let helm = self.pilot.helm(wanted, seen, &self.course, grip);
        Hands { helm: Hands::of(0.0, helm).helm, ..self.wish }
    }

    /// The dash sees everything up to `t`.
    fn look(&mut self, t: Span) {
        while let Some((at, event)) = self.live.next_until(t) {
            self.rig.happen(at, event);
        }
        self.rig.advance(t);
        if let Some(board) = &self.board {
            self.rig.take_fed().into_iter().for_each(|(at, input)| board.feed(at, input));
        }
        let decisions = self.rig.decisions();
        for decided in decisions.get(self.heard..).unwrap_or_default() {
            self.panel.hear(decided.at, &decided.output);
            if matches!(decided.output, Output::Call { .. }) {
                self.called.get_or_insert(decided.t);
            }
        }
        self.heard = decisions.len();
    }

    /// The dash's panel now, and what the dash knows.
    pub fn panel(&mut self) -> (Look, Option<firmware::view::View>) {
        let view = self.rig.view(self.now);
        (self.panel.look(view.as_ref(), &self.heat.settings.screen), view.map(|(_, view)| view))
    }

    /// What is known of the real board, where one is the dash.
    #[must_use]
    pub fn board(&self) -> Option<Shown> {
        self.board.as_ref().map(OnBoard::shown)
    }

    /// Every decision so far.
    #[must_use]
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// May the driver see the dash now?
    #[must_use]
    pub fn dash_is_seen(&self) -> bool {
        match self.plan.mode {
            Mode::Stopwatch => false,
            Mode::Hidden => !(COVERED_FROM..Span::ZERO).contains(&self.now),
            Mode::Dash | Mode::Faults | Mode::Dock => true,
        }
    }

    /// What a stopwatch shows that he started with his first press at the first gun: time to zero as he measures it.
    #[must_use]
    pub fn stopwatch(&self) -> Option<Span> {
        let length = Span::from_secs(i64::from(self.plan.length.seconds()));
        self.first_press.map(|pressed| self.now - pressed - length)
    }

    /// True when there is nothing left to drive.
    #[must_use]
    pub fn is_over(&self) -> bool {
        let made = self.called.or(self.crossed);
        self.now >= GIVEN_UP || made.is_some_and(|made| self.now >= made + AFTER_CALL)
    }

    /// True when the line was crossed for a start, or the dash has called one.
    #[must_use]
    pub const fn is_made(&self) -> bool {
        self.called.is_some() || self.crossed.is_some()
    }

    /// Ends it.
    #[must_use]
    pub fn finish(mut self) -> Finished {
        // To the end of the step that has begun: a recording ends with a whole one.
        let begun = self.live.horizon() + span(STEP_S);
        if self.now > self.live.horizon() {
            self.advance(begun);
        }
        let (drive, presses, ends) = self.live.recorded(&self.drive);
        let driven = Driven { drive, presses, ends: Some(ends) };
        let files = self.plan.files(&self.settings, &driven);
        let Log { digest, journal, .. } =
            self.rig.into_log(&self.heat.title, self.heat.seed, self.heat.world.zero_utc);
        Finished { plan: self.plan, files, digest, journal }
    }

    /// How late each of his presses at a gun was, seconds: by the gun's place in the procedure.
    #[must_use]
    pub fn reactions(shots: &[Shot], presses: &[crate::world::script::Press]) -> Vec<(f64, f64)> {
        let taken = |shot: &Shot| {
            let late = |at: Span| seconds(at - shot.fired);
            let mut pressed =
                presses.iter().filter(|press| press.line == Line::Button).map(|press| late(press.at));
            pressed
                .find(|late| (REACTION_LEAST_S..REACTION_MOST_S).contains(late))
                .map(|late| (shot.due_before_s, late))
        };
        shots.iter().filter(|shot| shot.due_before_s > 0.0).filter_map(taken).collect()
    }
}

/// Sooner than this nobody reacts: he guessed. Later, he did something else first. Common practice, no source.
const REACTION_LEAST_S: f64 = 0.08;
const REACTION_MOST_S: f64 = 1.5;
