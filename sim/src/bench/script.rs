//! What the dash gets in a heat: its inputs with their moments, as the simulator's own record holds them.
//!
//! A heat and a part of it in, inputs out. The dash's own wakings are left out: a board wakes its dash by itself.

use firmware::input::Input;
use firmware::journal::{Entry, Reader, Record};
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::units::{Instant, Span, Utc};

use crate::log::Log;
use crate::play::play_part;
use crate::scenario::Heat;
use crate::sensors::Part;

/// A heat for a board on the bench.
#[derive(Clone, Debug)]
pub struct Script {
    /// What the dash runs on.
    pub settings: Settings,
    /// Inputs with their moments on the simulated board's clock, which began at its zero.
    pub inputs: Vec<(Instant, Input)>,
    /// What the simulator's dash decided on them, and when.
    pub decided: Vec<(Instant, Output)>,
    /// True when the heat's board is restarted in the middle: only what comes before that is here.
    pub is_cut: bool,
    /// The heat's zero.
    pub zero_utc: Utc,
    /// The true race time at which that board's clock stood at zero, as the first decision tells it.
    pub begins: Span,
}

impl Script {
    /// Plays a part of a heat in virtual time and writes down what the dash was fed.
    #[must_use]
    pub fn of(heat: &Heat, part: Part) -> Self {
        let log = play_part(heat, part);
        Self::of_log(&heat.settings, &log)
    }

    fn of_log(settings: &Settings, log: &Log) -> Self {
        let (mut inputs, mut decided, mut at, mut lives) = (Vec::new(), Vec::new(), Instant::BOOT, 0);
        for entry in Reader::new(&log.journal) {
            let Entry::Record { record, .. } = entry else { continue };
            match record {
                Record::Opening { .. } => lives += 1,
                _ if lives > 1 => break,
                Record::Input { after, input } => {
                    at = at.plus(after);
                    if input != Input::Tick {
                        inputs.push((at, input));
                    }
                }
                Record::Decision(output) => decided.push((at, output)),
                _ => {}
            }
        }
        // What is decided after the last input is nobody's: the board goes on, the record does not.
        let last = inputs.last().map_or(Instant::BOOT, |(at, _)| *at);
        decided.retain(|(at, _)| *at <= last);
        let begins =
            log.decisions.first().map_or(Span::ZERO, |first| first.t - first.at.since(Instant::BOOT));
        let (settings, zero_utc, is_cut) = (settings.clone(), log.zero_utc, lives > 1);
        Self { settings, inputs, decided, is_cut, zero_utc, begins }
    }

    /// From the first moment of the board's clock to the last input.
    #[must_use]
    pub fn length(&self) -> Span {
        self.inputs.last().map_or(Span::ZERO, |(at, _)| at.since(Instant::BOOT))
    }
}
