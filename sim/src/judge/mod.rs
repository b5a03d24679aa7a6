//! An official's check of a record: whole? untouched? signed? Do its inputs lead to its decisions? And what does a
//! second, independent computation make of them?
//!
//! [`integrity`] walks frames and chain; [`record`] takes the journal apart; the replay feeds its inputs to a fresh dash;
//! [`second`] works zero, crossing, margin and laps out anew; [`compare`] puts both side by side. Text, JSON lines and a
//! page are made of the [`Judgement`]. Nothing here decides a race: the officials do.
//!
//! A journal in, a judgement out; the same journal gives the same judgement.

pub mod command;
pub mod compare;
mod findings;
pub mod fleet;
pub mod integrity;
mod lines;
mod page;
mod picture;
pub mod record;
pub mod second;
mod text;

use firmware::journal::{Why, firmware_version};
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::units::{Instant, Span, Utc};

use crate::log::{Decided, Log, ReceiverCounts};
use crate::replay::{NotAJournal, Replay, replay};
use crate::summary::{Scale, Summary};
use compare::Compared;
use integrity::{Ending, Integrity};
use record::{HeatParts, Life};
use second::Opinion;

/// What is asked of a record.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// The public key that it must be signed with.
    pub key: Option<[u8; 32]>,
    /// Which heat of it, 1 for the first; the last without it.
    pub heat: Option<usize>,
}

/// Why there is nothing to judge.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoJudgement {
    /// It is no journal, or of another format.
    #[error(transparent)]
    NotAJournal(#[from] NotAJournal),
    /// It is a journal, and so much of its beginning was changed or is gone that nothing can be judged.
    #[error("ALTERED or cut off at its beginning, nothing in it can be judged: {0}")]
    Spoiled(String),
    /// There are not so many heats in it.
    #[error("this journal holds {held} heats; there is no heat {asked}")]
    NoSuchHeat {
        /// The number asked for.
        asked: usize,
        /// How many there are.
        held: usize,
    },
}

/// Everything about a record.
#[derive(Clone, Debug)]
pub struct Judgement {
    /// Its length in bytes.
    pub bytes: usize,
    /// Is it whole and untouched?
    pub integrity: Integrity,
    /// Do its inputs lead to its decisions?
    pub replay: Replay,
    /// The firmware's version that the heat's last life names.
    pub firmware: [u16; 3],
    /// Which heat was judged, 1 for the first, and how many there are.
    pub heat: (usize, usize),
    /// Starts of the program in it.
    pub lives: usize,
    /// The heat as the dash decided it; times count from its own zero.
    pub log: Log,
    /// What it came to, by the dash.
    pub summary: Summary,
    /// The same by the second opinion.
    pub opinion: Opinion,
    /// Both side by side.
    pub compared: Vec<Compared>,
    /// The heat stands whole in the record.
    pub is_complete: bool,
    /// A key was named that it must be signed with.
    pub needs_signature: bool,
}

/// The answer in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Whole, untouched, replays to its own decisions, and the second opinion agrees.
    Good,
    /// Something was changed, taken out or put in.
    Altered,
    /// It must be signed by a key, and is not.
    NotSigned,
    /// Its inputs do not lead to its decisions.
    ReplaysOtherwise,
    /// The same, and it names another firmware than this program holds: nothing follows from it.
    OtherFirmware,
    /// Untouched as far as it goes, and the heat's end is not in it.
    NotWhole,
    /// The second opinion comes to something else.
    OpinionsDiffer,
}

impl Judgement {
    /// The answer.
    #[must_use]
    pub fn answer(&self) -> Answer {
        if !self.integrity.is_untouched() {
            Answer::Altered
        } else if self.needs_signature && self.integrity.signed_by().is_none() {
            Answer::NotSigned
        } else if !self.replays() {
            if self.firmware == firmware_version() { Answer::ReplaysOtherwise } else { Answer::OtherFirmware }
        } else if self.compared.iter().any(|row| !row.agrees) {
            Answer::OpinionsDiffer
        } else if !self.is_complete {
            Answer::NotWhole
        } else {
            Answer::Good
        }
    }

    /// Its inputs lead to its decisions, bit for bit.
    #[must_use]
    pub const fn replays(&self) -> bool {
        self.replay.first_difference.is_none() && self.replay.carried_otherwise.is_none()
    }

    /// Shown figures stand under a reservation: the record is not what it was.
    #[must_use]
    pub fn is_reserved(&self) -> bool {
        !matches!(self.answer(), Answer::Good | Answer::NotWhole)
    }
}

/// Judges a journal.
///
/// # Errors
/// [`NoJudgement`] when there is nothing to judge.
pub fn judge(journal: &[u8], asked: Asked) -> Result<Judgement, NoJudgement> {
    let integrity = integrity::check(journal, asked.key.as_ref());
    let replay = match replay(journal) {
        Err(NotAJournal::NoOpening) if integrity.records > 0 => return Err(spoiled(&integrity)),
        Err(NotAJournal::Settings) if !integrity.is_untouched() => return Err(spoiled(&integrity)),
        replay => replay?,
    };
    let lives = record::lives(journal);
    let heats = record::heats(&lives);
    let number = asked.heat.unwrap_or(heats.len());
    let no_such = NoJudgement::NoSuchHeat { asked: number, held: heats.len() };
    let heat = number.checked_sub(1).and_then(|place| heats.get(place)).ok_or(no_such)?;
    let settings = heat.settings(&lives).ok_or_else(|| spoiled(&integrity))?;
    let opinion = second::opinion(heat, &lives, settings);
    let log = log_of(journal, heat, (&lives, settings), &replay, &opinion);
    let summary = Summary::of(&log, Scale::DashZero);
    let compared = compare::compare(&log, &summary, &opinion, heat);
    let begins = heat.0.first().and_then(|part| lives.get(part.life)).map_or(0, |life| life.offset);
    let last_life = heat.0.last().and_then(|part| lives.get(part.life));
    let is_complete = is_complete(&integrity, &summary, begins);
    Ok(Judgement {
        bytes: journal.len(),
        firmware: last_life.map_or([0; 3], |life| life.firmware),
        heat: (number, heats.len()),
        lives: lives.len(),
        needs_signature: asked.key.is_some(),
        integrity,
        replay,
        log,
        summary,
        opinion,
        compared,
        is_complete,
    })
}

/// What is known of a record that nothing can be judged in.
fn spoiled(integrity: &Integrity) -> NoJudgement {
    let fault = integrity.first_fault().map(|(place, fault)| format!("{place}: {fault}"));
    let note = || integrity.notes.first().map(|(place, note)| format!("{place}: {note}"));
    NoJudgement::Spoiled(fault.or_else(note).unwrap_or_else(|| "its settings are not all there".into()))
}

/// A heat is whole when the record was closed behind it, or the heat itself was, and no record of it found no room.
fn is_complete(integrity: &Integrity, summary: &Summary, begins: usize) -> bool {
    let of_heat = |offset: usize| offset >= begins;
    let sealed = integrity.seals.iter().any(|it| it.seal.why == Why::Heat && of_heat(it.place.offset));
    let lost = integrity
        .notes
        .iter()
        .any(|(place, note)| matches!(note, integrity::Note::Lost(_)) && of_heat(place.offset));
    !lost && (integrity.ending == Ending::Closed || (summary.finish.is_some() && sealed))
}

/// The heat as a log; times count from the dash's last word on zero.
fn log_of(
    journal: &[u8],
    heat: &HeatParts,
    (lives, settings): (&[Life], &Settings),
    replay: &Replay,
    opinion: &Opinion,
) -> Log {
    let (mut decisions, mut zero, mut in_life) = (Vec::new(), None, usize::MAX);
    let (mut counts, mut edges) = (ReceiverCounts::default(), Vec::new());
    let mut scale = (Instant::BOOT, Span::ZERO);
    let mut latest = Span::ZERO;
    for (life, step) in heat.steps(lives) {
        if life != in_life {
            (in_life, zero) = (life, None);
            // A life that knew no zero is told from where the one before it ended.
            scale = heat.zero_in(life, lives).map_or((step.at, latest), |zero| (zero, Span::ZERO));
        }
        let t = step.at.since(scale.0) + scale.1;
        latest = t;
        match step.input {
            firmware::input::Input::Fix(_) => counts.fixes += 1,
            firmware::input::Input::Rejected(_) => counts.rejected += 1,
            firmware::input::Input::Edge { line, active } => {
                edges.push(crate::log::EdgeSeen { t, line, active })
            }
            _ => {}
        }
        for output in &step.decided {
            match output {
                Output::Zero { at, .. } => zero = Some(*at),
                Output::Cleared => zero = None,
                _ => {}
            }
        }
        let race = zero.map(|zero| step.at.since(zero));
        decisions.extend(step.decided.iter().map(|output| Decided { t, at: step.at, race, output: *output }));
    }
    let zero_s = opinion.zero.as_ref().filter(|_| opinion.knows_utc).map_or(0.0, |zero| zero.at.s);
    Log {
        title: "A record".into(),
        seed: 0,
        drawn: Vec::new(),
        settings: settings.clone(),
        zero_utc: Utc::from_unix_micros((zero_s * 1e6).round() as i64),
        decisions,
        samples: Vec::new(),
        edges,
        true_crossings: Vec::new(),
        // For the account of the engine, which the record keeps beside the decisions.
        journal: journal.to_vec(),
        digest: replay.digest,
        receiver: counts,
    }
}
