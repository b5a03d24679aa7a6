//! The board's journal taken apart: one life for each start of the program, with all that the dash was fed and what
//! it decided.
//!
//! Bytes in, lives out. A life can be lived again on the host up to any of its inputs.

use std::ops::Range;

use firmware::dash::Dash;
use firmware::input::Input;
use firmware::journal::{Entry, Reader, Record};
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::units::Instant;

/// An input, and what the record says it led to.
#[derive(Clone, Debug)]
pub struct Step {
    /// The board's stamp.
    pub at: Instant,
    /// What happened.
    pub input: Input,
    /// What was decided.
    pub decided: Vec<Output>,
}

/// From one start of the program to the next.
pub struct Life {
    /// The settings that it ran on.
    pub settings: Settings,
    /// Everything that the dash was fed.
    pub steps: Vec<Step>,
    /// Where its record stands in the journal, and where the last whole input of it does.
    pub bytes: Range<usize>,
    /// See there.
    pub last_input: usize,
}

impl Life {
    /// A fresh dash that has been fed the first `inputs` of this life, or none if the record has fewer.
    pub fn again(&self, inputs: usize) -> Option<Dash> {
        let mut dash = Dash::new(&self.settings);
        for step in self.steps.get(..inputs)? {
            let _ = dash.feed(step.at, step.input);
        }
        Some(dash)
    }

    /// Every decision with the stamp of the input that led to it.
    pub fn decisions(&self) -> impl Iterator<Item = (Instant, &Output)> {
        self.steps.iter().flat_map(|step| step.decided.iter().map(move |output| (step.at, output)))
    }
}

/// The lives of a journal.
pub fn lives(journal: &[u8]) -> Vec<Life> {
    let mut lives: Vec<Life> = Vec::new();
    let (mut at, mut settings) = (Instant::BOOT, Vec::new());
    for entry in Reader::new(journal) {
        let Entry::Record { offset, record, .. } = entry else { continue };
        if let Record::Opening { .. } = record {
            at = Instant::BOOT;
            settings.clear();
            lives.push(Life {
                settings: Settings::bare(),
                steps: Vec::new(),
                bytes: offset..journal.len(),
                last_input: offset,
            });
            if let [.., before, _] = lives.as_mut_slice() {
                before.bytes.end = offset;
            }
        }
        let Some(life) = lives.last_mut() else { continue };
        match record {
            Record::Settings(piece) => {
                settings.extend_from_slice(&piece);
                life.settings = Settings::decode(&settings).unwrap_or_else(Settings::bare);
            }
            Record::Mark { at: marked, .. } => at = marked,
            Record::Input { after, input } => {
                at = at.plus(after);
                life.last_input = offset;
                life.steps.push(Step { at, input, decided: Vec::new() });
            }
            Record::Decision(output) => life.steps.last_mut().expect("an input before").decided.push(output),
            _ => {}
        }
    }
    lives
}
