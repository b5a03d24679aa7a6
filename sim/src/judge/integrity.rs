//! Is a record whole, untouched and signed?
//!
//! Walks the frames once: sequence, chain, ties between starts of the program, seals, signatures, and how the record
//! ends. What is wrong is named with its place; what only looks wrong (a torn tail, records that found no room) is
//! noted for what it is.
//!
//! Knows the journal's frames; nothing of the race. Bytes in, findings out.

use firmware::journal::{Before, Chain, Entry, FRAME_ADDS, Reader, Record, Seal, Why, signature};
use firmware::units::Instant;

pub use super::findings::{Ending, Fault, Integrity, Note, Place, Sealed};

/// Walks a journal; `key` is the public key that signatures must be by, where one was named.
#[must_use]
pub fn check(journal: &[u8], key: Option<&[u8; 32]>) -> Integrity {
    let mut walk = Walk { journal, key, ..Walk::default() };
    let mut entries = Reader::new(journal).peekable();
    while let Some(entry) = entries.next() {
        match entry {
            Entry::Broken { offset, len } => walk.broken(offset, len, entries.peek()),
            Entry::Record { offset, sequence, record } => walk.record(offset, sequence, &record),
        }
    }
    walk.end();
    walk.found.faults.sort_by_key(|(place, _)| place.offset);
    walk.found
}

#[derive(Default)]
struct Walk<'a> {
    journal: &'a [u8],
    key: Option<&'a [u8; 32]>,
    found: Integrity,
    chain: Chain,
    /// The number of the record that is due.
    due: u32,
    at: Instant,
    /// Where the stretch under way began; none before the first link.
    stretch: Option<Place>,
    /// Faults when the stretch began: a stretch with a fault in it needs none for its chain.
    faults_before: usize,
    /// A gap in the sequence whose cause the next link will tell.
    gap: Option<(Place, Fault, u32)>,
    /// A seal that should be signed by the next record.
    unsigned: Option<Seal>,
    /// The last record was a closing seal, or its signature.
    closed: bool,
    /// What the newest opening says of how the record is closed.
    closes: bool,
    torn: bool,
}

impl Walk<'_> {
    const fn place(&self, offset: usize) -> Place {
        Place { offset, record: self.due, at: self.at }
    }

    fn fault(&mut self, offset: usize, fault: Fault) {
        self.found.faults.push((self.place(offset), fault));
    }

    fn note(&mut self, offset: usize, note: Note) {
        self.found.notes.push((self.place(offset), note));
    }

    fn broken(&mut self, offset: usize, len: usize, next: Option<&Entry>) {
        let follows_tied =
            matches!(next, Some(Entry::Record { record: Record::Opening { before: Some(_), .. }, .. }));
        if offset == 0 && !self.is_frame(len) {
            return self.note(0, Note::BeginsInTheMiddle);
        }
        if (next.is_none() || follows_tied) && self.is_torn(offset, len) {
            self.torn = next.is_none();
            return self.note(offset, Note::TornTail(len));
        }
        self.fault(offset, Fault::Damaged(len));
        self.due = self.due.wrapping_add(1);
        self.closed = false;
    }

    /// The first so many bytes are a whole frame by their length, or would be one with another length.
    fn is_frame(&self, len: usize) -> bool {
        let bytes = self.journal.get(..len).unwrap_or_default();
        bytes.first().is_some_and(|says| usize::from(*says) + FRAME_ADDS == len)
            || is_whole_but_for_its_length(bytes)
    }

    /// The beginning of the record that is due, and not all of it; and no record whose length was changed.
    fn is_torn(&self, offset: usize, len: usize) -> bool {
        let Some(bytes) = self.journal.get(offset..offset + len) else { return false };
        let (Some(&says), sequence) = (bytes.first(), bytes.get(1)) else { return false };
        let is_next = sequence.is_none_or(|sequence| *sequence == self.due.to_le_bytes()[0]);
        usize::from(says) + FRAME_ADDS > len && is_next && !is_whole_but_for_its_length(bytes)
    }

    fn record(&mut self, offset: usize, sequence: u8, record: &Record) {
        let len = self.journal.get(offset).map_or(0, |len| usize::from(*len) + FRAME_ADDS);
        let frame = self.journal.get(offset..offset + len).unwrap_or_default();
        if let Record::Opening { before, closes, .. } = record {
            self.opening(offset, before.as_ref());
            self.closes = *closes;
        }
        if self.stretch.is_none() && !matches!(record, Record::Opening { .. }) {
            // In mid-journal: the sequence begins where it begins.
            if self.found.records == 0 {
                self.due = u32::from(sequence);
                if offset == 0 {
                    self.note(0, Note::BeginsInTheMiddle);
                }
            }
        }
        self.sequence(offset, sequence);
        self.unsigned_is_followed(offset, record);
        match record {
            Record::Mark { number, at, chain } => {
                self.reach_link(offset, *number, *at, *chain);
            }
            Record::Seal(seal) => self.reach_seal(offset, seal),
            Record::Signature { key, halves } => self.signature(offset, key, halves),
            Record::Input { after, .. } => self.at = self.at.plus(*after),
            _ => {}
        }
        self.closed = matches!(record, Record::Seal(Seal { why: Why::Taken, .. }))
            || (self.closed && matches!(record, Record::Signature { .. }));
        self.chain.add(frame, record.is_link());
        if record.is_link() {
            self.stretch = Some(self.place(offset));
            self.faults_before = self.found.faults.len();
        }
        self.found.last = self.place(offset);
        self.found.records += 1;
        self.due = self.due.wrapping_add(1);
    }

    /// A start of the program: it must follow on what stands before it, or begin a record of its own.
    fn opening(&mut self, offset: usize, before: Option<&Before>) {
        let first = self.found.records == 0;
        match before {
            None if first => {}
            None if self.closed => self.note(offset, Note::NewChain),
            None => self.fault(offset, Fault::NotTied),
            Some(before) if first => {
                self.due = before.number.wrapping_add(1);
                self.note(offset, Note::BeginsInTheMiddle);
            }
            Some(before) => {
                self.follow_on(offset, before);
            }
        }
        self.settle_gap(false);
        if before.is_none() {
            self.due = 0;
        }
        self.at = Instant::BOOT;
    }

    /// It says the number and the hash of what the program found before it.
    fn follow_on(&mut self, offset: usize, before: &Before) {
        let holds = self.stretch.is_none() || self.chain.value() == before.chain;
        self.settle_gap(holds);
        let is_named = self.found.faults.len() > self.faults_before;
        if !holds && !is_named {
            self.found.faults.push((self.stretch.unwrap_or_default(), Fault::Chain));
        } else if before.number.wrapping_add(1) != self.due && !is_named {
            self.fault(offset, Fault::NotTied);
        } else if holds {
            self.note(offset, Note::Restart);
        }
        self.due = before.number.wrapping_add(1);
    }

    fn sequence(&mut self, offset: usize, found: u8) {
        let due = self.due.to_le_bytes()[0];
        if found == due {
            return;
        }
        let missing = u32::from(found.wrapping_sub(due));
        let fault = Fault::Sequence { due, found };
        let place = self.place(offset);
        self.settle_gap(false);
        if missing < 128 && self.stretch.is_some() {
            self.gap = Some((place, fault, missing));
            self.due = self.due.wrapping_add(missing);
        } else {
            self.found.faults.push((place, fault));
            self.due = (self.due & !0xFF) | u32::from(found);
        }
    }

    /// A gap was the board's own doing if the chain holds over it.
    fn settle_gap(&mut self, chain_holds: bool) {
        match self.gap.take() {
            Some((place, _, count)) if chain_holds => self.found.notes.push((place, Note::Lost(count))),
            Some((place, fault, _)) => self.found.faults.push((place, fault)),
            None => {}
        }
    }

    /// A mark or a seal; true when the chain holds up to it.
    fn reach_link(&mut self, offset: usize, number: u32, at: Instant, chain: [u8; 32]) -> bool {
        let holds = self.stretch.is_none() || self.chain.value() == chain;
        let had_gap = self.gap.is_some();
        self.settle_gap(holds);
        if self.stretch.is_none() {
            (self.due, self.at) = (number, at);
        } else if !holds && !had_gap && self.found.faults.len() == self.faults_before {
            let place = self.stretch.unwrap_or_default();
            self.found.faults.push((place, Fault::Chain));
        }
        if number != self.due || at != self.at {
            if self.found.faults.len() == self.faults_before {
                self.fault(offset, Fault::Misnumbered);
            }
            (self.due, self.at) = (number, at);
        }
        holds
    }

    fn reach_seal(&mut self, offset: usize, seal: &Seal) {
        let holds = self.reach_link(offset, seal.number, seal.at, seal.chain);
        if holds {
            let place = self.place(offset);
            self.found.seals.push(Sealed { place, seal: *seal, signed_by: None });
        }
        self.unsigned = Some(*seal).filter(|seal| seal.signed);
    }

    fn unsigned_is_followed(&mut self, offset: usize, record: &Record) {
        if self.unsigned.is_some() && !matches!(record, Record::Signature { .. }) {
            self.unsigned = None;
            self.fault(offset, Fault::SignatureMissing);
        }
    }

    fn signature(&mut self, offset: usize, key: &[u8; 32], halves: &signature::Halves) {
        let Some(seal) = self.unsigned.take() else { return self.fault(offset, Fault::SignatureBad) };
        if !signature::is_good(key, &seal, halves) {
            return self.fault(offset, Fault::SignatureBad);
        }
        if self.key.is_some_and(|named| named != key) {
            return self.fault(offset, Fault::SignatureForeign);
        }
        if let Some(sealed) = self.found.seals.last_mut().filter(|sealed| sealed.seal == seal) {
            sealed.signed_by = Some(*key);
        }
    }

    fn end(&mut self) {
        self.settle_gap(false);
        let end = self.journal.len();
        self.found.ending = match (self.torn, self.closed, self.unsigned.is_some()) {
            (true, ..) => Ending::Torn,
            (_, true, false) => Ending::Closed,
            _ => Ending::Open,
        };
        if self.unsigned.is_some() && !self.torn {
            return self.fault(end, Fault::SignatureMissing);
        }
        if self.found.ending == Ending::Open {
            if self.closes { self.fault(end, Fault::CutOff) } else { self.note(end, Note::OpenEnd) }
        }
    }
}

/// A frame whose length alone was changed.
fn is_whole_but_for_its_length(bytes: &[u8]) -> bool {
    let mut mended = bytes.to_vec();
    let length = u8::try_from(bytes.len().saturating_sub(FRAME_ADDS));
    if let (Some(first), Ok(length)) = (mended.first_mut(), length) {
        *first = length;
    }
    Reader::new(&mended).undecoded().next().is_some_and(|raw| raw.offset == 0)
}
