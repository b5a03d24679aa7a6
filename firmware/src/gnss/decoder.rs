//! One stream of bytes, two searches: NMEA 0183 sentences and UBX frames, interleaved as they come.
//!
//! Neither search ever waits for the other, and neither lets its own beginnings hide what follows. So this is
//! guaranteed, **whatever bytes came before**, unfinished sentences and false UBX headers among them:
//!
//! * a sentence (`$`, at most 128 characters up to its checksum's second digit, `*hh`, then CR or LF) is
//!   judged at the byte after its checksum, and taken if it is good;
//! * a NAV-PVT frame with the right checksum is taken at its 100th byte.
//!
//! A sentence that is not terminated is never taken: whoever reads a file pushes a line feed at its end.
//!
//! What the checksums themselves let through is the limit: no single changed byte, but of frames damaged at
//! random one in 65,536, and of sentences one in 256.
//!
//! UBX frames are followed only for the accounts: so that one of another kind counts as ignored, a damaged
//! one as rejected, and binary content is not mistaken for broken sentences. A header that announces more
//! than 512 bytes is not believed. While a frame lasts, broken sentences in it are not reported; a whole
//! sentence or NAV-PVT in it shows that there was no such frame, and it is forgotten like other garbage.
//!
//! This file knows the sentences, the frames and the epoch they add up to.

use heapless::Vec;

use super::epoch::Epoch;
use super::ubx::{self, Ended, Follower, NAV_PVT_FRAME, NAV_PVT_HEAD, SYNC};
use super::{Fix, Reject, nmea};

/// The most characters of a sentence, from `$` to its checksum's second digit.
///
/// NMEA 0183 allows 82 with CR and LF (from memory); real receivers exceed that.
const SENTENCE_MAX: usize = 128;

/// What the receiver was heard to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Heard {
    /// Where it was.
    Fix(Fix),
    /// Something that could not be used.
    Rejected(Reject),
}

/// How often each thing happened. Each whole sentence or NAV-PVT counts once, as one of these.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Counts {
    /// It completed a fix.
    pub fixes: u32,
    /// It was read and completed no fix: a GGA, VTG or ZDA, or a receiver that knows no place or time yet.
    pub parts: u32,
    /// It is well-formed and none of ours.
    pub ignored: u32,
    rejected: [u32; Reject::ALL.len()],
}

impl Counts {
    /// How often something was rejected for this reason.
    #[must_use]
    pub fn rejected(&self, why: Reject) -> u32 {
        self.rejected.get(why as usize).copied().unwrap_or_default()
    }

    /// How often something was rejected, whatever the reason.
    #[must_use]
    pub fn rejected_in_all(&self) -> u32 {
        self.rejected.iter().fold(0, |sum, count| sum.saturating_add(*count))
    }

    fn add(&mut self, verdict: &Result<Use, Reject>) {
        let count = match verdict {
            Ok(Use::Fix(_)) => Some(&mut self.fixes),
            Ok(Use::Part) => Some(&mut self.parts),
            Ok(Use::Ignored) => Some(&mut self.ignored),
            Err(why) => self.rejected.get_mut(*why as usize),
        };
        if let Some(count) = count {
            *count = count.saturating_add(1);
        }
    }
}

/// What a whole sentence or frame was good for.
enum Use {
    Fix(Fix),
    Part,
    Ignored,
}

impl From<Option<Fix>> for Use {
    fn from(fix: Option<Fix>) -> Self {
        fix.map_or(Self::Part, Self::Fix)
    }
}

/// Turns a receiver's bytes into fixes.
///
/// Bytes go in and nothing else does, and each is judged as if it came alone, so neither the split of the stream
/// into reads nor its pace can change what comes out.
///
/// ```
/// use firmware::gnss::{Decoder, Heard};
///
/// let mut decoder = Decoder::default();
/// let line = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n";
/// let mut bytes = &line[..];
/// assert!(matches!(decoder.hear(&mut bytes), Some(Heard::Fix(fix)) if fix.valid));
/// assert_eq!((decoder.hear(&mut bytes), bytes.len()), (None, 0));
/// ```
#[derive(Clone, Debug, Default)]
pub struct Decoder {
    sentence: Sentence,
    recent: Recent,
    frame: Follower,
    epoch: Epoch,
    counts: Counts,
}

impl Decoder {
    /// Takes the next byte, and says what it completed.
    pub fn push(&mut self, byte: u8) -> Option<Heard> {
        let verdict = self.judge(byte)?;
        self.counts.add(&verdict);
        match verdict {
            Ok(Use::Fix(fix)) => Some(Heard::Fix(fix)),
            Ok(_) => None,
            Err(why) => Some(Heard::Rejected(why)),
        }
    }

    /// Takes bytes off the front up to the first that completes something, or all; says what was completed.
    ///
    /// Hears exactly what [`push`](Self::push) hears byte by byte, sooner.
    pub fn hear(&mut self, bytes: &mut &[u8]) -> Option<Heard> {
        loop {
            self.skim(bytes);
            let (byte, rest) = bytes.split_first()?;
            *bytes = rest;
            if let heard @ Some(_) = self.push(*byte) {
                return heard;
            }
        }
    }

    /// Takes what goes on with the current sentence, while there is nothing binary about: nearly all bytes.
    fn skim(&mut self, bytes: &mut &[u8]) {
        if self.recent.is_quiet() && self.frame.is_idle() {
            *bytes = self.sentence.go_on(bytes);
        }
    }

    /// How often each thing has happened since this decoder was made.
    #[must_use]
    pub const fn counts(&self) -> &Counts {
        &self.counts
    }

    fn judge(&mut self, byte: u8) -> Option<Result<Use, Reject>> {
        let was_inside = self.frame.is_inside();
        let frame = self.frame.push(byte);
        let sentence = self.sentence.push(byte);
        if let Some(frame) = self.recent.push(byte) {
            self.frame = Follower::default();
            self.sentence.doubt();
            return Some(ubx::nav_pvt(&frame).map(Use::from));
        }
        match (sentence, frame) {
            (Some(Ok(())), _) => {
                self.frame = Follower::default();
                Some(self.read())
            }
            (_, Some(Ended::Whole(fate))) => {
                self.sentence.doubt();
                Some(fate.map(|()| Use::Ignored))
            }
            (_, Some(Ended::Broken(why))) => Some(Err(why)),
            (Some(Err(why)), None) if !was_inside => Some(Err(why)),
            _ => None,
        }
    }

    /// Reads the sentence that has just ended.
    fn read(&mut self) -> Result<Use, Reject> {
        let sentence = nmea::read(self.sentence.content())?;
        Ok(sentence.map_or(Use::Ignored, |sentence| self.epoch.take(sentence).into()))
    }
}

/// What may be a NAV-PVT: every sync byte with the 99 bytes after it, in a ring whose index wraps by itself.
///
/// What comes between is left out, and cannot be missed: 100 bytes that stand here one after the other and
/// begin with a sync byte came one after the other.
#[derive(Clone, Debug)]
struct Recent {
    bytes: [u8; 256],
    next: u8,
    /// How many bytes are still to be kept.
    wanted: u8,
}

impl Default for Recent {
    fn default() -> Self {
        Self { bytes: [0; 256], next: 0, wanted: 0 }
    }
}

impl Recent {
    /// True if no NAV-PVT can be under way before the next sync byte.
    const fn is_quiet(&self) -> bool {
        self.wanted == 0
    }

    /// Takes a byte, and gives the NAV-PVT with the right checksum that it completes.
    fn push(&mut self, byte: u8) -> Option<[u8; NAV_PVT_FRAME]> {
        if byte == SYNC {
            self.wanted = NAV_PVT_FRAME as u8;
        }
        self.wanted = self.wanted.checked_sub(1)?;
        if let Some(place) = self.bytes.get_mut(usize::from(self.next)) {
            *place = byte;
        }
        self.next = self.next.wrapping_add(1);
        self.nav_pvt()
    }

    /// The byte that was kept `ago` bytes ago; 1 for the last.
    fn ago(&self, ago: u8) -> u8 {
        self.bytes.get(usize::from(self.next.wrapping_sub(ago))).copied().unwrap_or_default()
    }

    /// The last 100 bytes kept, if they are a NAV-PVT with the right checksum.
    fn nav_pvt(&self) -> Option<[u8; NAV_PVT_FRAME]> {
        let ages = (1..=NAV_PVT_FRAME as u8).rev();
        if !ages.clone().zip(NAV_PVT_HEAD).all(|(age, byte)| self.ago(age) == byte) {
            return None;
        }
        let mut frame = [0; NAV_PVT_FRAME];
        for (place, age) in frame.iter_mut().zip(ages) {
            *place = self.ago(age);
        }
        ubx::is_sound(&frame).then_some(frame)
    }
}

/// The current sentence, and how far it has got.
#[derive(Clone, Debug, Default)]
struct Sentence {
    /// Its characters after `$`.
    text: Vec<u8, { SENTENCE_MAX - 1 }>,
    tail: Tail,
    /// True from its `$` until it ends, one way or the other.
    open: bool,
    /// It began inside a frame in order: only if it turns out whole was it a sentence after all.
    doubtful: bool,
}

/// How far its checksum has got.
#[derive(Clone, Copy, Debug, Default)]
enum Tail {
    /// No `*` yet.
    #[default]
    Content,
    /// `*` and no digit.
    Star,
    /// One digit, with its value.
    Digit(u8),
    /// Both digits, with their value.
    Stated(u8),
}

impl Sentence {
    /// Takes the content that the current sentence goes on with, and gives what follows it.
    fn go_on<'a>(&mut self, bytes: &'a [u8]) -> &'a [u8] {
        if !self.open || !matches!(self.tail, Tail::Content) {
            return bytes;
        }
        let room = self.text.capacity() - self.text.len();
        let length = content_length(bytes).min(room);
        let (content, rest) = bytes.split_at_checked(length).unwrap_or_default();
        // There is room: it was asked for.
        let _ = self.text.extend_from_slice(content);
        rest
    }

    /// Takes a byte and says how the sentence ended, if it did: `Ok` if it is whole.
    fn push(&mut self, byte: u8) -> Option<Result<(), Reject>> {
        if byte == b'$' {
            return self.begin().then_some(Err(Reject::CutShort));
        }
        if !self.open {
            return None;
        }
        let ended = match byte {
            b'\r' | b'\n' => Some(self.end()),
            b' '..=b'~' => self.character(byte).err().map(Err),
            _ => Some(Err(Reject::BadByte)),
        };
        self.open = ended.is_none();
        ended.filter(|ended| ended.is_ok() || !self.doubtful)
    }

    /// A new sentence begins; says whether it cuts short another.
    fn begin(&mut self) -> bool {
        let cut_short = self.open && !self.doubtful;
        self.text.clear();
        (self.tail, self.open, self.doubtful) = (Tail::Content, true, false);
        cut_short
    }

    /// The bytes so far belonged to a frame.
    fn doubt(&mut self) {
        self.doubtful = true;
    }

    fn end(&self) -> Result<(), Reject> {
        match self.tail {
            Tail::Stated(stated) if stated == self.sum() => Ok(()),
            Tail::Stated(_) => Err(Reject::Checksum),
            _ => Err(Reject::NoChecksum),
        }
    }

    /// The exclusive or of all characters between `$` and `*`: the checksum of NMEA 0183.
    fn sum(&self) -> u8 {
        self.content().iter().fold(0, |sum, byte| sum ^ byte)
    }

    /// What stands between `$` and `*` of a sentence with both digits of its checksum.
    fn content(&self) -> &[u8] {
        self.text.get(..self.text.len().saturating_sub(3)).unwrap_or_default()
    }

    fn character(&mut self, byte: u8) -> Result<(), Reject> {
        self.text.push(byte).map_err(|_| Reject::TooLong)?;
        self.tail = match self.tail {
            Tail::Content if byte == b'*' => Tail::Star,
            Tail::Content => Tail::Content,
            Tail::Star => Tail::Digit(digit(byte)?),
            Tail::Digit(high) => Tail::Stated(high << 4 | digit(byte)?),
            Tail::Stated(_) => return Err(Reject::NoChecksum),
        };
        Ok(())
    }
}

/// True for what may stand between `$` and `*`.
const fn is_content(byte: u8) -> bool {
    matches!(byte, b' '..=b'~') && byte != b'$' && byte != b'*'
}

/// How many bytes of content come first; looked at by sixteens, which a larger machine tests all at once.
fn content_length(bytes: &[u8]) -> usize {
    let (blocks, _) = bytes.as_chunks::<16>();
    let is_plain = |block: &&[u8; 16]| block.iter().fold(true, |plain, byte| plain & is_content(*byte));
    let plain = 16 * blocks.iter().take_while(is_plain).count();
    plain + bytes.iter().skip(plain).take_while(|byte| is_content(**byte)).count()
}

/// The value of a digit of a checksum.
fn digit(byte: u8) -> Result<u8, Reject> {
    let digit = char::from(byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
    digit.ok_or(Reject::NoChecksum)
}
