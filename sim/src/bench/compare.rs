//! The simulator's own dash beside the board's: fed the same inputs at the same moments, so it must decide the same.
//!
//! Inputs in, as they go to the board; decisions of the board in, as they come; differences out.

use std::collections::VecDeque;

use firmware::dash::Dash;
use firmware::input::Input;
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::units::Instant;

/// A decision and the stamp of what led to it.
pub type Decision = (Instant, Output);

/// One dash said what the other did not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Difference {
    /// The board decided this alone.
    BoardAlone(Decision),
    /// The simulator's dash decided this alone.
    HereAlone(Decision),
}

/// So many decisions are looked through for one that was expected later.
const LOOKED_THROUGH: usize = 32;

/// The dash here, and what it decided that the board has not said yet.
pub struct Beside {
    dash: Box<Dash>,
    expected: VecDeque<Decision>,
    /// Decisions in which both agreed.
    pub agreed: usize,
}

impl Beside {
    /// A fresh dash.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        Self { dash: Box::new(Dash::new(settings)), expected: VecDeque::new(), agreed: 0 }
    }

    /// The same input as the board's dash gets.
    pub fn feed(&mut self, at: Instant, input: Input) {
        self.pass(at);
        self.take(at, input);
    }

    /// Lets time pass: the dash is woken whenever it asked to be, as on the board.
    pub fn pass(&mut self, now: Instant) {
        while let Some(wake) = self.dash.next_wake().filter(|wake| *wake <= now) {
            self.take(wake, Input::Tick);
        }
    }

    fn take(&mut self, at: Instant, input: Input) {
        self.expected.extend(self.dash.feed(at, input).as_slice().iter().map(|output| (at, *output)));
    }

    /// The board decided this: what differs, if anything.
    pub fn hear(&mut self, decision: Decision) -> Vec<Difference> {
        let place = self.expected.iter().take(LOOKED_THROUGH).position(|expected| *expected == decision);
        match place {
            Some(place) => {
                let missing: Vec<_> = self.expected.drain(..place).map(Difference::HereAlone).collect();
                self.expected.pop_front();
                self.agreed += 1;
                missing
            }
            None => vec![Difference::BoardAlone(decision)],
        }
    }

    /// The board has said all up to a moment: what is still expected, it will not say.
    pub fn end(&mut self) -> Vec<Difference> {
        self.expected.drain(..).map(Difference::HereAlone).collect()
    }

    /// What is expected next.
    #[must_use]
    pub fn expects(&self) -> Option<&Decision> {
        self.expected.front()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails panics")]

    use firmware::input::Line;
    use firmware::output::Tone;
    use firmware::units::Span;

    use super::*;
    use crate::bench::script::Script;
    use crate::scenario;
    use crate::sensors::Part;

    fn at(ms: i64) -> Instant {
        Instant::BOOT.plus(Span::from_millis(ms))
    }

    fn pressed() -> Beside {
        let mut beside = Beside::new(&Settings::bare());
        beside.feed(at(1_000), Input::Edge { line: Line::Button, active: true });
        beside
    }

    fn expected() -> Vec<Decision> {
        pressed().expected.into()
    }

    #[test]
    fn equal_decisions_agree_and_each_difference_is_told_at_once_and_once() {
        let all = expected();
        assert!(all.len() >= 2);
        let mut beside = pressed();
        assert!(all.iter().all(|decision| beside.hear(*decision).is_empty()));
        assert_eq!((beside.agreed, beside.end()), (all.len(), Vec::new()));

        let mut beside = pressed();
        assert_eq!(beside.hear(all[1]), [Difference::HereAlone(all[0])]);
        let other = (at(1_000), Output::Cue(Tone::Zero));
        assert_eq!(beside.hear(other), [Difference::BoardAlone(other)]);
        assert_eq!(beside.agreed, 1);
    }

    #[test]
    fn a_decision_at_another_microsecond_is_a_difference() {
        let (when, output) = expected()[0];
        let late = (when.plus(Span::from_micros(1)), output);
        assert_eq!(pressed().hear(late), [Difference::BoardAlone(late)]);
    }

    /// What the simulator's own record of a heat holds comes out again at any other time of the board's clock: the dash
    /// knows differences of time and nothing else.
    #[test]
    fn a_heat_at_another_time_of_the_clock_is_decided_alike() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/first.toml");
        let heat = scenario::load(&path).unwrap();
        let script =
            Script::of(&heat, Part { from: Some(Span::from_secs(-65)), until: Some(Span::from_secs(5)) });
        assert!(script.decided.len() > 10 && !script.is_cut);
        for later in [Span::ZERO, Span::from_micros(86_400_000_001)] {
            let mut beside = Beside::new(&script.settings);
            script.inputs.iter().for_each(|(at, input)| beside.feed(at.plus(later), *input));
            let here: Vec<_> = beside.expected.iter().map(|(at, _)| at.plus(-later)).collect();
            let there: Vec<_> = script.decided.iter().map(|(at, _)| *at).collect();
            assert_eq!(here, there);
            if later == Span::ZERO {
                assert_eq!(Vec::from(beside.expected), script.decided);
            }
        }
    }
}
