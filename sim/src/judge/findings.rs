//! What can be found of a record: faults with their places, notes, seals, and how it ends. In words, too.
//!
//! Knows the journal's seals. The walk in [`super::integrity`] finds them.

use std::fmt;

use firmware::journal::Seal;
use firmware::units::Instant;

/// A place in a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The byte.
    pub offset: usize,
    /// The number of the record that stands or belongs there, counted as the board counts.
    pub record: u32,
    /// The board's clock at the input before it.
    pub at: Instant,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let us = self.at.as_micros();
        write!(
            f,
            "record {}, byte {}, board time {}.{:06} s",
            self.record,
            self.offset,
            us / 1_000_000,
            us % 1_000_000
        )
    }
}

/// What is wrong at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// So many bytes are no record: its check sum is wrong.
    Damaged(usize),
    /// Another record than the next one stands here.
    Sequence {
        /// The low byte of the number that belongs here.
        due: u8,
        /// The one that stands here.
        found: u8,
    },
    /// A mark or seal does not state the number or the time that it should.
    Misnumbered,
    /// The bytes since the link before are not those that the next link was made over.
    Chain,
    /// A start of the program does not say that it follows on what stands before it.
    NotTied,
    /// Whoever recorded this closes what he records, and the closing seal is not there.
    CutOff,
    /// A seal says that it is signed, and no signature follows.
    SignatureMissing,
    /// A signature is not good for its seal.
    SignatureBad,
    /// A signature is good, and by another key than the one that was named.
    SignatureForeign,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Damaged(bytes) => {
                write!(f, "{bytes} bytes are no whole record: something was changed in them")
            }
            Self::Sequence { due, found } => write!(
                f,
                "another record stands here than the next one (sequence {found}, due {due}): one was taken out, put \
                 in, repeated or moved"
            ),
            Self::Misnumbered => f.write_str("a mark states another number or time than it should"),
            Self::Chain => {
                f.write_str("the chain is broken: something was changed between here and the next mark")
            }
            Self::NotTied => {
                f.write_str("the program started here and does not follow on what stands before it")
            }
            Self::CutOff => {
                f.write_str("the closing seal is missing: the record was cut off behind this place")
            }
            Self::SignatureMissing => f.write_str("a seal is meant to be signed, and no signature follows"),
            Self::SignatureBad => f.write_str("the signature is not good for its seal"),
            Self::SignatureForeign => f.write_str("signed with another key than the one named"),
        }
    }
}

/// What is no alteration and is told all the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Note {
    /// So many bytes of a record that was being written when the power went.
    TornTail(usize),
    /// So many records found no room on the board, which says so itself: the chain holds.
    Lost(u32),
    /// It begins in the middle: what came before was overwritten by the board, or cut off.
    BeginsInTheMiddle,
    /// Another record begins here, with a chain of its own.
    NewChain,
    /// The program was started anew, and its chain is tied to the one before.
    Restart,
    /// No seal closes it: the board writes none when it is read out, and none when its power goes.
    OpenEnd,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TornTail(bytes) => write!(
                f,
                "torn tail: {bytes} bytes of a record that was being written when the power went; not an alteration"
            ),
            Self::Lost(count) => write!(f, "{count} records found no room on the board; not an alteration"),
            Self::BeginsInTheMiddle => {
                f.write_str("begins in the middle: what came before was overwritten by the board, or cut off")
            }
            Self::NewChain => f.write_str("another record begins here, with a chain of its own"),
            Self::Restart => f.write_str("the program was started anew; its chain is tied to the one before"),
            Self::OpenEnd => {
                f.write_str("open end: no seal closes the record; what came after it, nobody can tell")
            }
        }
    }
}

/// How a record ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ending {
    /// With a seal that closes it, and its signature if it has one.
    Closed,
    /// With a whole record, and no seal.
    #[default]
    Open,
    /// In the middle of a record, as a cut of power leaves it.
    Torn,
}

/// A seal, and who signed it.
#[derive(Clone, Copy, Debug)]
pub struct Sealed {
    /// Where it stands.
    pub place: Place,
    /// What it says.
    pub seal: Seal,
    /// The public key of a good signature.
    pub signed_by: Option<[u8; 32]>,
}

/// Everything found.
#[derive(Clone, Debug, Default)]
pub struct Integrity {
    /// What is wrong, in the order of the bytes.
    pub faults: Vec<(Place, Fault)>,
    /// What is not wrong and is told.
    pub notes: Vec<(Place, Note)>,
    /// Every seal whose chain holds.
    pub seals: Vec<Sealed>,
    /// How it ends.
    pub ending: Ending,
    /// Whole records.
    pub records: u64,
    /// Its last whole record.
    pub last: Place,
}

impl Integrity {
    /// True when nothing was changed, as far as a chain can tell.
    #[must_use]
    pub fn is_untouched(&self) -> bool {
        self.faults.is_empty()
    }

    /// The first bad place.
    #[must_use]
    pub fn first_fault(&self) -> Option<&(Place, Fault)> {
        self.faults.iter().min_by_key(|(place, _)| place.offset)
    }

    /// The key of the last good signature.
    #[must_use]
    pub fn signed_by(&self) -> Option<[u8; 32]> {
        self.seals.iter().rev().find_map(|sealed| sealed.signed_by)
    }
}
