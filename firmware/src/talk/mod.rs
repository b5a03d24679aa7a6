//! The board's talk with a host over a serial line: settings in, journal out, a schedule.
//!
//! Sans-IO. [`Talk`] takes the line's bytes, hands out what is asked for as plain data, takes the answer, and gives
//! the bytes to send. The host asks, the board answers, one thing at a time. Every request is numbered: a host that
//! hears no answer sends the same again, and what was done is answered again and not done again, whatever the line
//! dropped, doubled or put in another order. `docs/protocol.md` has every byte.
//!
//! The board turns it in four steps, each bounded, none waiting:
//!
//! 1. while [`wants_bytes`](Talk::wants_bytes), read at most a packet and [`push`](Talk::push) its bytes;
//! 2. [`next_request`](Talk::next_request), and begin what it asks for;
//! 3. when that is done, now or many turns later, [`answer`](Talk::answer) it;
//! 4. write [`to_send`](Talk::to_send), as much as the line takes, and say so by [`sent`](Talk::sent): also when
//!    nothing was asked for, because the talk refuses and repeats by itself.
//!
//! Knows frames, messages and how settings are checked. It neither reads the chip nor feeds the dash: its owner does.

mod frame;
mod message;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod tests;

pub use frame::{CONTENT_MAX, Ended, FRAME_MAX, Unstuffing, head, read, write};
pub use message::{
    Answer, Check, Cued, EDGES_MAX, Extent, Fed, Head, Readings, Refusal, Request, Restart, Scheduled,
    SeenEdge, SelfTest, SettingsFrom, Standing, Turning, Wrong,
};

use crate::settings::Settings;

/// The version of this protocol. A host refuses any other.
pub const PROTOCOL: u8 = 1;

/// The most bytes of settings, or of a journal, in one message.
pub const PIECE_MAX: usize = Settings::ENCODED_MAX;

/// The USB identity by which a host finds the board: the pair that is shared by all serial devices of projects
/// without a number of their own, which tell themselves apart by name (`USB-IDs-for-free.txt`, from memory).
pub const USB_VENDOR: u16 = 0x16C0;
/// See [`USB_VENDOR`].
pub const USB_PRODUCT: u16 = 0x27DD;
/// The product's name in its USB description: who shares an identity is told apart by it.
pub const USB_NAME: &str = "Gunline dash";

/// What was heard and not acted upon.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unused {
    /// Frames with a wrong check sum, or none at all.
    pub broken: u32,
    /// Requests of another conversation, or that came after a later one.
    pub stale: u32,
}

/// One end of the talk: the board's.
#[derive(Clone, Debug)]
pub struct Talk {
    incoming: Unstuffing,
    /// The last answer, kept so that it can be given again.
    outgoing: [u8; FRAME_MAX],
    outgoing_len: usize,
    outgoing_sent: usize,
    session: u32,
    /// The number of the opening that began this session. `None`: no session has begun.
    opened_by: Option<u32>,
    /// The last request of this session that was taken; 0 before the first.
    last: u32,
    /// The request that its owner is at work on.
    asked: Option<Head>,
    unused: Unused,
}

/// What to do with a frame.
enum Verdict {
    /// Give the last answer again.
    Again,
    /// Nothing.
    Stale,
    /// Say this at once.
    Refuse(Head, Refusal<'static>),
    /// It is for the board.
    Ask(Head),
}

impl Talk {
    /// A talk that has not begun. Its sessions count from `before + 1`: give it a number that differs from start to
    /// start, so that nothing left over from before a restart can belong to a session after it.
    #[must_use]
    pub const fn new(before: u32) -> Self {
        Self {
            incoming: Unstuffing::new(),
            outgoing: [0; FRAME_MAX],
            outgoing_len: 0,
            outgoing_sent: 0,
            session: before,
            opened_by: None,
            last: 0,
            asked: None,
            unused: Unused { broken: 0, stale: 0 },
        }
    }

    /// True while bytes from the line can be used. While it is false, leave them where they are: what is pushed
    /// then is lost, and the host will have to ask again.
    #[must_use]
    pub fn wants_bytes(&self) -> bool {
        self.incoming.content().is_none()
    }

    /// Takes a byte from the line.
    pub fn push(&mut self, byte: u8) {
        if self.incoming.push(byte) == Some(Ended::Broken) {
            self.unused.broken = self.unused.broken.saturating_add(1);
        }
    }

    /// True while the frame that has come brings settings, or a boat to be taken over. That takes a deep stack and more
    /// time than usual: an owner who has two stacks calls [`next_request`](Self::next_request) on the deeper one then.
    #[must_use]
    pub fn goes_deep(&self) -> bool {
        let content = self.incoming.content().filter(|_| self.asked.is_none());
        let request = content.and_then(read::<Request<'_>>).map(|(_, request)| request);
        matches!(
            request,
            Some(Request::KeepSettings(_) | Request::EnterBench(_) | Request::Offer { accept: true })
        )
    }

    /// The request that its owner owes an answer to, once more: it may have been put off.
    #[must_use]
    pub fn owed(&self) -> Option<Request<'_>> {
        self.asked.and_then(|_| self.request())
    }

    /// What is asked for now, if anything; each request once. Whoever gets it owes one [`answer`](Self::answer),
    /// and gets no other until then.
    ///
    /// Settings given here, to be kept or for the bench, are readable and pass their check, and no start clock runs: all others have been refused.
    /// What is refused or answered again without its owner is in [`to_send`](Self::to_send) at once, and `None` given.
    pub fn next_request(&mut self, clock_runs: bool) -> Option<Request<'_>> {
        if self.asked.is_some() || !self.to_send().is_empty() {
            return None;
        }
        match self.verdict(clock_runs)? {
            Verdict::Again => self.outgoing_sent = 0,
            Verdict::Stale => self.unused.stale = self.unused.stale.saturating_add(1),
            Verdict::Refuse(head, why) => {
                self.take(head);
                self.say(head, &Answer::Refused(why));
            }
            Verdict::Ask(head) => {
                self.asked = Some(self.take(head));
                return self.request();
            }
        }
        self.incoming.clear();
        None
    }

    /// Judges the frame that has come, by its head first.
    fn verdict(&self, clock_runs: bool) -> Option<Verdict> {
        let content = self.incoming.content()?;
        let Some(head) = head(content) else { return Some(Verdict::Stale) };
        let request = read::<Request<'_>>(content).map(|(_, request)| request);
        Some(match self.place(head) {
            Place::Repeated => Verdict::Again,
            Place::Stale => Verdict::Stale,
            Place::Nowhere => Verdict::Refuse(head, Refusal::NoSession),
            Place::Opening if request == Some(Request::Hello) => Verdict::Ask(head),
            Place::Opening => Verdict::Stale,
            Place::New => match request {
                None => Verdict::Refuse(head, Refusal::Unknown),
                // None are the kept ones.
                Some(Request::EnterBench([])) if clock_runs => Verdict::Refuse(head, Refusal::ClockRuns),
                Some(Request::EnterBench([])) => Verdict::Ask(head),
                Some(Request::KeepSettings(bytes) | Request::EnterBench(bytes)) => {
                    match fit(bytes, clock_runs) {
                        Ok(()) => Verdict::Ask(head),
                        Err(why) => Verdict::Refuse(head, why),
                    }
                }
                Some(_) => Verdict::Ask(head),
            },
        })
    }

    /// Where a head stands in the conversation.
    fn place(&self, head: Head) -> Place {
        match (head.session, self.opened_by) {
            (0, Some(number)) if number == head.number => {
                if self.last == 0 {
                    Place::Repeated
                } else {
                    Place::Stale
                }
            }
            (0, _) => Place::Opening,
            (_, None) => Place::Nowhere,
            (session, _) if session != self.session => Place::Stale,
            _ if head.number > self.last => Place::New,
            _ if head.number == self.last && self.last > 0 => Place::Repeated,
            _ => Place::Stale,
        }
    }

    /// Notes a request as taken: its like is not taken again. Gives the head that its answer will bear.
    fn take(&mut self, head: Head) -> Head {
        if head.session == 0 {
            self.session = self.session.wrapping_add(1).max(1);
            self.opened_by = Some(head.number);
            self.last = 0;
            return Head { session: self.session, ..head };
        }
        if head.session == self.session {
            self.last = head.number;
        }
        head
    }

    fn request(&self) -> Option<Request<'_>> {
        let (_, request) = read(self.incoming.content()?)?;
        Some(match request {
            Request::ReadJournal { from, most } => Request::ReadJournal { from, most: most.clamp(1, MOST) },
            other => other,
        })
    }

    /// Answers the request that [`next_request`](Self::next_request) gave last. Without one, nothing happens.
    pub fn answer(&mut self, answer: &Answer<'_>) {
        if let Some(head) = self.asked.take() {
            self.say(head, answer);
            self.incoming.clear();
        }
    }

    fn say(&mut self, head: Head, answer: &Answer<'_>) {
        let frame = write(head, answer, &mut self.outgoing);
        // More than fits is the owner's mistake; the host is told something rather than nothing.
        let frame = frame.or_else(|| write(head, &Answer::Refused(Refusal::Chip), &mut self.outgoing));
        (self.outgoing_len, self.outgoing_sent) = (frame.unwrap_or_default(), 0);
    }

    /// Bytes that the line should take now.
    #[must_use]
    pub fn to_send(&self) -> &[u8] {
        self.outgoing.get(self.outgoing_sent..self.outgoing_len).unwrap_or_default()
    }

    /// The line has taken so many of them.
    pub fn sent(&mut self, count: usize) {
        self.outgoing_sent = self.outgoing_sent.saturating_add(count).min(self.outgoing_len);
    }

    /// What was heard and not acted upon since the start.
    #[must_use]
    pub const fn unused(&self) -> Unused {
        self.unused
    }
}

/// Where a head stands in the conversation.
enum Place {
    /// It opens a new one.
    Opening,
    /// It is the request just taken, come again.
    Repeated,
    /// It belongs to another conversation, or comes too late.
    Stale,
    /// There is no conversation yet.
    Nowhere,
    /// It is next.
    New,
}

/// The most bytes of a journal that are asked of the owner at once.
const MOST: u16 = PIECE_MAX as u16;

/// Whether settings may be kept.
fn fit(bytes: &[u8], clock_runs: bool) -> Result<(), Refusal<'static>> {
    if clock_runs {
        return Err(Refusal::ClockRuns);
    }
    let settings = Settings::decode(bytes).ok_or(Refusal::Settings(Wrong::Unreadable))?;
    settings.check().map_err(|fault| Refusal::Settings(fault.into()))
}
