//! A heat while it is driven: the truth grows step by step under somebody's hands, and the sensors see it as it comes.
//!
//! It hands out exactly what a [`World`] of the same settings hands out that has the drive as a recording: same events,
//! same order, same bits. For that the truth runs one step ahead of the sensors, who look between two steps, and the
//! moments of presses are kept apart from everything else that was known beforehand.
//!
//! Hands and presses in, events out, and at the end the drive as a recording.

use std::sync::Arc;

use firmware::input::Line;
use firmware::units::Span;

use super::craft::{Craft, Drive, Hands, HandsAt};
use super::script::Press;
use super::switches::{Thrown, is_switch};
use super::truth::{STEP_S, Truth};
use super::{SensorEvent, Turn, World, WorldSettings, with_a_light};

/// Presses are stamped to this; the next edge is at least so much later than the one before.
const EDGE_STEP: Span = Span::from_millis(1);

/// A world that is not over yet.
#[derive(Clone, Debug)]
pub struct Live {
    world: World,
    craft: Craft,
    hands: Hands,
    /// Every move of the hands so far.
    moves: Vec<HandsAt>,
    /// The engine's switches so far.
    thrown: Thrown,
    /// Every press so far; those without a length are held still.
    presses: Vec<Press>,
    /// No later than this the board has seen everything.
    seen: Span,
    last_edge: Span,
}

impl Live {
    /// Draws a heat whose boat is driven from now on; the settings' own drive says where she begins.
    #[must_use]
    pub fn new(settings: &WorldSettings, seed: u64) -> Self {
        let (settings, _) = &with_a_light(settings, seed);
        let drive = settings.drive.clone().unwrap_or_default();
        let (truth, craft) = Truth::set_out(settings, &drive);
        let mut world = World::around(settings, seed, truth);
        let [.., end] = &mut world.due;
        *end = Span::MAX;
        let begins = craft.now();
        let mut live = Self {
            world,
            craft,
            hands: drive.at_rest(),
            moves: Vec::new(),
            thrown: Thrown::default(),
            presses: Vec::new(),
            seen: begins + Span::from_micros(-1),
            last_edge: begins,
        };
        live.step();
        live
    }

    /// The boat; she is one step ahead of what the sensors may look at.
    #[must_use]
    pub const fn craft(&self) -> &Craft {
        &self.craft
    }

    /// What the sensors and the board's clock are.
    #[must_use]
    pub const fn world(&self) -> &World {
        &self.world
    }

    /// Up to here the sensors may look.
    #[must_use]
    pub fn horizon(&self) -> Span {
        self.craft.now() + Span::from_micros(-((STEP_S * 1e6) as i64))
    }

    /// The hands are there now, and the boat runs a step.
    pub fn run(&mut self, hands: Hands) {
        if hands != self.hands {
            self.hands = hands;
            self.moves.push(HandsAt { at: self.craft.now(), hands });
        }
        self.step();
    }

    fn step(&mut self) {
        let Self { craft, thrown, .. } = self;
        thrown.until(craft.now()).for_each(|(line, on)| craft.throw(line, on));
        self.craft.step(self.hands);
        if let Some(truth) = Arc::get_mut(&mut self.world.truth) {
            truth.note(&self.craft);
        }
        let horizon = self.horizon();
        let World { receiver, pps, .. } = &mut self.world;
        receiver.iter_mut().for_each(|receiver| receiver.extend(horizon));
        pps.iter_mut().for_each(|pps| pps.extend(horizon));
        for turn in [Turn::Pps, Turn::Receiver, Turn::Shafts] {
            if self.world.due.get(turn as usize) == Some(&Span::MAX) {
                self.world.plan(turn);
            }
        }
    }

    /// A button or switch goes down or up at about `at`; the moment that it was given, which no other event shares.
    ///
    /// The engine is ahead of the board by a step, and a switch counts for both: so it is thrown no earlier than the
    /// engine's next step.
    pub fn edge(&mut self, at: Span, line: Line, active: bool) -> Option<Span> {
        let held = self.presses.iter_mut().rev().find(|press| press.line == line && press.held.is_none());
        if held.is_some() == active {
            return None;
        }
        let of_engine = is_switch(line);
        let at = if of_engine { at.max(self.craft.now()) } else { at };
        let step = EDGE_STEP.as_micros();
        let mut at = at.max(self.seen + Span::from_micros(1)).max(self.last_edge + EDGE_STEP);
        at = Span::from_micros(-(-at.as_micros()).div_euclid(step) * step);
        while self.world.script.iter().any(|(other, _)| *other == at) {
            at = at + EDGE_STEP;
        }
        match held {
            Some(press) => press.held = Some(at - press.at),
            None => self.presses.push(Press { at, line, held: None }),
        }
        self.last_edge = at;
        if of_engine {
            self.thrown.push(at, line, active);
        }
        let script = &mut self.world.script;
        let place = script.partition_point(|(other, _)| *other < at);
        script.insert(place, (at, SensorEvent::Edge { line, active }));
        self.world.plan(Turn::Script);
        Some(at)
    }

    /// The next event up to `t`, which must lie before the boat; when there is none, everything up to `t` was seen.
    pub fn next_until(&mut self, t: Span) -> Option<(Span, SensorEvent)> {
        let t = t.min(self.craft.now() + Span::from_micros(-1));
        while self.world.turn().is_some_and(|(at, _)| at <= t) {
            if let Some(event) = self.world.next_event_once() {
                return Some(event);
            }
        }
        self.seen = self.seen.max(t);
        None
    }

    /// The drive as a recording, the presses, and when the heat ends. What is still held stays so past the end.
    #[must_use]
    pub fn recorded(&self, drive: &Drive) -> (Drive, Vec<Press>, Span) {
        let ends = self.horizon();
        let beyond = |press: &Press| ends - press.at + Span::from_secs(1);
        let presses =
            self.presses.iter().map(|press| Press { held: press.held.or(Some(beyond(press))), ..*press });
        (Drive { hands: self.moves.clone(), ..drive.clone() }, presses.collect(), ends)
    }
}
