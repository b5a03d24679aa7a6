//! What the board of a heat sees: the world's sensors and the recordings in one stream, in order of time, cut to
//! the part of the heat that is played.
//!
//! A heat goes in; events in true time and the crystal that stamps them come out. The rig plays them into a dash,
//! [`stimulus`](crate::stimulus) writes them down for a board's pins.

use firmware::units::Span;

use crate::recording::{engine_events, receiver_events};
use crate::scenario::{BoatSource, EngineSource, Heat};
use crate::world::crystal::Crystal;
use crate::world::faults::Faults;
use crate::world::maths::seconds;
use crate::world::{SensorEvent, World, WorldSettings};

/// One event and its true time.
pub type Timed = (Span, SensorEvent);

/// The part of a heat that is played, race time. The board is switched on when it begins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Part {
    /// When the board is switched on; none: when the heat says.
    pub from: Option<Span>,
    /// When it ends; none: when the heat ends.
    pub until: Option<Span>,
}

impl Part {
    /// The whole heat.
    pub const WHOLE: Self = Self { from: None, until: None };

    /// Is this moment in it? Its first moment is, its end is not.
    #[must_use]
    pub fn contains(&self, t: Span) -> bool {
        self.from.is_none_or(|from| from <= t) && self.until.is_none_or(|until| t < until)
    }
}

/// The sensors of a heat.
#[derive(Debug)]
pub struct Sensors {
    world: World,
    recorded: Vec<Timed>,
    part: Part,
}

impl Sensors {
    /// Draws the world of a heat and reads its recordings.
    #[must_use]
    pub fn new(heat: &Heat, part: Part) -> Self {
        let sentences = match &heat.boat {
            BoatSource::World => Vec::new(),
            BoatSource::Recording { bytes, .. } => sentences(heat, bytes),
        };
        let world = match &heat.boat {
            BoatSource::World => World::new(&heat.world, heat.seed),
            BoatSource::Recording { .. } => World::new(&around(&heat.world, &sentences), heat.seed),
        };
        let mut recorded = sentences;
        recorded.extend(engine_table(heat, &world));
        Self { world, recorded, part }
    }

    /// The world that they look at.
    #[must_use]
    pub const fn world(&self) -> &World {
        &self.world
    }

    /// The board's crystal, switched on when the part begins.
    #[must_use]
    pub fn crystal(&self) -> Crystal {
        let crystal = *self.world.crystal();
        self.part.from.map_or(crystal, |from| crystal.rebooted(from))
    }

    /// The events in order of time; of those at one moment the world's first.
    #[must_use]
    pub fn events(self) -> Box<dyn Iterator<Item = Timed>> {
        let Self { world, recorded, part } = self;
        let all: Box<dyn Iterator<Item = Timed>> =
            if recorded.is_empty() { Box::new(world) } else { Box::new(in_order(world.chain(recorded))) };
        if part == Part::WHOLE {
            return all;
        }
        let ends = move |event: &SensorEvent| part.until.is_some() && *event == SensorEvent::End;
        let within = all
            .skip_while(move |(t, _)| part.from.is_some_and(|from| *t < from))
            .take_while(move |(t, event)| part.contains(*t) && !ends(event));
        Box::new(within.chain(part.until.map(|until| (until, SensorEvent::End))))
    }
}

/// A receiver's recording as events.
fn sentences(heat: &Heat, nmea: &[u8]) -> Vec<Timed> {
    let faults = Faults::new(&heat.world.faults);
    receiver_events(nmea, heat.world.zero_utc, heat.settings.timebase.latency, &faults)
}

/// The world that begins before the first sentence and ends after the last.
fn around(world: &WorldSettings, sentences: &[Timed]) -> WorldSettings {
    let mut around = world.clone();
    let first = sentences.first().map_or(world.begins_s, |(t, _)| seconds(*t) - 10.0);
    let last = sentences.last().map_or(0.0, |(t, _)| seconds(*t) + 3.0);
    let earliest_press = world.presses.iter().map(|press| seconds(press.at) - 1.0).fold(0.0, f64::min);
    around.begins_s = first.min(earliest_press).min(0.0);
    around.ends_s = Some(last.max(around.begins_s));
    around.crystal.boots_at_s = around.crystal.boots_at_s.min(around.begins_s - 5.0);
    around
}

/// An engine's recording as events.
fn engine_table(heat: &Heat, world: &World) -> Vec<Timed> {
    match &heat.engine {
        EngineSource::World => Vec::new(),
        EngineSource::Recording(rows) => {
            let sensors = (&heat.world.probe, &heat.world.pickups);
            engine_events(rows, sensors, (world.crystal(), heat.seed), world.faults())
        }
    }
}

/// All events by time; of those at one moment the earlier in the list first.
fn in_order(events: impl Iterator<Item = Timed>) -> impl Iterator<Item = Timed> {
    let mut list: Vec<_> = events.filter(|(_, event)| *event != SensorEvent::End).collect();
    list.sort_by_key(|(t, _)| *t);
    list.into_iter()
}
