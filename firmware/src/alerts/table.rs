//! How urgent each alert is, and how it ends.
//!
//! Levels follow 14 CFR 25.1322: a warning wants awareness and action at once, a caution awareness at once and
//! action soon, an advisory awareness. Which alert has which level is our own choice.
//!
//! This file knows the outputs' words and the units.

use crate::output::{AlertId, Level};
use crate::units::Span;

/// How many alerts there are: up to the last of [`AlertId`], which grows at its end.
pub const COUNT: usize = AlertId::ColdJunction as usize + 1;

/// How an alert ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ends {
    /// With its condition.
    WithCondition,
    /// Once its condition is gone and the driver has acknowledged it.
    Acknowledged,
    /// By itself, so long after it was raised; sooner when the driver acknowledges it.
    After(Span),
}

/// Whose affair an alert is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum About {
    /// The engine or a sensor: a restart of the heat changes nothing about it.
    Boat,
    /// The heat: a restart clears it.
    Race,
    /// The engine and its sensors: like the boat, and one that ends with its condition stays for a while, so that a
    /// value on the brink cannot make it flicker.
    Engine,
}

/// What is fixed about an alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Kind {
    /// Which alert.
    pub id: AlertId,
    /// How urgent it is.
    pub level: Level,
    /// How it ends.
    pub ends: Ends,
    /// Whose affair it is.
    pub about: About,
}

/// Every alert, at the place of its [`AlertId`].
///
/// Times of momentary alerts: at least two glances of at most 2 s each (visual-manual distraction guidelines,
/// Federal Register 78 FR 24817); the lengths beyond that are common practice, no source.
pub const KINDS: [Kind; COUNT] = [
    engine(AlertId::EgtLimit, Level::Warning, Ends::Acknowledged),
    engine(AlertId::EgtHigh, Level::Caution, Ends::WithCondition),
    engine(AlertId::N1Limit, Level::Warning, Ends::Acknowledged),
    engine(AlertId::N1High, Level::Caution, Ends::WithCondition),
    engine(AlertId::N2Overspeed, Level::Warning, Ends::Acknowledged),
    engine(AlertId::N2Limit, Level::Warning, Ends::Acknowledged),
    engine(AlertId::N2High, Level::Caution, Ends::WithCondition),
    engine(AlertId::ProbeFault, Level::Caution, Ends::WithCondition),
    engine(AlertId::ProbeStale, Level::Caution, Ends::WithCondition),
    engine(AlertId::N1Signal, Level::Caution, Ends::WithCondition),
    engine(AlertId::N2Signal, Level::Caution, Ends::WithCondition),
    race(AlertId::JumpedGun, Level::Caution, Ends::WithCondition),
    boat(AlertId::FixLost, Level::Caution, Ends::WithCondition),
    boat(AlertId::PpsLost, Level::Advisory, Ends::WithCondition),
    race(AlertId::SpeedFloor, Level::Caution, Ends::WithCondition),
    race(AlertId::LapMissed, Level::Caution, Ends::Acknowledged),
    race(AlertId::ZeroMoved, Level::Caution, Ends::After(Span::from_secs(6))),
    race(AlertId::Approach, Level::Advisory, Ends::After(Span::from_secs(4))),
    race(AlertId::LastLap, Level::Advisory, Ends::After(Span::from_secs(6))),
    race(AlertId::Finished, Level::Advisory, Ends::After(Span::from_secs(10))),
    engine(AlertId::NoLightOff, Level::Warning, Ends::Acknowledged),
    engine(AlertId::HotStart, Level::Warning, Ends::Acknowledged),
    engine(AlertId::HungStart, Level::Warning, Ends::Acknowledged),
    engine(AlertId::FuelTooSoon, Level::Warning, Ends::Acknowledged),
    engine(AlertId::StarterLong, Level::Caution, Ends::WithCondition),
    engine(AlertId::StarterRest, Level::Caution, Ends::WithCondition),
    engine(AlertId::NotCooling, Level::Warning, Ends::Acknowledged),
    engine(AlertId::FlameOut, Level::Warning, Ends::Acknowledged),
    engine(AlertId::N2Unloaded, Level::Warning, Ends::Acknowledged),
    engine(AlertId::ShaftMismatch, Level::Caution, Ends::WithCondition),
    engine(AlertId::ProbeSplit, Level::Caution, Ends::WithCondition),
    engine(AlertId::ProbeAged, Level::Advisory, Ends::WithCondition),
    engine(AlertId::ColdJunction, Level::Caution, Ends::WithCondition),
];

const fn boat(id: AlertId, level: Level, ends: Ends) -> Kind {
    Kind { id, level, ends, about: About::Boat }
}

const fn engine(id: AlertId, level: Level, ends: Ends) -> Kind {
    Kind { id, level, ends, about: About::Engine }
}

const fn race(id: AlertId, level: Level, ends: Ends) -> Kind {
    Kind { id, level, ends, about: About::Race }
}
