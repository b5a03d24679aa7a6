//! A journal taken apart: one life for each start of the program, with all that the dash was fed and what it decided.
//!
//! Knows the journal's records. Bytes in, lives out.

use std::ops::Range;

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
#[derive(Clone, Debug)]
pub struct Life {
    /// Where it begins.
    pub offset: usize,
    /// The firmware's version that it names.
    pub firmware: [u16; 3],
    /// The settings that it ran on; none when they cannot be read.
    pub settings: Option<Settings>,
    /// Everything that the dash was fed.
    pub steps: Vec<Step>,
}

impl Life {
    /// True when it goes on with the heat of the life before it: its first input says what was carried.
    #[must_use]
    pub fn goes_on(&self) -> bool {
        matches!(self.steps.first(), Some(Step { input: Input::Resume(_), .. }))
    }
}

/// The lives of a journal. What is broken is passed over.
#[must_use]
pub fn lives(journal: &[u8]) -> Vec<Life> {
    let mut lives: Vec<Life> = Vec::new();
    let (mut at, mut settings) = (Instant::BOOT, Vec::new());
    for entry in Reader::new(journal) {
        let Entry::Record { offset, record, .. } = entry else { continue };
        if let Record::Opening { firmware, .. } = record {
            (at, settings) = (Instant::BOOT, Vec::new());
            lives.push(Life { offset, firmware, settings: None, steps: Vec::new() });
        }
        let Some(life) = lives.last_mut() else { continue };
        match record {
            Record::Settings(piece) => {
                settings.extend_from_slice(&piece);
                life.settings = Settings::decode(&settings);
            }
            Record::Mark { at: marked, .. } => at = marked,
            Record::Seal(seal) => at = seal.at,
            Record::Input { after, input } => {
                at = at.plus(after);
                life.steps.push(Step { at, input, decided: Vec::new() });
            }
            Record::Decision(output) => {
                if let Some(step) = life.steps.last_mut() {
                    step.decided.push(output);
                }
            }
            Record::Opening { .. } | Record::Carried(_) | Record::Suffered(_) | Record::Signature { .. } => {}
        }
    }
    lives
}

/// A stretch of a life that belongs to one heat.
#[derive(Clone, Debug)]
pub struct Part {
    /// Which life.
    pub life: usize,
    /// Which of its steps.
    pub steps: Range<usize>,
}

/// One heat: a clock that was armed, over any restarts, until it was cleared or the record ends.
#[derive(Clone, Debug, Default)]
pub struct HeatParts(pub Vec<Part>);

/// The heats of a journal, in order; those in which no clock was ever armed are left out, unless there is no other.
#[must_use]
pub fn heats(lives: &[Life]) -> Vec<HeatParts> {
    let mut heats: Vec<HeatParts> = Vec::new();
    for (number, life) in lives.iter().enumerate() {
        let cuts = life.steps.iter().enumerate().filter(|(_, step)| step.decided.contains(&Output::Cleared));
        let ends = cuts.map(|(place, _)| place + 1).chain([life.steps.len()]);
        let mut from = 0;
        for end in ends {
            let part = Part { life: number, steps: from..end };
            match heats.last_mut() {
                Some(heat) if from == 0 && life.goes_on() => heat.0.push(part),
                _ => heats.push(HeatParts(vec![part])),
            }
            from = end;
        }
    }
    let is_armed = |heat: &HeatParts| heat.steps(lives).any(|(_, step)| has_zero(step));
    if heats.iter().any(is_armed) {
        heats.retain(is_armed);
    }
    heats
}

fn has_zero(step: &Step) -> bool {
    step.decided.iter().any(|output| matches!(output, Output::Zero { .. }))
}

impl HeatParts {
    /// Its steps, each with the number of its life.
    pub fn steps<'a>(&'a self, lives: &'a [Life]) -> impl Iterator<Item = (usize, &'a Step)> {
        self.0.iter().flat_map(|part| {
            let steps = lives.get(part.life).and_then(|life| life.steps.get(part.steps.clone()));
            steps.unwrap_or_default().iter().map(|step| (part.life, step))
        })
    }

    /// The moment of zero on the clock of one of its lives, as the dash last had it there.
    #[must_use]
    pub fn zero_in(&self, life: usize, lives: &[Life]) -> Option<Instant> {
        let zeros = self.steps(lives).filter(|(of, _)| *of == life).flat_map(|(_, step)| &step.decided);
        zeros.filter_map(|output| if let Output::Zero { at, .. } = output { Some(*at) } else { None }).last()
    }

    /// The settings that it was run on: those of its last life that can be read.
    #[must_use]
    pub fn settings<'a>(&self, lives: &'a [Life]) -> Option<&'a Settings> {
        self.0.iter().rev().find_map(|part| lives.get(part.life)?.settings.as_ref())
    }
}
