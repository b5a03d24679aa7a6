//! Edges of a bouncing contact become presses, each with the moment of its first edge.
//!
//! A contact bounces for a fraction of a millisecond to some tens (common practice; measured sets of switches
//! reach 150 ms). The first edge after a quiet time is the press; whatever follows before the contact is quiet
//! again is the same press. Knows units only.

use crate::mutant::{Mutant, planted};
use crate::units::{Instant, Span};

/// One input line that a person or a gun moves.
#[derive(Clone, Debug)]
pub struct Debounce {
    quiet: Span,
    last_edge: Option<Instant>,
    /// The level after the last edge, bouncing or not.
    level: bool,
    /// The press that is going on: when it began.
    pressed_at: Option<Instant>,
}

impl Debounce {
    /// A line at rest. Edges closer than `quiet` to the one before are bounce.
    #[must_use]
    pub const fn new(quiet: Span) -> Self {
        Self { quiet, last_edge: None, level: false, pressed_at: None }
    }

    /// Takes an edge; says whether it began a press.
    pub fn edge(&mut self, at: Instant, active: bool) -> bool {
        let was_pressed = self.is_down_at(at);
        let bounce = self.last_edge.is_some_and(|last| at.since(last) < self.quiet);
        self.last_edge = Some(at);
        self.level = active;
        if bounce && !planted(Mutant::BounceCounts) {
            return false;
        }
        if active && !was_pressed {
            self.pressed_at = Some(at);
            return true;
        }
        if !active {
            self.pressed_at = None;
        }
        false
    }

    /// True when the line is down, once any bounce has settled.
    #[must_use]
    pub fn is_down_at(&self, at: Instant) -> bool {
        match (self.pressed_at, self.last_edge) {
            (Some(_), Some(last)) => self.level || at.since(last) < self.quiet,
            _ => false,
        }
    }

    /// Since when the line has been down without a break; `None` when it is up.
    #[must_use]
    pub fn held_since(&self, at: Instant) -> Option<Instant> {
        if self.is_down_at(at) { self.pressed_at } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    fn presses(edges: &[(u64, bool)]) -> Vec<u64> {
        let mut line = Debounce::new(Span::from_millis(25));
        edges
            .iter()
            .filter(|(us, active)| line.edge(Instant::from_micros(*us), *active))
            .map(|e| e.0)
            .collect()
    }

    #[test]
    fn a_clean_press_is_one_press_at_its_edge() {
        assert_eq!(presses(&[(1_000, true), (120_000, false), (500_000, true)]), [1_000, 500_000]);
    }

    #[test]
    fn a_contact_that_bounces_for_150_ms_is_one_press() {
        let edges: Vec<_> = (0..51).map(|n| (1_000 + n * 3_000, n % 2 == 0)).collect();
        assert_eq!(presses(&edges), [1_000]);
    }

    #[test]
    fn bounce_on_release_is_no_press() {
        let edges = [(0, true), (200_000, false), (203_000, true), (206_000, false), (600_000, true)];
        assert_eq!(presses(&edges), [0, 600_000]);
    }

    #[test]
    fn a_tap_shorter_than_the_bounce_time_lets_go_again() {
        let mut line = Debounce::new(Span::from_millis(25));
        assert!(line.edge(Instant::from_micros(0), true));
        assert!(!line.edge(Instant::from_micros(15_000), false));
        assert!(line.held_since(Instant::from_micros(16_000)).is_some());
        assert_eq!(line.held_since(Instant::from_micros(60_000)), None);
        assert!(line.edge(Instant::from_micros(300_000), true));
    }

    proptest! {
        /// Bounce of up to 20 ms, however it bounces, at the press and at the release: one press, at the first edge.
        #[test]
        fn bounce_of_up_to_20_ms_is_one_press(
            mut down in proptest::collection::vec(1_u64..20_000, 0..12),
            mut up in proptest::collection::vec(1_u64..20_000, 0..12),
        ) {
            down.sort_unstable();
            up.sort_unstable();
            let mut edges = std::vec![(1_000_000, true)];
            edges.extend(down.iter().enumerate().map(|(n, us)| (1_000_000 + us, n % 2 == 1)));
            edges.push((1_020_500, true));
            edges.push((1_200_000, false));
            edges.extend(up.iter().enumerate().map(|(n, us)| (1_200_000 + us, n % 2 == 0)));
            edges.push((1_220_500, false));
            prop_assert_eq!(presses(&edges), [1_000_000]);
        }
    }
}
