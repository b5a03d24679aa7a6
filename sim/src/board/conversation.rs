//! One thing asked at a time over a line that may lose, double or damage bytes.
//!
//! A request is sent again until its answer comes; the board does it once all the same. Answers to anything else
//! are thrown away. When nothing comes at all, the session is over and its last request in doubt.

use std::hash::{BuildHasher, RandomState};
use std::io::{self, Read, Write};
use std::time::{Duration, Instant};

use firmware::talk::{
    self, Answer, Ended, FRAME_MAX, Head, PROTOCOL, Refusal, Request, Standing, Unstuffing,
};

use super::Trouble;
use super::port::{self, Line, Place};

/// How often a request is sent before the board counts as silent.
const TRIES: u32 = 12;

/// How patiently to wait.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// For an answer, before the request is sent again.
    pub answer: Duration,
    /// For a board that has gone, to come back.
    pub board: Duration,
}

/// Where the board is, and how patiently to talk with it.
#[derive(Clone, Debug)]
pub struct Reach {
    /// Where to look.
    pub place: Place,
    /// How patiently.
    pub patience: Patience,
}

impl Reach {
    /// Finds the board and opens a session.
    ///
    /// # Errors
    /// [`Unanswered`].
    pub fn connect(&self) -> Result<(Conversation<Box<dyn Line>>, Standing), Unanswered> {
        let line = port::open(&self.place).map_err(Unanswered::For)?;
        Conversation::open(line, self.patience)
    }
}

/// Why there is no answer.
#[derive(Debug)]
pub enum Unanswered {
    /// The line is gone: the cable, or the board's power.
    Gone,
    /// Nothing comes.
    Silent,
    /// The board has restarted and knows nothing of this session.
    Restarted,
    /// It will not help to ask again.
    For(Trouble),
}

impl From<Unanswered> for Trouble {
    fn from(why: Unanswered) -> Self {
        match why {
            Unanswered::Gone | Unanswered::Restarted => Self::Gone,
            Unanswered::Silent => Self::Silent,
            Unanswered::For(trouble) => trouble,
        }
    }
}

/// An open session with a board.
pub struct Conversation<L> {
    line: L,
    patience: Patience,
    session: u32,
    number: u32,
    incoming: Unstuffing,
    /// Bytes that came and were not looked at yet, last first.
    unread: Vec<u8>,
}

impl<L: Read + Write> Conversation<L> {
    /// Opens a session: the board says who it is.
    ///
    /// # Errors
    /// [`Unanswered`]; [`Trouble::Protocol`] when it speaks another protocol.
    pub fn open(line: L, patience: Patience) -> Result<(Self, Standing), Unanswered> {
        let drawn = RandomState::new().hash_one(0) as u32 | 1 << 31;
        let (incoming, unread) = (Unstuffing::new(), Vec::new());
        let mut this = Self { line, patience, session: 0, number: 0, incoming, unread };
        let mut standing = None;
        let session =
            this.exchange(Head { session: 0, number: drawn }, &Request::Hello, |head, answer| {
                if let Answer::Hello(said) = answer {
                    standing = Some(said);
                }
                head.session
            })?;
        this.session = session;
        match standing {
            Some(standing) if standing.protocol == PROTOCOL => Ok((this, standing)),
            Some(standing) => Err(Unanswered::For(Trouble::Protocol(standing.protocol))),
            None => Err(Unanswered::For(Trouble::Nonsense)),
        }
    }

    /// Asks, and gives the answer to `read`.
    ///
    /// # Errors
    /// [`Unanswered`].
    pub fn ask<T>(
        &mut self,
        request: &Request<'_>,
        read: impl FnOnce(Answer<'_>) -> Result<T, Trouble>,
    ) -> Result<T, Unanswered> {
        self.number += 1;
        let head = Head { session: self.session, number: self.number };
        self.exchange(head, request, |_, answer| match answer {
            Answer::Refused(Refusal::NoSession) => Err(Unanswered::Restarted),
            answer => read(answer).map_err(Unanswered::For),
        })?
    }

    /// Sends a request until its answer comes.
    fn exchange<T>(
        &mut self,
        head: Head,
        request: &Request<'_>,
        read: impl FnOnce(Head, Answer<'_>) -> T,
    ) -> Result<T, Unanswered> {
        let mut frame = [0; FRAME_MAX + 1];
        // The first byte stays zero: it ends whatever half a frame the board may hold.
        let len = frame.get_mut(1..).and_then(|room| talk::write(head, request, room));
        let frame = len.and_then(|len| frame.get(..=len)).ok_or(Unanswered::For(Trouble::Nonsense))?;
        for _ in 0..TRIES {
            if self.send(frame)? && self.await_answer(head)? {
                let content = self.incoming.content().unwrap_or_default();
                let answer = talk::read::<Answer<'_>>(content).map(|(head, answer)| read(head, answer));
                self.incoming.clear();
                return answer.ok_or(Unanswered::For(Trouble::Nonsense));
            }
        }
        Err(Unanswered::Silent)
    }

    /// False when the line did not take all of it in time.
    fn send(&mut self, frame: &[u8]) -> Result<bool, Unanswered> {
        let until = Instant::now() + self.patience.answer;
        let mut rest = frame;
        while !rest.is_empty() {
            match self.line.write(rest) {
                Ok(taken) => rest = rest.get(taken..).unwrap_or_default(),
                Err(error) if !passes(&error) => return Err(Unanswered::Gone),
                Err(_) if Instant::now() >= until => return Ok(false),
                Err(_) => {}
            }
        }
        Ok(true)
    }

    /// Reads until the answer to `head` has come whole; false when it did not come in time.
    fn await_answer(&mut self, head: Head) -> Result<bool, Unanswered> {
        let until = Instant::now() + self.patience.answer;
        loop {
            while let Some(byte) = self.unread.pop() {
                if self.incoming.push(byte) == Some(Ended::Whole) {
                    if self.incoming.content().is_some_and(|content| answers(content, head)) {
                        return Ok(true);
                    }
                    self.incoming.clear();
                }
            }
            let mut packet = [0; 1_024];
            match self.line.read(&mut packet) {
                Ok(0) => return Err(Unanswered::Gone),
                Ok(len) => self.unread.extend(packet.iter().take(len).rev()),
                Err(error) if !passes(&error) => return Err(Unanswered::Gone),
                Err(_) => {}
            }
            if self.unread.is_empty() && Instant::now() >= until {
                return Ok(false);
            }
        }
    }
}

/// True when content is the answer to `head`: to an opening, one that bears its number and a session.
fn answers(content: &[u8], head: Head) -> bool {
    talk::head(content).is_some_and(|got| {
        got.number == head.number
            && if head.session == 0 { got.session != 0 } else { got.session == head.session }
    })
}

/// True for an error that only says "not yet".
fn passes(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

    use std::collections::VecDeque;

    use firmware::talk::Scheduled;
    use proptest::prelude::*;

    use super::*;

    /// Gives what it holds, in packets, and takes everything.
    struct Memory(VecDeque<u8>);

    impl Read for Memory {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let len = buffer.len().min(64).min(self.0.len());
            for place in buffer.iter_mut().take(len) {
                *place = self.0.pop_front().unwrap_or_default();
            }
            if len == 0 { Err(io::ErrorKind::TimedOut.into()) } else { Ok(len) }
        }
    }

    impl Write for Memory {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    const HEAD: Head = Head { session: 7, number: 4 };

    fn framed(head: Head, answer: &Answer<'_>) -> Vec<u8> {
        let mut frame = [0; FRAME_MAX];
        let len = talk::write(head, answer, &mut frame).unwrap();
        frame[..len].to_vec()
    }

    fn asks(bytes: Vec<u8>) -> Result<Vec<u8>, Unanswered> {
        let patience = Patience { answer: Duration::from_micros(50), board: Duration::ZERO };
        let (line, incoming, unread) = (Memory(bytes.into()), Unstuffing::new(), Vec::new());
        let mut board = Conversation { line, patience, session: 7, number: 3, incoming, unread };
        board.ask(&Request::Picture, |answer| match answer {
            Answer::Picture(bytes) => Ok(bytes.to_vec()),
            _ => Err(Trouble::Nonsense),
        })
    }

    /// What may come before the right answer: noise, answers to other requests, pieces of frames, a damaged answer.
    fn before() -> impl Strategy<Value = Vec<u8>> {
        let noise = prop::collection::vec(any::<u8>(), 0..200);
        let other = (0_u32..9, 0_u32..9).prop_filter("another head", |head| *head != (7, 4)).prop_map(
            |(session, number)| framed(Head { session, number }, &Answer::Scheduled(Scheduled::Set)),
        );
        let cut = (any::<prop::sample::Index>(), 1_u8..).prop_map(|(at, flip)| {
            let mut frame = framed(HEAD, &Answer::Picture(&[9; 300]));
            let at = at.index(frame.len() - 1);
            frame[at] ^= flip;
            frame
        });
        prop::collection::vec(prop_oneof![noise, other, cut], 0..6).prop_map(|parts| parts.concat())
    }

    proptest! {
        #[test]
        fn whatever_comes_first_the_right_answer_is_taken_and_no_other(
            before in before(), picture in prop::collection::vec(any::<u8>(), 0..1_024),
        ) {
            // The zero ends whatever stood before it.
            let bytes = [before, vec![0], framed(HEAD, &Answer::Picture(&picture))].concat();
            prop_assert_eq!(asks(bytes).unwrap(), picture);
        }

        #[test]
        fn of_noise_alone_nothing_is_taken_for_an_answer(before in before()) {
            prop_assert!(matches!(asks(before), Err(Unanswered::Silent)));
        }
    }
}
