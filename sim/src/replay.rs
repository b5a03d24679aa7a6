//! A journal played back into a fresh dash: do its inputs lead to its decisions?
//!
//! That one question is the test of board against host, the officials' check of a record, and the form of a bug
//! report. Bytes of a journal in, an answer out.

use firmware::dash::Dash;
use firmware::engine::suffered::Accounts;
use firmware::input::Input;
use firmware::journal::{Digest, Entry, FORMAT, Reader, Record};
use firmware::output::Output;
use firmware::resume::Carried;
use firmware::settings::Settings;
use firmware::units::Instant;

/// What came of a replay.
#[derive(Clone, Debug, Default)]
pub struct Replay {
    /// Inputs fed.
    pub inputs: u64,
    /// Decisions that the journal holds.
    pub decisions: u64,
    /// The first place where the dash decided otherwise than the journal says.
    pub first_difference: Option<Difference>,
    /// The first record of what would be carried through a restart, or of what the engine suffered, that the replayed
    /// dash would not have made.
    pub carried_otherwise: Option<usize>,
    /// Bytes that are no record: where, and how many.
    pub broken: Vec<(usize, usize)>,
    /// Records that the marks say are missing.
    pub missing: u64,
    /// SHA-256 over the decisions that the fresh dash took.
    pub digest: [u8; 32],
}

impl Replay {
    /// True when the journal is whole and its inputs lead to its decisions.
    #[must_use]
    pub fn agrees(&self) -> bool {
        self.first_difference.is_none()
            && self.carried_otherwise.is_none()
            && self.broken.is_empty()
            && self.missing == 0
    }
}

/// Where a replay and its journal part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// The offset in the journal.
    pub offset: usize,
    /// The board's time of the input.
    pub at: Instant,
    /// What the journal says was decided, if anything.
    pub recorded: Option<Output>,
    /// What the fresh dash decided, if anything.
    pub replayed: Option<Output>,
}

/// Why a journal cannot be replayed at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAJournal {
    /// No record at its beginning says that a dash began.
    #[error("this is no journal: it does not begin with an opening record")]
    NoOpening,
    /// Another format.
    #[error("this journal has format {0}; this program reads format {FORMAT}")]
    Format(u8),
    /// The settings in it cannot be read.
    #[error("the settings in this journal cannot be read: they are of another version, or damaged")]
    Settings,
}

/// Plays `journal` into fresh dashes, one for each opening in it.
///
/// # Errors
/// [`NotAJournal`] when there is nothing to replay.
pub fn replay(journal: &[u8]) -> Result<Replay, NotAJournal> {
    if let Some(format) = Reader::new(journal).older_format() {
        return Err(NotAJournal::Format(format));
    }
    let mut player = Player::default();
    for entry in Reader::new(journal) {
        match entry {
            Entry::Broken { offset, len } => player.result.broken.push((offset, len)),
            Entry::Record { offset, record, .. } => player.record(offset, record)?,
        }
    }
    player.settle(journal.len());
    if !player.opened {
        return Err(NotAJournal::NoOpening);
    }
    player.result.digest = player.digest.value();
    Ok(player.result)
}

#[derive(Default)]
struct Player {
    result: Replay,
    digest: Digest,
    opened: bool,
    /// Settings that are still coming in: how many bytes there will be, and those that are here.
    settings: Option<(usize, Vec<u8>)>,
    dash: Option<Dash>,
    at: Instant,
    /// What the dash decided on the last input and the journal has not confirmed yet.
    expected: std::collections::VecDeque<Output>,
    records: u64,
}

impl Player {
    fn record(&mut self, offset: usize, record: Record) -> Result<(), NotAJournal> {
        match record {
            Record::Opening { format, .. } if format != FORMAT => return Err(NotAJournal::Format(format)),
            Record::Opening { settings_len, before, .. } => {
                if !self.opened {
                    // A journal may be taken from a restart on: numbers run on over restarts.
                    self.records = before.map_or(0, |before| u64::from(before.number) + 1);
                }
                self.open(offset, usize::from(settings_len));
            }
            Record::Settings(piece) => self.settings_piece(&piece)?,
            Record::Mark { number, at, .. } => self.mark(u64::from(number), at),
            Record::Input { after, input } => self.input(offset, self.at.plus(after), input),
            Record::Decision(output) => self.decision(offset, output),
            Record::Carried(carried) => self.carried(offset, carried),
            Record::Seal(seal) => self.mark(u64::from(seal.number), seal.at),
            Record::Signature { .. } => {}
            Record::Suffered(accounts) => self.suffered(offset, &accounts),
        }
        self.records += 1;
        Ok(())
    }

    fn open(&mut self, offset: usize, settings_len: usize) {
        self.settle(offset);
        self.opened = true;
        self.dash = None;
        self.at = Instant::BOOT;
        self.settings = Some((settings_len, Vec::new()));
    }

    fn settings_piece(&mut self, piece: &[u8]) -> Result<(), NotAJournal> {
        let Some((len, bytes)) = self.settings.as_mut() else { return Ok(()) };
        bytes.extend_from_slice(piece);
        if bytes.len() >= *len {
            let settings = Settings::decode(bytes).ok_or(NotAJournal::Settings)?;
            self.dash = Some(Dash::new(&settings));
            self.settings = None;
        }
        Ok(())
    }

    fn mark(&mut self, number: u64, at: Instant) {
        self.result.missing += number.saturating_sub(self.records);
        self.records = number;
        self.at = at;
    }

    fn input(&mut self, offset: usize, at: Instant, input: Input) {
        self.settle(offset);
        self.at = at;
        self.result.inputs += 1;
        let Some(dash) = self.dash.as_mut() else { return };
        for output in dash.feed(at, input).as_slice() {
            self.digest.add(at, output);
            self.expected.push_back(*output);
        }
    }

    fn decision(&mut self, offset: usize, recorded: Output) {
        self.result.decisions += 1;
        let replayed = self.expected.pop_front();
        if replayed != Some(recorded) {
            self.differ(offset, Some(recorded), replayed);
        }
    }

    fn carried(&mut self, offset: usize, recorded: Option<Carried>) {
        self.settle(offset);
        let differs = self.dash.as_ref().is_some_and(|dash| dash.carried(self.at) != recorded);
        if differs && self.result.carried_otherwise.is_none() {
            self.result.carried_otherwise = Some(offset);
        }
    }

    fn suffered(&mut self, offset: usize, recorded: &Accounts) {
        self.settle(offset);
        let differs =
            self.dash.as_ref().is_some_and(|dash| dash.accounts().copied().unwrap_or_default() != *recorded);
        if differs && self.result.carried_otherwise.is_none() {
            self.result.carried_otherwise = Some(offset);
        }
    }

    /// Decisions that the journal should have held by now and does not.
    fn settle(&mut self, offset: usize) {
        if let Some(replayed) = self.expected.pop_front() {
            self.expected.clear();
            self.differ(offset, None, Some(replayed));
        }
    }

    fn differ(&mut self, offset: usize, recorded: Option<Output>, replayed: Option<Output>) {
        let difference = Difference { offset, at: self.at, recorded, replayed };
        self.result.first_difference.get_or_insert(difference);
    }
}
