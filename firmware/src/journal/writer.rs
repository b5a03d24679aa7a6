//! Inputs and decisions become framed records.

use heapless::Vec;

use super::{
    Before, CARRIED_EVERY, Chain, FORMAT, FRAME_ADDS, MARK_EVERY, RECORD_MAX, Record, SETTINGS_PIECE, Seal,
    Why, checksum, firmware_version,
};
use crate::engine::suffered::Accounts;
use crate::input::Input;
use crate::output::{Output, Outputs};
use crate::resume::Carried;
use crate::settings::Settings;
use crate::units::Instant;

/// Where frames go: memory, a file, a flash chip.
pub trait Sink {
    /// Takes one whole frame. False when there was no room: the frame is lost as a whole, never in part.
    fn frame(&mut self, frame: &[u8]) -> bool;
}

/// Writes a journal.
#[derive(Debug)]
pub struct Writer<S> {
    sink: S,
    number: u32,
    last: Instant,
    lost: u32,
    /// What was last written of what is carried, and how many bytes ago; none: nothing since the opening.
    carried: Option<(Option<Carried>, u32)>,
    /// The same of what the engine suffered: the step that was written, and how many bytes ago.
    suffered: Option<(u32, u32)>,
    chain: Chain,
    /// Whether the record will be closed with a seal, and whether seals are going to be signed.
    closes: bool,
    signs: bool,
    /// A seal that waits for its signature.
    unsigned: Option<Seal>,
}

impl<S: Sink> Writer<S> {
    /// A writer to an empty sink.
    #[must_use]
    pub fn new(sink: S) -> Self {
        Self {
            sink,
            number: 0,
            last: Instant::BOOT,
            lost: 0,
            carried: None,
            suffered: None,
            chain: Chain::default(),
            closes: false,
            signs: false,
            unsigned: None,
        }
    }

    /// Whoever holds the key will sign each seal ([`Writer::unsigned`], [`Writer::sign`]).
    pub const fn sign_seals(&mut self) {
        self.signs = true;
    }

    /// The record will be closed ([`Writer::seal`]) before it is taken; said before it is opened.
    pub const fn will_close(&mut self) {
        self.closes = true;
    }

    /// A dash begins with these settings, after the record that it found before it.
    pub fn open(&mut self, settings: &Settings, before: Option<Before>) {
        self.number = before.map_or(0, |before| before.number.saturating_add(1));
        let mut buffer = [0_u8; Settings::ENCODED_MAX];
        let encoded = settings.encode(&mut buffer);
        let settings_len = u16::try_from(encoded.len()).unwrap_or(u16::MAX);
        let (format, firmware, closes) = (FORMAT, firmware_version(), self.closes);
        self.write(&Record::Opening { format, firmware, settings_len, before, closes });
        for piece in encoded.chunks(SETTINGS_PIECE) {
            self.write(&Record::Settings(Vec::from_slice(piece).unwrap_or_default()));
        }
        (self.last, self.carried, self.suffered) = (Instant::BOOT, None, None);
        self.mark();
    }

    /// An input, what it led to, and what the dash would have a fresh one know now (`Dash::carried`).
    pub fn fed(&mut self, at: Instant, input: &Input, outputs: &Outputs, carried: Option<Carried>) {
        let after = at.since(self.last);
        // Before the record is written: a mark that follows it must carry the time of this input.
        self.last = at;
        self.write(&Record::Input { after, input: *input });
        for output in outputs.as_slice() {
            self.write(&Record::Decision(*output));
        }
        self.carry(carried);
        if outputs.as_slice().iter().any(|output| matches!(output, Output::Finish { .. })) {
            self.seal(Why::Heat);
        }
    }

    /// Closes what came before with a link of the chain, which is signed if it matters.
    pub fn seal(&mut self, why: Why) {
        let (number, at, chain) = (self.number, self.last, self.chain.value());
        let seal = Seal { number, at, why, signed: self.signs, chain };
        let written = self.put(&Record::Seal(seal));
        self.unsigned = Some(seal).filter(|_| written && self.signs);
    }

    /// The seal that waits for its signature, which must be written before anything else.
    #[must_use]
    pub const fn unsigned(&self) -> Option<&Seal> {
        self.unsigned.as_ref()
    }

    /// The signature of the seal that waits for it.
    pub fn sign(&mut self, key: [u8; 32], halves: [[u8; 32]; 2]) {
        if self.unsigned.take().is_some() {
            self.write(&Record::Signature { key, halves });
        }
    }

    /// Writes down what is carried when it is news, and again after so many bytes, so that it is found soon by a
    /// reader who comes from the end.
    fn carry(&mut self, carried: Option<Carried>) {
        let is_known = |(written, bytes): (Option<Carried>, u32)| {
            bytes < CARRIED_EVERY && without_time(written) == without_time(carried)
        };
        if !self.carried.is_some_and(is_known) && self.write(&Record::Carried(carried)) {
            self.carried = Some((carried, 0));
        }
    }

    /// What the engine has suffered now (`Dash::accounts`), after [`Writer::fed`]. Written down when it is news, and
    /// again after so many bytes, like what is carried.
    pub fn suffered(&mut self, accounts: Option<&Accounts>) {
        // That they were set to nothing is news once (rule E18): else a restart would find the ones before.
        let was_something = self.suffered.is_some_and(|(told, _)| told != 0);
        let Some(accounts) = accounts.copied().or_else(|| was_something.then(Accounts::default)) else {
            return;
        };
        let step = accounts.step();
        let is_known = self.suffered.is_some_and(|(told, bytes)| told == step && bytes < CARRIED_EVERY);
        if !is_known && self.write(&Record::Suffered(accounts)) {
            self.suffered = Some((step, 0));
        }
    }

    fn write(&mut self, record: &Record) -> bool {
        let written = self.put(record);
        if self.number.is_multiple_of(MARK_EVERY) {
            self.mark();
        }
        written
    }

    fn mark(&mut self) {
        self.put(&Record::Mark { number: self.number, at: self.last, chain: self.chain.value() });
    }

    /// False when the record found no room: then it is no part of the chain, and its number is missing.
    fn put(&mut self, record: &Record) -> bool {
        let mut buffer = [0_u8; RECORD_MAX + FRAME_ADDS];
        let [sequence, ..] = self.number.to_le_bytes();
        self.number = self.number.saturating_add(1);
        let Some(frame) = framed(record, sequence, &mut buffer).filter(|frame| self.sink.frame(frame)) else {
            self.lost = self.lost.saturating_add(1);
            return false;
        };
        self.chain.add(frame, record.is_link());
        let len = u32::try_from(frame.len()).unwrap_or(0);
        let since =
            [self.carried.as_mut().map(|(_, bytes)| bytes), self.suffered.as_mut().map(|(_, bytes)| bytes)];
        since.into_iter().flatten().for_each(|bytes| *bytes = bytes.saturating_add(len));
        true
    }

    /// Records that found no room.
    #[must_use]
    pub const fn lost(&self) -> u32 {
        self.lost
    }

    /// Where the frames go.
    #[must_use]
    pub const fn sink(&self) -> &S {
        &self.sink
    }

    /// The same, to be worked.
    pub const fn sink_mut(&mut self) -> &mut S {
        &mut self.sink
    }

    /// Ends the writing and gives the sink back.
    #[must_use]
    pub fn into_sink(self) -> S {
        self.sink
    }
}

/// Two that differ in nothing but when they were said are the same.
fn without_time(carried: Option<Carried>) -> Option<Carried> {
    carried.map(|carried| Carried { at: Instant::BOOT, ..carried })
}

/// A record in its frame: length, sequence, record, checksum of all three.
fn framed<'a>(record: &Record, sequence: u8, buffer: &'a mut [u8]) -> Option<&'a [u8]> {
    let room = buffer.get_mut(2..RECORD_MAX + 2)?;
    let len = postcard::to_slice(record, room).ok()?.len();
    let head = [u8::try_from(len).ok()?, sequence];
    buffer.get_mut(..2)?.copy_from_slice(&head);
    let sum = checksum(buffer.get(..len + 2)?).to_le_bytes();
    buffer.get_mut(len + 2..len + FRAME_ADDS)?.copy_from_slice(&sum);
    buffer.get(..len + FRAME_ADDS)
}
