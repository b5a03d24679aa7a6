//! The dock's switches, where they are wired.
//!
//! A switch counts as it stands once its contact has been quiet for a moment. One that is not wired, or has not
//! moved since the dash was switched on, is unknown: never off.
//!
//! This file knows the units, the lines and which of them are wired. Edges flow in, positions flow out.

use super::settings::Wired;
use crate::input::Line;
use crate::units::{Instant, Span};

/// A contact that was quiet for so long has settled: most bounce for some tens of milliseconds at most (notes on
/// measured switches).
const QUIET: Span = Span::from_millis(50);

/// All of them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Switches {
    pub igniter: Switch,
    pub starter_low: Switch,
    pub starter_high: Switch,
    pub fuel: Switch,
    pub power: Switch,
}

/// One of them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Switch {
    /// The level after the last edge, and when that came, while it has not settled.
    moving: Option<(Instant, bool)>,
    stands: Option<bool>,
}

impl Switches {
    /// A contact moved; lines that are no switch of the dock's, or not wired, are passed over.
    pub(super) fn edge(&mut self, at: Instant, line: Line, active: bool, wired: &Wired) {
        let (switch, wired) = match line {
            Line::Igniter => (&mut self.igniter, wired.igniter),
            Line::StarterLow => (&mut self.starter_low, wired.starter_low),
            Line::StarterHigh => (&mut self.starter_high, wired.starter_high),
            Line::StartFuel => (&mut self.fuel, wired.start_fuel),
            Line::ExternalPower => (&mut self.power, wired.external_power),
            Line::Button | Line::GunContact | Line::Acknowledge | Line::Page => return,
        };
        if wired {
            switch.moving = Some((at, active));
        }
    }

    /// Takes what has settled by `at`.
    pub(super) fn settle(&mut self, at: Instant) {
        let all = [
            &mut self.igniter,
            &mut self.starter_low,
            &mut self.starter_high,
            &mut self.fuel,
            &mut self.power,
        ];
        for switch in all {
            if let Some((_, level)) = switch.moving.filter(|(edge, _)| at.since(*edge) >= QUIET) {
                (switch.stands, switch.moving) = (Some(level), None);
            }
        }
    }

    /// When a contact will have settled.
    pub(super) fn due(&self) -> Option<Instant> {
        let all = [self.igniter, self.starter_low, self.starter_high, self.fuel, self.power];
        all.iter().filter_map(|switch| switch.moving).map(|(edge, _)| edge.plus(QUIET)).min()
    }

    /// Whether the starter is on, by its own switches: on by either, off by both.
    pub(super) const fn starter(&self) -> Option<bool> {
        match (self.starter_low.stands, self.starter_high.stands) {
            (Some(true), _) | (_, Some(true)) => Some(true),
            (Some(false), Some(false)) => Some(false),
            _ => None,
        }
    }
}

impl Switch {
    /// How it stands; nothing when that is unknown.
    pub(super) const fn stands(self) -> Option<bool> {
        self.stands
    }
}
