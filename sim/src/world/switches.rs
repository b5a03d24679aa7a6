//! The engine's switches under somebody's own hand: what was thrown and when, and what the engine gets of it.
//!
//! The board sees the switches as edges of its inputs, the engine obeys them from the first step on that is no earlier:
//! so a recording of presses says everything, and plays again bit for bit. The starter lives on external power: there is
//! no battery on board that would turn it (common practice, no source).
//!
//! Presses in, switches out. Knows what a press is and which switches the engine has.

use firmware::input::Line;
use firmware::units::Span;

use super::engine::Switches;
use super::script::Press;

/// Is it a switch of the engine?
#[must_use]
pub const fn is_switch(line: Line) -> bool {
    matches!(
        line,
        Line::Igniter | Line::StarterLow | Line::StarterHigh | Line::StartFuel | Line::ExternalPower
    )
}

/// The switches as they lie.
#[derive(Clone, Copy, Debug, Default)]
pub struct SwitchPanel {
    lie: Switches,
}

impl SwitchPanel {
    /// One is thrown; of other lines it knows nothing.
    pub const fn throw(&mut self, line: Line, on: bool) {
        let lie = &mut self.lie;
        match line {
            Line::Igniter => lie.igniter = on,
            Line::StarterLow => lie.low = on,
            Line::StarterHigh => lie.high = on,
            Line::StartFuel => lie.start_fuel = on,
            Line::ExternalPower => lie.external = on,
            _ => {}
        }
    }

    /// What the engine gets of them. With both starter switches on, the higher voltage is there.
    #[must_use]
    pub const fn switches(&self, open: bool) -> Switches {
        let Switches { low, high, external, .. } = self.lie;
        Switches { low: low && external && !high, high: high && external, open, ..self.lie }
    }
}

/// What is thrown, in the order of time.
#[derive(Clone, Debug, Default)]
pub struct Thrown {
    moves: Vec<(Span, Line, bool)>,
    done: usize,
}

impl Thrown {
    /// All that recorded presses say; a press without a length lasts `held`.
    #[must_use]
    pub fn of(presses: &[Press], held: Span) -> Self {
        let both = |press: &Press| {
            let until = press.at + press.held.unwrap_or(held);
            [(press.at, press.line, true), (until, press.line, false)]
        };
        let mut moves: Vec<_> = presses.iter().filter(|press| is_switch(press.line)).flat_map(both).collect();
        moves.sort_by_key(|(at, ..)| *at);
        Self { moves, done: 0 }
    }

    /// One more, no earlier than those before.
    pub fn push(&mut self, at: Span, line: Line, on: bool) {
        self.moves.push((at, line, on));
    }

    /// What is thrown up to `t` and was not told yet.
    pub fn until(&mut self, t: Span) -> impl Iterator<Item = (Line, bool)> + '_ {
        let from = self.done;
        let due = |(at, ..): &&(Span, Line, bool)| *at <= t;
        self.done += self.moves.get(from..).unwrap_or_default().iter().take_while(due).count();
        self.moves.get(from..self.done).unwrap_or_default().iter().map(|(_, line, on)| (*line, *on))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: i64) -> Span {
        Span::from_millis(ms)
    }

    #[test]
    fn the_starter_gets_one_voltage_at_a_time_and_none_without_external_power() {
        let mut panel = SwitchPanel::default();
        panel.throw(Line::StarterLow, true);
        panel.throw(Line::StarterHigh, true);
        let got = |panel: &SwitchPanel| (panel.switches(true).low, panel.switches(true).high);
        assert_eq!(got(&panel), (false, false));
        panel.throw(Line::ExternalPower, true);
        assert_eq!(got(&panel), (false, true));
        panel.throw(Line::StarterHigh, false);
        assert_eq!(got(&panel), (true, false));
    }

    #[test]
    fn presses_are_thrown_in_the_order_of_time_and_each_once() {
        let press = |ms, line, held: Option<i64>| Press { at: at(ms), line, held: held.map(at) };
        let presses = [
            press(500, Line::StartFuel, None),
            press(100, Line::Igniter, Some(2_000)),
            press(200, Line::Button, None),
        ];
        let mut thrown = Thrown::of(&presses, at(150));
        assert_eq!(thrown.until(at(99)).count(), 0);
        assert_eq!(
            thrown.until(at(500)).collect::<Vec<_>>(),
            [(Line::Igniter, true), (Line::StartFuel, true)]
        );
        thrown.push(at(2_200), Line::ExternalPower, true);
        let rest = [(Line::StartFuel, false), (Line::Igniter, false), (Line::ExternalPower, true)];
        assert_eq!(thrown.until(at(9_000)).collect::<Vec<_>>(), rest);
    }
}
