//! The world: the truth of a heat, and what the sensors make of it.
//!
//! [`WorldSettings`] and a seed go in. The whole truth is worked out first; then [`World`] hands out what the
//! board's sensors would see of it, one event after the other in true time, for the rig to stamp by the
//! board's clock and feed to the dash. Reports ask the same world what really happened.
//!
//! True time is race time: a `Span` since the true zero, negative before it, so UTC is `zero_utc` plus that.
//! Equal settings and seed give equal events, bit for bit, on any machine. Nothing here knows the dash.

pub mod boat;
pub mod course;
pub mod craft;
pub mod crystal;
pub mod draw;
pub mod driver;
pub mod engine;
pub mod faults;
pub mod guns;
pub mod helm;
pub mod live;
pub mod maths;
pub mod pickup;
pub mod probe;
pub mod receiver;
pub mod script;
pub mod settings;
mod shafts;
pub mod switches;
pub mod thumb;
pub mod truth;
pub mod wire;

use std::collections::VecDeque;
use std::sync::Arc;

use firmware::input::{self, Line, ProbeReading, Pulses};
use firmware::units::Span;

pub use self::settings::{Feeds, Unfit, WorldSettings};
pub use self::truth::{TrueCrossing, TrueState, Truth};
pub use self::wire::Bytes;

use self::crystal::Crystal;
use self::draw::{Draw, Purpose};
use self::faults::Faults;
use self::probe::Probe;
use self::receiver::{Pps, Receiver};
use self::script::Script;
use self::shafts::Shafts;
use self::thumb::Thumb;

/// The wires of the two pickups.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wire {
    /// The gas generator's.
    N1,
    /// The power shaft's.
    N2,
}

impl Wire {
    /// What the table of pins calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::N1 => "n1",
            Self::N2 => "n2",
        }
    }
}

/// One thing that the board would see.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SensorEvent {
    /// An input line changed its level at this very moment.
    Edge {
        /// Which line.
        line: Line,
        /// True when the button went down or the contact closed.
        active: bool,
    },
    /// The receiver's pulse per second rose.
    PpsEdge,
    /// A sentence or frame: its last byte's stop bit has just ended; the ones before it came at the line's rate.
    ReceiverBytes(Bytes),
    /// A thermocouple chip was read.
    ProbeFrame {
        /// Which probe: 0 for the first.
        index: u8,
        /// What it answered.
        reading: ProbeReading,
    },
    /// The pulses of both shafts since the last report, in microseconds of the board's own clock.
    ShaftPulses {
        /// The gas generator's pickup.
        n1: Pulses,
        /// The power shaft's pickup.
        n2: Pulses,
    },
    /// The power shaft's last turns, told early because the newest is news.
    N2Turns {
        /// How long each took on the board's own clock, oldest first.
        turns: [Span; input::TURNS],
    },
    /// A pulse of a shaft's pickup: told only where it is asked for, since the board counts them itself.
    Pulse {
        /// On whose wire.
        wire: Wire,
    },
    /// The board loses its power. Nothing more comes until it is back, when its counter begins anew.
    PowerBlip {
        /// For how long it is off.
        off: Span,
    },
    /// The board's program hangs. Nothing more is heard until the watchdog has restarted it.
    WatchdogReset {
        /// For how long it is deaf.
        off: Span,
    },
    /// The heat is over; nothing follows.
    End,
}

/// One heat: its truth, and the events that its sensors make of it.
#[derive(Clone, Debug)]
pub struct World {
    /// Shared with whoever asks what really happened: it is some megabytes.
    truth: Arc<Truth>,
    crystal: Crystal,
    faults: Faults,
    script: VecDeque<(Span, SensorEvent)>,
    receiver: Option<Receiver>,
    pps: Option<Pps>,
    probe: Option<Probe>,
    shafts: Option<Shafts>,
    /// While the board is off nothing reaches it.
    off_until: Span,
    /// When each source has its next event, in the order of [`Turn`]; `Span::MAX` for never.
    due: [Span; 6],
    drawn: Vec<(String, String)>,
}

/// Who has the next event. At one and the same moment the first of the list goes first.
#[derive(Clone, Copy, Debug)]
enum Turn {
    Script,
    Pps,
    Receiver,
    Probe,
    Shafts,
    End,
}

const TURNS: [Turn; 6] = [Turn::Script, Turn::Pps, Turn::Receiver, Turn::Probe, Turn::Shafts, Turn::End];

impl World {
    /// Draws a heat and works out its truth.
    #[must_use]
    pub fn new(settings: &WorldSettings, seed: u64) -> Self {
        let error_s = Draw::new(seed, Purpose::Driver).normal(0.0, settings.driver.timing_sd_s);
        let (settings, light) = &with_a_light(settings, seed);
        let mut world = Self::around(settings, seed, Truth::run(settings, error_s));
        world.drawn.insert(1, ("driver's misjudgement of the start".to_owned(), format!("{error_s:+.4} s")));
        world.drawn.insert(3, light.clone());
        world
    }

    /// Draws a start of the engine at the dock, with nobody on the water.
    #[must_use]
    pub fn at_dock(settings: &WorldSettings, seed: u64) -> Self {
        let (settings, _) = &with_a_light(settings, seed);
        Self::around(settings, seed, Truth::at_dock(settings))
    }

    /// The sensors round a truth.
    fn around(settings: &WorldSettings, seed: u64, truth: Truth) -> Self {
        let extent = truth.extent();
        let faults = Faults::drawn(&settings.faults, seed);
        let crystal = Crystal::new(&settings.crystal, seed);
        let thumb = Thumb::new(&settings.thumb, seed);
        let mut drawn = vec![
            ("crystal error".to_owned(), format!("{:+.3} ppm at zero", crystal.error_ppm())),
            ("driver's own mean reaction".to_owned(), format!("{:.4} s", thumb.mean_s())),
        ];
        let shots = guns::shots(&settings.guns, &faults);
        let mut script = Script::new(&settings.thumb, thumb, &shots, &settings.presses, &faults);
        if settings.dock.switches {
            script.switches(truth.moves());
        }
        let receiver = Receiver::new(&settings.receiver, settings.zero_utc, extent, seed);
        let pps = Pps::new(&settings.receiver, settings.zero_utc, extent, seed);
        drawn.extend(script.reactions.iter().map(|(before, late)| {
            (format!("reaction at the signal {before} s before zero"), format!("{late:.4} s"))
        }));
        let (east, north) = receiver.offset_m();
        drawn.push(("receiver's first error".to_owned(), format!("{east:+.3} m east, {north:+.3} m north")));
        let feeds = settings.feeds;
        let mut world = Self {
            receiver: feeds.receiver.then_some(receiver),
            pps: feeds.pps.then_some(pps),
            probe: feeds.probe.then(|| Probe::new(&settings.probe, extent.0, seed)),
            shafts: feeds.shafts.then(|| Shafts::new(&settings.pickups, extent.0, seed)),
            script: script.events.into(),
            off_until: extent.0,
            due: [Span::MAX; 6],
            truth: Arc::new(truth),
            crystal,
            faults,
            drawn,
        };
        for turn in TURNS.into_iter().rev() {
            world.plan(turn); // the end goes first: it clears the list
        }
        let [.., end] = &mut world.due;
        *end = extent.1;
        world
    }

    /// Every drawn option, to be printed before all else: what it is, and its value.
    #[must_use]
    pub fn drawn(&self) -> &[(String, String)] {
        &self.drawn
    }

    /// The crystal of the board.
    #[must_use]
    pub const fn crystal(&self) -> &Crystal {
        &self.crystal
    }

    /// What goes wrong; for a rig that plays recordings instead of a sensor and applies the faults itself.
    #[must_use]
    pub const fn faults(&self) -> &Faults {
        &self.faults
    }

    /// The heat as it really went.
    #[must_use]
    pub const fn truth(&self) -> &Arc<Truth> {
        &self.truth
    }

    /// The next event that the board sees, and its true time; none after [`SensorEvent::End`].
    pub fn next_event(&mut self) -> Option<(Span, SensorEvent)> {
        while self.turn().is_some() {
            if let Some(event) = self.next_event_once() {
                return Some(event);
            }
        }
        None
    }

    /// What the next source has to tell, which is nothing while the board is off.
    fn next_event_once(&mut self) -> Option<(Span, SensorEvent)> {
        let (at, turn) = self.turn()?;
        let event = self.take(turn);
        self.plan(turn);
        match event {
            Some(event) if at >= self.off_until || event == SensorEvent::End => {
                if let SensorEvent::PowerBlip { off } | SensorEvent::WatchdogReset { off } = event {
                    self.off_until = at + off;
                }
                Some((at, event))
            }
            _ => {
                self.shafts.iter_mut().for_each(Shafts::forget);
                None
            }
        }
    }

    /// Who is next, and when.
    fn turn(&self) -> Option<(Span, Turn)> {
        let all = self.due.iter().copied().zip(TURNS);
        all.reduce(|first, other| if other.0 < first.0 { other } else { first })
            .filter(|(at, _)| *at < Span::MAX)
    }

    /// Notes when a source has its next event; after the end, none has.
    fn plan(&mut self, turn: Turn) {
        let [script, pps, receiver, probe, shafts, _] = &mut self.due;
        let (due, next) = match turn {
            Turn::Script => (script, self.script.front().map(|(at, _)| *at)),
            Turn::Pps => (pps, self.pps.as_mut().and_then(|pps| pps.due(&self.faults))),
            Turn::Receiver => (
                receiver,
                self.receiver.as_mut().and_then(|receiver| receiver.due(&self.truth, &self.faults)),
            ),
            Turn::Probe => (probe, self.probe.as_ref().map(Probe::due)),
            Turn::Shafts => {
                (shafts, self.shafts.as_mut().and_then(|it| it.due(&self.truth, &self.crystal, &self.faults)))
            }
            Turn::End => {
                self.due = [Span::MAX; 6];
                return;
            }
        };
        *due = next.unwrap_or(Span::MAX);
    }

    /// The event that a source had due.
    fn take(&mut self, turn: Turn) -> Option<SensorEvent> {
        let (truth, faults) = (&self.truth, &self.faults);
        match turn {
            Turn::Script => self.script.pop_front().map(|(_, event)| event),
            Turn::Pps => self.pps.as_mut()?.take().map(|_| SensorEvent::PpsEdge),
            Turn::Receiver => self.receiver.as_mut()?.take().map(SensorEvent::ReceiverBytes),
            Turn::Probe => {
                let reading = self.probe.as_mut()?.read(truth, faults);
                Some(SensorEvent::ProbeFrame { index: 0, reading })
            }
            Turn::Shafts => self.shafts.as_mut()?.take(),
            Turn::End => Some(SensorEvent::End),
        }
    }
}

/// The settings with the light-off of this heat, and what was drawn for it.
fn with_a_light(settings: &WorldSettings, seed: u64) -> (WorldSettings, (String, String)) {
    let mut settings = settings.clone();
    let engine = &mut settings.engine;
    let late_s = Draw::new(seed, Purpose::Light).normal(0.0, engine.light_delay_sd_s);
    engine.light_delay_s = (engine.light_delay_s + late_s).max(0.0);
    let drawn = ("from spark and fuel to light-off".to_owned(), format!("{:.4} s", engine.light_delay_s));
    (settings, drawn)
}

impl Iterator for World {
    type Item = (Span, SensorEvent);

    fn next(&mut self) -> Option<Self::Item> {
        self.next_event()
    }
}
