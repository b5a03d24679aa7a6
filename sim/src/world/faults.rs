//! What goes wrong, when, and for how long.
//!
//! A heat file lists faults; each sensor asks for the ones that are its own. Nothing here acts.

use firmware::resume::RESTART_SD;
use firmware::units::Span;
use serde::Deserialize;

use super::draw::{Draw, Purpose};
use super::maths::{seconds, span};

/// Everything that can be made to go wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// No byte comes from the receiver; its pulse goes on.
    GnssLost,
    /// The receiver reports, but vouches for nothing.
    GnssInvalid,
    /// The receiver's bytes arrive damaged.
    GnssGarbled,
    /// No pulse per second.
    PpsLost,
    /// The thermocouple's circuit is open.
    ThermocoupleOpen,
    /// The thermocouple's chip does not answer.
    ThermocoupleSilent,
    /// The wire of the gas generator's pickup is off.
    N1Lost,
    /// The wire of the power shaft's pickup is off.
    N2Lost,
    /// Contacts bounce for up to 20 ms, with many edges.
    ButtonBounce,
    /// The button goes down for no reason, once, when the fault begins.
    StrayPress,
    /// A gun due in this time does not fire.
    GunMissed,
    /// The board has no power; it starts again afterwards and finds in its journal what it knew.
    PowerBlip,
    /// The program hangs until the watchdog restarts it, with the power on.
    WatchdogReset,
}

/// From the last kick of the watchdog until the program runs again, as the program believes it: the watchdog's
/// period and the chip's start. A board's own figure is its program's; this one is invented.
pub const WATCHDOG_GAP: Span = Span::from_millis(350);

/// One thing that goes wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// When it begins, race time.
    pub at: Span,
    /// What it is.
    pub kind: FaultKind,
    /// How long it lasts.
    pub lasts: Span,
}

impl Fault {
    /// The first moment after it.
    #[must_use]
    pub fn ends(&self) -> Span {
        self.at + self.lasts
    }
}

/// All that goes wrong in a heat.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// From a heat file's list, in any order.
    #[must_use]
    pub fn new(list: &[Fault]) -> Self {
        Self(list.to_vec())
    }

    /// The same, with what a heat file does not say: how long each restart by the watchdog really takes.
    #[must_use]
    pub fn drawn(list: &[Fault], seed: u64) -> Self {
        let mut draw = Draw::new(seed, Purpose::Restart);
        let mut faults = Self::new(list);
        for bite in faults.0.iter_mut().filter(|fault| fault.kind == FaultKind::WatchdogReset) {
            let took_s = draw.normal(seconds(WATCHDOG_GAP), seconds(RESTART_SD));
            bite.lasts = span(took_s.max(0.0));
        }
        faults
    }

    /// Is one of this kind active? It is at its first moment, and no longer at its end.
    #[must_use]
    pub fn active(&self, kind: FaultKind, t: Span) -> bool {
        self.of(kind).any(|fault| fault.at <= t && t < fault.ends())
    }

    /// The faults of a kind.
    pub fn of(&self, kind: FaultKind) -> impl Iterator<Item = &Fault> {
        self.0.iter().filter(move |fault| fault.kind == kind)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_active_from_its_first_moment_until_just_before_its_end() {
        let fault = Fault { at: Span::from_secs(-30), kind: FaultKind::GnssLost, lasts: Span::from_secs(4) };
        let faults = Faults::new(&[fault]);
        let active = |us: i64| faults.active(FaultKind::GnssLost, Span::from_micros(us));
        assert!(!active(-30_000_001) && active(-30_000_000) && active(-26_000_001) && !active(-26_000_000));
        assert!(!faults.active(FaultKind::PpsLost, Span::from_secs(-29)));
    }
}
