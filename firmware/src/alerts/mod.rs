//! The alert room: what deserves the driver's eye now.
//!
//! The rooms say which conditions hold; this one decides what is shown and heard. One alert at a time: the
//! most urgent level first; within a level those not yet acknowledged, newest first. Nothing lesser ever
//! hides a warning, acknowledged or not.
//!
//! False alerts are kept down (14 CFR 25.1322) in two places. The rooms have their own hysteresis. And here,
//! an alert below a warning that comes back within [`QUIET`] of its clearing is shown but not heard again.
//! A sound also stays away while something more urgent waits to be acknowledged: the beeper has one voice.
//! An engine's alert that ends with its condition stays at least [`LEAST`].
//!
//! In the last seconds before zero the driver has no eye to spare: then only warnings are shown and heard; the rest
//! waits, and comes afterwards if it still holds ([`Alerts::hush`]).
//!
//! This room knows the units and the outputs. Conditions and presses flow in, decisions flow out.

pub mod cues;
mod table;

pub use table::{About, COUNT, Ends, KINDS, Kind};

use serde::{Deserialize, Serialize};

use crate::output::{AlertId, AlertState, Level, Output, Outputs};
use crate::units::{Instant, Span};
use crate::view::AlertView;

/// An alert below a warning that comes back sooner than this makes no sound (common practice, no source).
pub const QUIET: Span = Span::from_secs(3);

/// An engine's alert that ends with its condition stays at least so long: a first glance of up to 2 s must still
/// find it (visual-manual distraction guidelines, Federal Register 78 FR 24817).
pub const LEAST: Span = Span::from_secs(2);

/// What the owner may choose about alerts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlertSettings {
    /// So long before zero until the start only warnings are shown and heard; nothing: the rule is off.
    pub quiet_before_zero: Span,
}

impl Default for AlertSettings {
    /// Ten seconds (common practice, no source).
    fn default() -> Self {
        Self { quiet_before_zero: Span::from_secs(10) }
    }
}

/// Every alert and its state.
#[derive(Clone, Debug)]
pub struct Alerts {
    /// At the place of its [`AlertId`].
    list: [Standing; COUNT],
    /// Counts what was raised, so that the newest is known.
    raised: u32,
    /// How many are on.
    on: u8,
    /// True while only warnings are shown and heard.
    hushed: bool,
}

/// One alert's state.
#[derive(Clone, Copy, Debug, Default)]
struct Standing {
    /// True while the room that owns it says so.
    condition: bool,
    /// There while it is on; `None` when it is not.
    active: Option<Active>,
    /// When it was last cleared.
    cleared: Option<Instant>,
    /// True when it happened while it might not be shown.
    waits: bool,
}

#[derive(Clone, Copy, Debug)]
struct Active {
    /// Higher is newer.
    order: u32,
    acknowledged: bool,
    since: Instant,
    /// When it clears by itself.
    until: Option<Instant>,
}

impl Default for Alerts {
    fn default() -> Self {
        Self::new()
    }
}

impl Alerts {
    /// Nothing to say.
    #[must_use]
    pub fn new() -> Self {
        Self { list: [Standing::default(); COUNT], raised: 0, on: 0, hushed: false }
    }

    /// A condition holds, or does not. Saying the same again does nothing.
    ///
    /// A momentary alert is raised when its condition begins, and clears by itself all the same.
    #[inline]
    pub fn set(&mut self, at: Instant, id: AlertId, holds: bool, out: &mut Outputs) {
        let same = |standing: &Standing| standing.condition == holds && standing.active.is_none();
        if !self.list.get(id as usize).is_some_and(same) {
            self.change(at, id, holds, out);
        }
    }

    fn change(&mut self, at: Instant, id: AlertId, holds: bool, out: &mut Outputs) {
        let Some(standing) = self.list.get_mut(id as usize) else { return };
        let began = holds && !standing.condition;
        standing.condition = holds;
        if began && standing.active.is_none() && !self.is_kept_back(id) {
            self.raise(at, id, out);
        }
        self.clear_if_ended(at, id, out);
    }

    /// Something happened that the driver should see: the alert is raised afresh, newest and unacknowledged,
    /// whatever its condition.
    ///
    /// A momentary alert clears by itself. One that ends by acknowledgement stays until then: so a limit that
    /// is exceeded further, after the driver has acknowledged the first, can say so. One that lives by its
    /// condition alone is left as it is.
    pub fn pulse(&mut self, at: Instant, id: AlertId, out: &mut Outputs) {
        let waiting = self.active(id).is_some_and(|active| !active.acknowledged);
        if self.is_kept_back(id) {
            if let Some(standing) = self.list.get_mut(id as usize) {
                standing.waits = true;
            }
            return;
        }
        match kind(id).map(|kind| kind.ends) {
            Some(Ends::After(_)) => self.raise(at, id, out),
            Some(Ends::Acknowledged) if !waiting => self.raise(at, id, out),
            _ => {}
        }
    }

    /// From now on only warnings are shown and heard, or everything again. What came meanwhile and still holds is
    /// raised now; what merely happened is, too.
    pub fn hush(&mut self, at: Instant, hushed: bool, out: &mut Outputs) {
        if core::mem::replace(&mut self.hushed, hushed) == hushed || hushed {
            return;
        }
        for kind in &KINDS {
            let Some(standing) = self.list.get_mut(kind.id as usize) else { continue };
            let waits = core::mem::take(&mut standing.waits);
            let holds = standing.condition && !matches!(kind.ends, Ends::After(_));
            if standing.active.is_none() && (waits || holds) {
                self.raise(at, kind.id, out);
            }
        }
    }

    /// True for an alert that must wait.
    fn is_kept_back(&self, id: AlertId) -> bool {
        self.hushed && kind(id).is_some_and(|kind| kind.level < Level::Warning)
    }

    /// The driver pressed acknowledge: it is for the alert that is shown, if he had not acknowledged it before.
    pub fn acknowledge(&mut self, at: Instant, out: &mut Outputs) {
        let Some(shown) = self.shown().filter(|shown| !shown.acknowledged) else { return };
        if let Some(active) = self.list.get_mut(shown.id as usize).and_then(|alert| alert.active.as_mut()) {
            active.acknowledged = true;
            active.until = active.until.map(|_| at);
        }
        out.push(Output::Alert { id: shown.id, level: shown.level, state: AlertState::Acknowledged });
        self.clear_if_ended(at, shown.id, out);
    }

    /// Time has passed: momentary alerts whose time is over clear. Harmless when nothing is due.
    pub fn tick(&mut self, at: Instant, out: &mut Outputs) {
        if self.on == 0 {
            return;
        }
        for kind in &KINDS {
            self.clear_if_ended(at, kind.id, out);
        }
    }

    /// The heat starts again: alerts about the race are over, those about the boat stay.
    pub fn clear_race(&mut self, at: Instant, out: &mut Outputs) {
        for kind in KINDS.iter().filter(|kind| kind.about == About::Race) {
            if let Some(standing) = self.list.get_mut(kind.id as usize) {
                (standing.condition, standing.waits) = (false, false);
            }
            self.clear(at, kind.id, out);
        }
    }

    /// The alert that deserves the driver's eye, if any.
    #[must_use]
    pub fn shown(&self) -> Option<AlertView> {
        self.first(|_| true)
    }

    /// The caution that the amber lamp stands for, shown or behind a warning.
    #[must_use]
    pub fn caution(&self) -> Option<AlertView> {
        self.first(|kind| kind.level == Level::Caution)
    }

    fn first(&self, is_meant: impl Fn(&Kind) -> bool) -> Option<AlertView> {
        let meant = self.each_shown().filter(|(kind, _)| is_meant(kind));
        meant.max_by_key(|(kind, active)| (kind.level, !active.acknowledged, active.order)).map(
            |(kind, active)| AlertView { id: kind.id, level: kind.level, acknowledged: active.acknowledged },
        )
    }

    /// How many alerts are behind the one shown.
    #[must_use]
    pub fn waiting(&self) -> u8 {
        let shown = if self.hushed { self.each_shown().count() } else { usize::from(self.on) };
        u8::try_from(shown.saturating_sub(1)).unwrap_or(u8::MAX)
    }

    /// When an alert clears by itself.
    #[must_use]
    pub fn next_wake(&self) -> Option<Instant> {
        self.each_active()
            .filter_map(|(kind, active)| active.until.or_else(|| self.lingers(kind, active)))
            .min()
    }

    /// Until when an engine's alert stays whose condition is gone.
    fn lingers(&self, kind: &Kind, active: Active) -> Option<Instant> {
        let condition = self.list.get(kind.id as usize).is_some_and(|standing| standing.condition);
        let stays = kind.about == About::Engine && kind.ends == Ends::WithCondition && !condition;
        stays.then(|| active.since.plus(LEAST))
    }

    fn raise(&mut self, at: Instant, id: AlertId, out: &mut Outputs) {
        let Some(kind) = kind(id) else { return };
        let heard = self.is_heard(at, kind);
        let until = match kind.ends {
            Ends::After(time) => Some(at.plus(time)),
            Ends::WithCondition | Ends::Acknowledged => None,
        };
        self.raised = self.raised.saturating_add(1);
        if let Some(standing) = self.list.get_mut(id as usize) {
            self.on = self.on.saturating_add(u8::from(standing.active.is_none()));
            standing.active = Some(Active { order: self.raised, acknowledged: false, since: at, until });
        }
        out.push(Output::Alert { id, level: kind.level, state: AlertState::Raised });
        if heard {
            out.push(Output::Cue(cues::tone(kind.level)));
        }
    }

    /// Whether an alert raised now makes a sound.
    fn is_heard(&self, at: Instant, kind: &Kind) -> bool {
        let outranked =
            self.each_active().any(|(other, active)| !active.acknowledged && other.level > kind.level);
        let cleared = self.list.get(kind.id as usize).and_then(|standing| standing.cleared);
        let again = kind.level < Level::Warning && cleared.is_some_and(|cleared| at.since(cleared) < QUIET);
        !outranked && !again
    }

    fn clear_if_ended(&mut self, at: Instant, id: AlertId, out: &mut Outputs) {
        let (Some(kind), Some(active)) = (kind(id), self.active(id)) else { return };
        let condition = self.list.get(id as usize).is_some_and(|standing| standing.condition);
        let ended = match kind.ends {
            Ends::WithCondition => !condition && self.lingers(kind, active).is_none_or(|until| at >= until),
            Ends::Acknowledged => !condition && active.acknowledged,
            Ends::After(_) => active.until.is_some_and(|until| at >= until),
        };
        if ended {
            self.clear(at, id, out);
        }
    }

    fn clear(&mut self, at: Instant, id: AlertId, out: &mut Outputs) {
        let (Some(kind), Some(standing)) = (kind(id), self.list.get_mut(id as usize)) else { return };
        if standing.active.take().is_some() {
            standing.cleared = Some(at);
            self.on = self.on.saturating_sub(1);
            out.push(Output::Alert { id, level: kind.level, state: AlertState::Cleared });
        }
    }

    fn active(&self, id: AlertId) -> Option<Active> {
        self.list.get(id as usize)?.active
    }

    /// Those that may be shown now.
    fn each_shown(&self) -> impl Iterator<Item = (&'static Kind, Active)> + '_ {
        self.each_active().filter(|(kind, _)| !self.hushed || kind.level == Level::Warning)
    }

    fn each_active(&self) -> impl Iterator<Item = (&'static Kind, Active)> + '_ {
        let list = if self.on == 0 { &[] } else { self.list.as_slice() };
        KINDS.iter().zip(list).filter_map(|(kind, standing)| Some((kind, standing.active?)))
    }
}

fn kind(id: AlertId) -> Option<&'static Kind> {
    KINDS.get(id as usize)
}

#[cfg(test)]
mod tests;
