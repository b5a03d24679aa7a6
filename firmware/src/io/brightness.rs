//! One button, two meanings: a short press of the page button is the dash's, a long one steps the brightness.
//!
//! The dash takes the page button's *first edge* and acts on it at once: it changes which signal the next
//! press counts for, and shortly after arming it moves zero (rule C9). A hold must not do that. So the board
//! keeps the button's edges from the dash: [`PageButton`] waits until the button comes up again, and only
//! then is a short press fed to the dash, as an edge down and an edge up, both stamped with that moment.
//! What the dash does with it does not hang on when it was pressed to the second: rule C9 knows no time but
//! its 30 s. A press that reaches [`HOLD`] steps the [`Brightness`] at that moment, and the dash never hears
//! of it. The journal keeps what the dash was fed, so a replay needs to know nothing of this.
//!
//! Edges in, [`PagePress`] and levels out. This file knows the debouncer and moments.

use crate::gun::debounce::Debounce;
use crate::units::{Instant, Span};

/// How long a hold is: longer than any press meant short (common practice, no source).
pub const HOLD: Span = Span::from_secs(1);

/// What a press of the page button was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PagePress {
    /// Let go before [`HOLD`]: feed the dash an edge down and an edge up of the page line, stamped now.
    Short,
    /// Held for [`HOLD`]: step the brightness.
    Hold,
}

/// The page button, between its pin and the dash.
#[derive(Clone, Debug)]
pub struct PageButton {
    line: Debounce,
    /// The quiet time after which a contact no longer bounces.
    quiet: Span,
    last_edge: Instant,
    /// A press that has not got its meaning yet: when it began.
    open: Option<Instant>,
}

impl PageButton {
    /// A button at rest. `quiet` is the debouncing time of the dash's settings.
    #[must_use]
    pub const fn new(quiet: Span) -> Self {
        Self { line: Debounce::new(quiet), quiet, last_edge: Instant::BOOT, open: None }
    }

    /// The pin changed its level; `down` while it is pressed. Says what the press before it was, if that is
    /// known now.
    pub fn edge(&mut self, at: Instant, down: bool) -> Option<PagePress> {
        let before = self.settle(at);
        self.last_edge = at;
        if self.line.edge(at, down) {
            self.open = Some(at);
        }
        before.or_else(|| self.settle(at))
    }

    /// Time has passed: says what the press was, once, as soon as it is known. Harmless at any other time.
    pub fn settle(&mut self, at: Instant) -> Option<PagePress> {
        let began = self.open?;
        let meaning = if self.line.is_down_at(at) {
            (at.since(began) >= HOLD).then_some(PagePress::Hold)
        } else {
            Some(PagePress::Short)
        };
        if meaning.is_some() {
            self.open = None;
        }
        meaning
    }

    /// When `settle` will know; always later than `at`.
    #[must_use]
    pub fn next_wake(&self, at: Instant) -> Option<Instant> {
        let began = self.open?;
        let due = [self.last_edge.plus(self.quiet), began.plus(HOLD)];
        due.into_iter().filter(|due| *due > at).min()
    }
}

/// How bright display and lamps are. It begins at the brightest after every start: sunlight is the usual
/// case, and a display too dark to read cannot be set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Brightness {
    /// Sunlight.
    #[default]
    Full,
    /// Overcast.
    Half,
    /// A dark shed.
    Low,
}

impl Brightness {
    /// The next level, round and round.
    #[must_use]
    pub const fn stepped(self) -> Self {
        match self {
            Self::Full => Self::Half,
            Self::Half => Self::Low,
            Self::Low => Self::Full,
        }
    }

    /// The display's contrast, for [`super::panel::Panel::set_contrast`]: the eye sees such steps as even
    /// (common practice, no source).
    #[must_use]
    pub const fn contrast(self) -> u8 {
        match self {
            Self::Full => 0xFF,
            Self::Half => 0x50,
            Self::Low => 0x08,
        }
    }

    /// The share of time that a lit lamp is on, percent. A warning stays visible at every level.
    #[must_use]
    pub const fn lamp_percent(self) -> u8 {
        match self {
            Self::Full => 100,
            Self::Half => 40,
            Self::Low => 15,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;
    use crate::dash::Dash;
    use crate::input::{Input, Line};
    use crate::output::{Output, ZeroSource};
    use crate::settings::Settings;

    fn at(ms: i64) -> Instant {
        Instant::BOOT.plus(Span::from_millis(ms))
    }

    /// What the presses of a list of edges (milliseconds, down) were, and when that was said.
    fn meanings(edges: &[(i64, bool)]) -> Vec<(i64, PagePress)> {
        let mut button = PageButton::new(Span::from_millis(25));
        let mut said = Vec::new();
        let mut edges = edges.iter().peekable();
        let mut now = Instant::BOOT;
        loop {
            let mut meaning = button.settle(now);
            if let Some((_, down)) = edges.next_if(|(ms, _)| at(*ms) <= now) {
                meaning = meaning.or(button.edge(now, *down));
            }
            said.extend(meaning.map(|meaning| (now.as_micros() as i64 / 1_000, meaning)));
            let edge = edges.peek().map(|(ms, _)| at(*ms));
            let Some(next) = edge.into_iter().chain(button.next_wake(now)).min() else { return said };
            now = next;
        }
    }

    #[test]
    fn a_press_let_go_is_short_at_its_release() {
        assert_eq!(meanings(&[(100, true), (400, false)]), [(400, PagePress::Short)]);
        assert_eq!(meanings(&[(100, true), (1_099, false)]), [(1_099, PagePress::Short)]);
    }

    #[test]
    fn a_hold_is_known_while_the_button_is_still_down_and_its_release_means_nothing() {
        assert_eq!(meanings(&[(100, true), (5_000, false)]), [(1_100, PagePress::Hold)]);
    }

    #[test]
    fn two_presses_are_two() {
        let edges = [(100, true), (200, false), (400, true), (2_000, false), (3_000, true), (3_100, false)];
        let expected = [(200, PagePress::Short), (1_400, PagePress::Hold), (3_100, PagePress::Short)];
        assert_eq!(meanings(&edges), expected);
    }

    #[test]
    fn a_tap_shorter_than_the_bounce_time_is_one_short_press_once_it_is_quiet() {
        assert_eq!(meanings(&[(100, true), (110, false)]), [(135, PagePress::Short)]);
    }

    #[test]
    fn a_hold_never_moves_zero_and_a_short_press_does() {
        // The second of the default signals, one minute before zero, was the first one seen (rule C9).
        let moved = |release_ms| {
            let mut dash = Dash::new(&Settings::bare());
            let _ = dash.feed(at(1_000), Input::Edge { line: Line::Button, active: true });
            let _ = dash.feed(at(1_100), Input::Edge { line: Line::Button, active: false });
            let presses = meanings(&[(3_000, true), (release_ms, false)]);
            let mut outputs = Vec::new();
            for (ms, _) in presses.iter().filter(|(_, press)| *press == PagePress::Short) {
                for active in [true, false] {
                    let out = dash.feed(at(*ms), Input::Edge { line: Line::Page, active });
                    outputs.extend(out.as_slice().to_vec());
                }
            }
            outputs
        };
        let zero = |output: &Output| {
            matches!(output, Output::Zero { source: ZeroSource::Press { before_s: 60 }, .. })
        };
        assert!(moved(3_300).iter().any(zero));
        assert_eq!(moved(4_500), []);
    }

    #[test]
    fn levels_go_round_and_none_is_dark() {
        let levels = [Brightness::Full, Brightness::Half, Brightness::Low];
        assert_eq!(levels.map(Brightness::stepped), [levels[1], levels[2], levels[0]]);
        assert!(levels.windows(2).all(|pair| pair[0].contrast() > pair[1].contrast()));
        assert!(levels.windows(2).all(|pair| pair[0].lamp_percent() > pair[1].lamp_percent()));
        assert!(levels.iter().all(|level| level.contrast() > 0 && level.lamp_percent() > 0));
    }

    proptest! {
        /// Bounce of up to 20 ms at both ends, and every length of press.
        #[test]
        fn every_press_means_one_thing_once_however_it_bounces(
            held_ms in 60_i64..3_000,
            mut down in proptest::collection::vec(1_i64..20, 0..8),
            mut up in proptest::collection::vec(1_i64..20, 0..8),
        ) {
            down.sort_unstable();
            up.sort_unstable();
            let mut edges = std::vec![(100, true)];
            edges.extend(down.iter().zip(1..).map(|(ms, n)| (100 + ms, n % 2 == 0)));
            edges.push((121, true));
            edges.push((100 + held_ms, false));
            edges.extend(up.iter().zip(1..).map(|(ms, n)| (100 + held_ms + ms, n % 2 == 1)));
            edges.push((100 + held_ms + 21, false));
            let said = meanings(&edges);
            let expected = if held_ms < 1_000 { (100 + held_ms, PagePress::Short) } else { (1_100, PagePress::Hold) };
            prop_assert_eq!(said, [expected]);
        }
    }
}
