//! The order of a start, and what shows that a step has come.
//!
//! Steps follow the handbooks: rotate, ignition, fuel, light-off, watch the temperature, starter off after
//! self-sustaining speed, idle (aviation maintenance technician's handbook); the lower and higher voltage of the
//! starter are common practice, no source. A step is never guessed backwards: from light-off on only a fire that
//! went out leads back.
//!
//! This file knows the units, the steps and the settings. What is known flows in, the next step flows out.

use super::{FALLING_LASTS, FALLS_BY, Start};
use crate::engine::power::POWER_FROM;
use crate::engine::{EngineSettings, Known};
use crate::output::StartStep;
use crate::units::{CentiPercent, Instant, MilliCelsius, Span};

/// N1 of an idle for so long is an idle (common practice, no source).
pub(super) const IDLE_HOLDS: Span = Span::from_secs(2);

/// With neither N1 nor EGT for so long, nothing is known of a start any more (common practice, no source).
pub(super) const BLIND_LASTS: Span = Span::from_secs(5);

/// N1 gained since light-off: the engine helps its starter (common practice, no source).
const HELPS_FROM: CentiPercent = CentiPercent::from_centi(500);

/// N1 lost since it last rose: nothing drives it any more (common practice, no source).
const SINKS_BY: CentiPercent = CentiPercent::from_centi(300);

/// A self-sustaining N1 is lost this far below it: more than the noise of a pickup (common practice, no source).
const LOST_BELOW: CentiPercent = CentiPercent::from_centi(300);

/// EGT below the hottest by so much: with fuel shut off, without any sign of fire, and with a sinking N1 (common
/// practice, no source).
const SHUT_BY: MilliCelsius = MilliCelsius::from_milli(30_000);
const OUT_BY: MilliCelsius = MilliCelsius::from_milli(100_000);
const SUNK_BY: MilliCelsius = MilliCelsius::from_milli(150_000);

/// What is known at one moment.
#[derive(Clone, Copy)]
pub(super) struct Seen {
    pub at: Instant,
    pub n1: Option<CentiPercent>,
    /// EGT without single wild reads.
    pub level: Option<MilliCelsius>,
    /// The shaft turns; it stands, as far as can be told. Between the two it is neither.
    pub turns: bool,
    pub stands: bool,
    /// N1 is self-sustaining.
    pub sustains: bool,
    pub igniter: Option<bool>,
    pub starter: Option<bool>,
    pub fuel: Option<bool>,
    pub power: Option<bool>,
    pub blind: bool,
}

/// True in the steps of which a fire that goes out is a start given up.
pub(super) const fn is_start(step: StartStep) -> bool {
    !matches!(step, StartStep::Ready | StartStep::Running)
}

/// True while fire should make N1 rise.
pub(super) const fn may_hang(step: StartStep) -> bool {
    matches!(step, StartStep::Lit | StartStep::StarterHigh | StartStep::Accelerating)
}

impl Start {
    pub(super) fn seen(&self, at: Instant, known: Known, settings: &EngineSettings) -> Seen {
        let from = settings.start.cranking_from;
        Seen {
            at,
            n1: known.n1,
            level: self.rise.level(),
            turns: known.n1.is_some_and(|n1| n1 >= from),
            stands: known.n1.is_none_or(|n1| n1.as_centi() < from.as_centi() / 2),
            sustains: known.n1.is_some_and(|n1| n1 >= settings.self_sustaining),
            igniter: self.switches.igniter.stands(),
            starter: self.switches.starter(),
            fuel: self.switches.fuel.stands(),
            power: self.switches.power.stands(),
            blind: known.n1.is_none() && known.egt.is_none(),
        }
    }

    /// Since when fuel is on: its switch tells; or, without one, N1 that turns fast enough for so long that a crew
    /// would have given it by now. Igniters known to be off say that the engine is only being turned.
    pub(super) fn follow_fuel(&mut self, seen: &Seen, settings: &EngineSettings) {
        let start = &settings.start;
        match seen.fuel {
            Some(true) if self.fuel_was != Some(true) => self.fuel = Some(seen.at),
            Some(true) => {}
            Some(false) => self.fuel = None,
            None if self.step != StartStep::Cranking => {}
            None if seen.igniter == Some(false) => self.fuel = None,
            None if seen.n1.is_some_and(|n1| n1 >= start.fuel_from) => {
                self.fuel.get_or_insert(seen.at.plus(start.fuel_inferred_after));
            }
            None => {}
        }
        self.fuel_was = seen.fuel;
    }

    /// When N1 gained, fell, idled and gave power.
    pub(super) fn follow_shaft(&mut self, seen: &Seen, settings: &EngineSettings) {
        self.blind = if seen.blind { self.blind.or(Some(seen.at)) } else { None };
        let Some(n1) = seen.n1 else {
            (self.gained, self.idles, self.top) = (None, None, CentiPercent::ZERO);
            return;
        };
        if self.gained.is_none_or(|(_, from)| n1 >= from + settings.start.hung_rise) {
            self.gained = Some((seen.at, n1));
        }
        if n1 <= self.top - FALLS_BY {
            (self.top, self.fell) = (n1, Some(seen.at));
        }
        self.top = self.top.max(n1);
        self.idles = if n1 >= settings.start.idle_from.max(settings.self_sustaining) {
            self.idles.or(Some(seen.at))
        } else {
            None
        };
        if n1 >= POWER_FROM {
            self.power = Some(seen.at);
        }
        if matches!(self.step, StartStep::Lit | StartStep::StarterHigh) {
            self.lit_at = self.lit_at.or(Some(n1));
        }
    }

    /// The coolest before light-off, the hottest after it, and how the engine cools.
    pub(super) fn follow_heat(&mut self, seen: &Seen) {
        match self.step {
            // Heat that soaks into a probe at rest comes slowly: only a rise within the last reads is fire.
            StartStep::AtRest | StartStep::Igniters => self.coolest = self.rise.oldest(),
            StartStep::Cranking | StartStep::FuelOn | StartStep::Cooling => {
                self.coolest = match (self.coolest, seen.level) {
                    (Some(coolest), Some(level)) => Some(coolest.min(level)),
                    (coolest, level) => coolest.or(level),
                };
            }
            _ => self.hottest = self.hottest.max(seen.level.unwrap_or(MilliCelsius::ZERO)),
        }
        if self.step == StartStep::Cooling {
            self.cooling.see(seen.at, seen.level, seen.stands);
        }
    }

    /// Whether the starter is on: by its switches, or because something turns an engine that cannot do so itself.
    pub(super) fn starter_is_on(&self, seen: &Seen) -> bool {
        let turned = match self.step {
            StartStep::Cooling => self.cooling.is_given_up(),
            step => step == StartStep::Cranking || step == StartStep::FuelOn || may_hang(step),
        };
        seen.starter.unwrap_or(turned && !seen.stands && !seen.sustains)
    }

    /// True while N1 falls.
    pub(super) fn falls(&self, at: Instant) -> bool {
        self.fell.is_some_and(|fell| at.since(fell) < FALLING_LASTS)
    }

    /// The next step, if it has come.
    pub(super) fn next(&self, seen: &Seen, settings: &EngineSettings) -> Option<StartStep> {
        if self.step > StartStep::Igniters && seen.starter != Some(true) && self.is_blind(seen.at) {
            return Some(StartStep::AtRest);
        }
        match self.step {
            StartStep::AtRest | StartStep::Igniters => self.next_at_rest(seen, settings),
            StartStep::Cranking | StartStep::FuelOn => self.next_unlit(seen, settings),
            StartStep::Lit | StartStep::StarterHigh | StartStep::Accelerating => {
                self.next_lit(seen, settings)
            }
            StartStep::StarterOff | StartStep::PowerAway | StartStep::Ready | StartStep::Running => {
                self.next_running(seen, settings)
            }
            StartStep::Cooling => self.next_cooling(seen, settings),
        }
    }

    fn is_blind(&self, at: Instant) -> bool {
        self.blind.is_some_and(|since| at.since(since) >= BLIND_LASTS)
    }

    /// EGT has risen as only fire makes it rise.
    fn has_lit(&self, seen: &Seen, settings: &EngineSettings) -> bool {
        let lit_from = self.coolest.map(|coolest| coolest + settings.start.light_off_rise);
        seen.level.zip(lit_from).is_some_and(|(level, from)| level >= from)
    }

    fn next_at_rest(&self, seen: &Seen, settings: &EngineSettings) -> Option<StartStep> {
        let igniters = seen.igniter == Some(true);
        if seen.sustains {
            Some(StartStep::Ready)
        } else if self.has_lit(seen, settings) {
            Some(StartStep::Lit)
        } else if seen.turns || seen.starter == Some(true) {
            Some(StartStep::Cranking)
        } else if igniters == (self.step == StartStep::Igniters) {
            None
        } else {
            Some(if igniters { StartStep::Igniters } else { StartStep::AtRest })
        }
    }

    fn next_unlit(&self, seen: &Seen, settings: &EngineSettings) -> Option<StartStep> {
        let fuelled = self.step == StartStep::FuelOn;
        let shut = fuelled && (seen.fuel == Some(false) || self.fuel.is_none());
        let stands = seen.stands && seen.starter != Some(true);
        if self.has_lit(seen, settings) {
            Some(StartStep::Lit)
        } else if seen.sustains {
            Some(StartStep::Accelerating)
        } else if shut || stands {
            Some(if fuelled { StartStep::Cooling } else { StartStep::AtRest })
        } else if !fuelled && self.fuel.is_some_and(|fuel| fuel <= seen.at) {
            Some(StartStep::FuelOn)
        } else {
            None
        }
    }

    fn next_lit(&self, seen: &Seen, settings: &EngineSettings) -> Option<StartStep> {
        let gain = seen.n1.zip(self.lit_at).map(|(n1, lit)| n1 - lit);
        let helps = |from: CentiPercent| gain.is_some_and(|gain| gain >= from);
        let high = match self.switches.starter_high.stands() {
            Some(high) => high,
            None => seen.level.is_some_and(|level| level >= settings.start.starter_high_from),
        };
        match self.step {
            _ if self.is_out(seen, settings) => Some(StartStep::Cooling),
            StartStep::Lit if high => Some(StartStep::StarterHigh),
            StartStep::Lit if seen.sustains || helps(HELPS_FROM + HELPS_FROM) => {
                Some(StartStep::Accelerating)
            }
            StartStep::StarterHigh if seen.sustains || helps(HELPS_FROM) => Some(StartStep::Accelerating),
            StartStep::Accelerating if seen.sustains && seen.starter != Some(true) => match seen.fuel {
                Some(true) => self.idles_at(seen.at).then_some(StartStep::Ready),
                _ => Some(StartStep::StarterOff),
            },
            _ => None,
        }
    }

    fn next_running(&self, seen: &Seen, settings: &EngineSettings) -> Option<StartStep> {
        let lost = seen.n1.is_none_or(|n1| n1 < settings.self_sustaining - LOST_BELOW);
        let cold = seen.level.map(|level| level < settings.lit_above);
        if lost && cold == Some(true) {
            return Some(StartStep::Cooling);
        }
        let powers = seen.n1.is_some_and(|n1| n1 >= POWER_FROM);
        match self.step {
            StartStep::Running => None,
            _ if powers => Some(StartStep::Running),
            StartStep::Ready => None,
            // Let go by its starter too soon, it falls back: that is a start still, and it may hang.
            _ if lost && seen.n1.is_some() && cold == Some(false) => Some(StartStep::Accelerating),
            StartStep::StarterOff if seen.power == Some(false) => Some(StartStep::PowerAway),
            _ if seen.power != Some(true) && self.idles_at(seen.at) => Some(StartStep::Ready),
            _ => None,
        }
    }

    fn next_cooling(&self, seen: &Seen, settings: &EngineSettings) -> Option<StartStep> {
        let given_up = self.cooling.is_given_up();
        let cool = seen.level.is_none_or(|level| level < settings.start.cool_below);
        if seen.sustains && seen.level.is_some_and(|level| level >= settings.lit_above) {
            Some(StartStep::Ready)
        } else if self.has_lit(seen, settings) {
            Some(StartStep::Lit)
        } else if self.fuel.is_some_and(|fuel| fuel <= seen.at) && !seen.stands {
            Some(StartStep::FuelOn)
        } else if !given_up && seen.starter == Some(true) {
            Some(StartStep::Cranking)
        } else if seen.stands && seen.starter != Some(true) && (cool || !given_up) {
            Some(StartStep::AtRest)
        } else {
            None
        }
    }

    fn idles_at(&self, at: Instant) -> bool {
        self.idles.is_some_and(|since| at.since(since) >= IDLE_HOLDS)
    }

    /// The fire of a start is out: fuel was shut and EGT falls, or EGT is that of no fire, or it has fallen far
    /// with an N1 that sinks. A hung start, hot and slow, is none of these.
    fn is_out(&self, seen: &Seen, settings: &EngineSettings) -> bool {
        let shut = seen.fuel == Some(false);
        let Some(level) = seen.level else { return shut && !seen.sustains };
        let fallen = |by: MilliCelsius| level <= self.hottest - by;
        let sinks = seen.n1.zip(self.gained).is_some_and(|(n1, (_, from))| n1 <= from - SINKS_BY);
        let cold = level < settings.lit_above && fallen(OUT_BY);
        !seen.sustains && (cold || shut && fallen(SHUT_BY) || sinks && fallen(SUNK_BY))
    }
}
