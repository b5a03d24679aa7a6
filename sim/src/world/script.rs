//! The rare events of a heat, all known before it begins: presses, gun contacts, the power going.
//!
//! Guns, thumb, scripted presses and faults go in; one list in time order comes out.
//!
//! This room knows guns, thumb and faults.

use firmware::input::Line;
use firmware::units::Span;

use super::SensorEvent;
use super::faults::{FaultKind, Faults};
use super::guns::Shot;
use super::maths::{seconds, span};
use super::thumb::{Bounce, Cue, Thumb, ThumbSettings};

/// A press that the heat file orders.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Press {
    /// When the contact first closes, race time.
    pub at: Span,
    /// Which button.
    pub line: Line,
    /// How long it is held; none: as long as this driver holds a button.
    pub held: Option<Span>,
}

/// The list, and the reactions drawn on the way.
#[derive(Clone, Debug)]
pub struct Script {
    /// What happens, in time order.
    pub events: Vec<(Span, SensorEvent)>,
    /// Seconds before zero of each signal pressed at, and how late the thumb was.
    pub reactions: Vec<(f64, f64)>,
}

/// The hand at work, while the list is being written.
struct Hand<'a> {
    settings: &'a ThumbSettings,
    thumb: Thumb,
    faults: &'a Faults,
    events: Vec<(Span, SensorEvent)>,
}

impl Hand<'_> {
    fn press(&mut self, at: Span, line: Line, held: Option<Span>) {
        let bounce = if self.faults.active(FaultKind::ButtonBounce, at) {
            Bounce::WILD
        } else {
            Bounce { within_s: self.settings.bounce_ms * 1e-3, pairs: (0, self.settings.bounces) }
        };
        let held = held.unwrap_or(span(self.settings.held_ms * 1e-3));
        let edges = self.thumb.press(at, held, bounce);
        self.events.extend(edges.into_iter().map(|(at, active)| (at, SensorEvent::Edge { line, active })));
    }
}

impl Script {
    /// Writes the list.
    #[must_use]
    pub fn new(
        settings: &ThumbSettings,
        thumb: Thumb,
        shots: &[Shot],
        presses: &[Press],
        faults: &Faults,
    ) -> Self {
        let mut hand = Hand { settings, thumb, faults, events: Vec::new() };
        let mut reactions = Vec::new();
        for shot in shots.iter().filter(|shot| settings.presses_at_s.contains(&shot.due_before_s)) {
            let cue = if settings.cue == Cue::Sound { shot.heard } else { shot.fired };
            let reaction_s = hand.thumb.reaction_s();
            reactions.push((shot.due_before_s, reaction_s));
            hand.press(span(seconds(cue) + reaction_s), Line::Button, None);
        }
        for press in presses {
            hand.press(press.at, press.line, press.held);
        }
        for stray in faults.of(FaultKind::StrayPress) {
            hand.press(stray.at, Line::Button, None);
        }
        let mut events = hand.events;
        for (closes, opens) in shots.iter().filter_map(|shot| shot.contact) {
            let edge = |active| SensorEvent::Edge { line: Line::GunContact, active };
            events.extend([(closes, edge(true)), (opens, edge(false))]);
        }
        for blip in faults.of(FaultKind::PowerBlip) {
            events.push((blip.at, SensorEvent::PowerBlip { off: blip.lasts }));
        }
        for bite in faults.of(FaultKind::WatchdogReset) {
            events.push((bite.at, SensorEvent::WatchdogReset { off: bite.lasts }));
        }
        events.sort_by_key(|(at, _)| *at);
        Self { events, reactions }
    }

    /// Adds the switches that the hand at the dock moved; they are relays' contacts and do not bounce.
    pub fn switches(&mut self, moves: &[(f64, Line, bool)]) {
        let edge = |(t, line, active): &(f64, Line, bool)| {
            (span(*t), SensorEvent::Edge { line: *line, active: *active })
        };
        self.events.extend(moves.iter().map(edge));
        self.events.sort_by_key(|(at, _)| *at);
    }
}
