//! The master lamps: one red for a warning, one amber for a caution.
//!
//! The red lamp is lit while a warning is shown. The amber one is lit while there is a caution, shown or behind a
//! warning, so that a warning never hides that there is more. The lamp of the alert that the screen shows flashes
//! until the driver has acknowledged it, and then burns as long as the alert is on; the amber lamp of a caution
//! behind a warning burns without flashing, so that one lamp at most calls for the eye. A lamp begins lit, at the
//! moment the alert comes. An advisory lights none. Rates stand in [`crate::alerts::cues::flash`].
//!
//! Views of alerts in, lit or dark out. This file knows the alerts' words and moments; how bright lit is says
//! [`super::brightness`].

use crate::alerts::cues::flash;
use crate::output::Level;
use crate::units::{Instant, Span};
use crate::view::AlertView;

/// Both lamps.
#[derive(Clone, Copy, Debug, Default)]
pub struct Lamps {
    shown: Option<AlertView>,
    /// True while a caution is behind the warning shown.
    caution_behind: bool,
    /// Since when it is shown as it is.
    since: Instant,
}

/// Which lamps are lit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Lit {
    /// The red one.
    pub warning: bool,
    /// The amber one.
    pub caution: bool,
}

impl Lit {
    /// Both, as in the self-test: a lamp that is never seen lit cannot be trusted when it is dark.
    pub const BOTH: Self = Self { warning: true, caution: true };
}

impl Lamps {
    /// Both dark.
    #[must_use]
    pub const fn new() -> Self {
        Self { shown: None, caution_behind: false, since: Instant::BOOT }
    }

    /// The alert that the screen shows and the most urgent caution, from the view. Saying the same again changes
    /// nothing.
    pub fn show(&mut self, at: Instant, alert: Option<AlertView>, caution: Option<AlertView>) {
        if self.shown != alert {
            self.shown = alert;
            self.since = at;
        }
        self.caution_behind = caution.is_some() && alert.is_some_and(|alert| alert.level == Level::Warning);
    }

    /// Which lamps are lit at `at`.
    #[must_use]
    pub fn lit(&self, at: Instant) -> Lit {
        let level = self.shown.filter(|_| self.is_bright_half(at)).map(|alert| alert.level);
        Lit {
            warning: level == Some(Level::Warning),
            caution: level == Some(Level::Caution) || self.caution_behind,
        }
    }

    /// When a lamp changes next; always later than `at`.
    #[must_use]
    pub fn next_wake(&self, at: Instant) -> Option<Instant> {
        let half = self.half_flash()?;
        let gone = at.since(self.since).max(Span::ZERO);
        let halves = gone.as_micros().checked_div(half.as_micros())?.saturating_add(1);
        Some(self.since.plus(Span::from_micros(halves.saturating_mul(half.as_micros()))))
    }

    fn half_flash(&self) -> Option<Span> {
        let whole = flash(self.shown?.level, self.shown?.acknowledged)?;
        Some(Span::from_micros(whole.as_micros() / 2))
    }

    /// A steady lamp has no dark half.
    fn is_bright_half(&self, at: Instant) -> bool {
        let gone = at.since(self.since).max(Span::ZERO).as_micros();
        let halves = self.half_flash().and_then(|half| gone.checked_div(half.as_micros()));
        halves.is_none_or(|halves| halves % 2 == 0)
    }
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;
    use crate::output::AlertId;

    fn at(ms: i64) -> Instant {
        Instant::BOOT.plus(Span::from_millis(ms))
    }

    fn alert(id: AlertId, level: Level, acknowledged: bool) -> Option<AlertView> {
        Some(AlertView { id, level, acknowledged })
    }

    const RED: Lit = Lit { warning: true, caution: false };
    const AMBER: Lit = Lit { warning: false, caution: true };
    const DARK: Lit = Lit { warning: false, caution: false };

    /// The lamps at every change within a second and a bit, asked for only when `next_wake` says so.
    fn flashes(alert: Option<AlertView>) -> Vec<(i64, Lit)> {
        let mut lamps = Lamps::new();
        lamps.show(at(0), alert, None);
        let wakes = core::iter::successors(Some(at(0)), |now| lamps.next_wake(*now));
        let seen = wakes.take_while(|now| *now < at(1_000));
        seen.map(|now| (now.as_micros() as i64 / 1_000, lamps.lit(now))).collect()
    }

    #[test]
    fn a_warning_flashes_red_four_times_a_second_from_its_first_moment() {
        let seen = flashes(alert(AlertId::EgtLimit, Level::Warning, false));
        let expected: Vec<_> = (0..8).map(|n| (n * 125, if n % 2 == 0 { RED } else { DARK })).collect();
        assert_eq!(seen, expected);
    }

    #[test]
    fn a_caution_flashes_amber_twice_a_second() {
        let seen = flashes(alert(AlertId::EgtHigh, Level::Caution, false));
        assert_eq!(seen, [(0, AMBER), (250, DARK), (500, AMBER), (750, DARK)]);
    }

    #[test]
    fn acknowledged_lamps_burn_without_flashing_and_an_advisory_lights_none() {
        assert_eq!(flashes(alert(AlertId::EgtLimit, Level::Warning, true)), [(0, RED)]);
        assert_eq!(flashes(alert(AlertId::EgtHigh, Level::Caution, true)), [(0, AMBER)]);
        assert_eq!(flashes(alert(AlertId::LastLap, Level::Advisory, false)), [(0, DARK)]);
        assert_eq!(flashes(None), [(0, DARK)]);
    }

    #[test]
    fn a_new_warning_in_the_dark_half_of_another_is_lit_at_once() {
        let mut lamps = Lamps::new();
        lamps.show(at(0), alert(AlertId::EgtLimit, Level::Warning, false), None);
        assert_eq!(lamps.lit(at(200)), DARK);
        lamps.show(at(200), alert(AlertId::N2Overspeed, Level::Warning, false), None);
        assert_eq!(lamps.lit(at(200)), RED);
    }

    #[test]
    fn a_caution_behind_a_warning_burns_steadily() {
        let mut lamps = Lamps::new();
        let caution = alert(AlertId::EgtHigh, Level::Caution, false);
        lamps.show(at(0), alert(AlertId::N2Overspeed, Level::Warning, false), caution);
        let seen = [0, 125, 250, 375].map(|ms| lamps.lit(at(ms)));
        let both = Lit::BOTH;
        assert_eq!(seen, [both, AMBER, both, AMBER]);
        lamps.show(at(400), caution, caution);
        assert_eq!([400, 650].map(|ms| lamps.lit(at(ms))), [AMBER, DARK], "alone it calls for the eye again");
    }

    proptest! {
        #[test]
        fn between_two_wakes_nothing_changes(
            id_is_new: bool,
            level in proptest::sample::select(&[Level::Advisory, Level::Caution, Level::Warning][..]),
            acknowledged: bool,
            began_us in 0_u64..10_000_000,
            after_us in 0_u64..10_000_000,
        ) {
            let id = if id_is_new { AlertId::EgtLimit } else { AlertId::N1Limit };
            let mut lamps = Lamps::new();
            lamps.show(Instant::from_micros(began_us), alert(id, level, acknowledged), None);
            let now = Instant::from_micros(began_us + after_us);
            if let Some(wake) = lamps.next_wake(now) {
                prop_assert!(wake > now);
                prop_assert_eq!(lamps.lit(now), lamps.lit(wake.plus(Span::from_micros(-1))));
                prop_assert_ne!(lamps.lit(now), lamps.lit(wake));
            }
        }
    }
}
