//! The host's end of a board on the bench: inputs go ahead of their time, what came of them comes back.
//!
//! Settings and stamped inputs in; what the board told out. Paced by the board's own clock, which an emulated board lets
//! run slower than real time, or faster.

use std::collections::VecDeque;

use firmware::bench::{BenchFault, Told, read_told, write_input};
use firmware::input::Input;
use firmware::journal::RECORD_MAX;
use firmware::settings::Settings;
use firmware::talk::{Answer, Refusal, Request};
use firmware::units::{Instant, Span};

use crate::board::conversation::{Conversation, Unanswered};
use crate::board::port::Line;
use crate::board::{Trouble, words};

/// The most bytes of inputs in one request.
const BATCH_MAX: usize = 900;

/// What an input may take on the board beside its bytes in the batch: see `firmware::bench::Bench::room`.
const BESIDE: usize = 12;

/// How the board stands after a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// Its clock.
    pub now: Instant,
    /// Inputs that wait there for their moment.
    pub waiting: u16,
    /// What it would have told and had no room for.
    pub lost: u32,
}

/// A board on the bench.
pub struct Bench<L> {
    board: Conversation<L>,
    room: usize,
    /// Inputs on their way, and those that do not fit yet.
    ahead: VecDeque<(Instant, Input)>,
    /// What was told and not looked at yet.
    told: VecDeque<Told>,
}

impl Bench<Box<dyn Line>> {
    /// Puts a board on the bench, with a fresh dash on these settings.
    ///
    /// # Errors
    /// Why the board refuses, or the line is not there.
    pub fn enter(mut board: Conversation<Box<dyn Line>>, settings: &Settings) -> Result<Self, Trouble> {
        let mut buffer = [0; Settings::ENCODED_MAX];
        let request = Request::EnterBench(settings.encode(&mut buffer));
        board.ask(&request, done)?;
        Ok(Self { board, room: 0, ahead: VecDeque::new(), told: VecDeque::new() })
    }

    /// An input for a moment of the board's clock; in order of moments.
    pub fn put(&mut self, at: Instant, input: Input) {
        self.ahead.push_back((at, input));
    }

    /// Inputs that are still here.
    #[must_use]
    pub fn left(&self) -> usize {
        self.ahead.len()
    }

    /// Sends as many inputs as find room, none stamped later than `until`, and fetches what came of earlier ones.
    ///
    /// # Errors
    /// The line, or [`Trouble::LeftBench`].
    pub fn exchange(&mut self, until: Instant) -> Result<Standing, Trouble> {
        let (base, inputs, count) = self.batch(until);
        let mut told = Vec::new();
        let answer = self.board.ask(&Request::Feed { base, inputs: &inputs }, |answer| match answer {
            Answer::Fed(fed) => {
                told = rows(fed.told)?;
                Ok(Some((
                    usize::from(fed.room),
                    Standing { now: fed.now, waiting: fed.waiting, lost: fed.lost },
                )))
            }
            Answer::Refused(Refusal::Bench(BenchFault::NoRoom)) => Ok(None),
            other => Err(words::unexpected(&other)),
        });
        match answer.map_err(gone)? {
            Some((room, standing)) => {
                self.ahead.drain(..count);
                self.room = room;
                self.told.extend(told);
                Ok(standing)
            }
            None => {
                self.room = 0;
                self.exchange(Instant::BOOT)
            }
        }
    }

    /// What the board told next.
    pub fn told(&mut self) -> Option<Told> {
        self.told.pop_front()
    }

    /// The picture on the board's screen, 1,024 bytes in page order.
    ///
    /// # Errors
    /// The line.
    pub fn picture(&mut self) -> Result<Vec<u8>, Trouble> {
        let answer = self.board.ask(&Request::Picture, |answer| match answer {
            Answer::Picture(bytes) => Ok(bytes.to_vec()),
            other => Err(words::unexpected(&other)),
        });
        answer.map_err(gone)
    }

    /// Takes the board off the bench.
    ///
    /// # Errors
    /// The line.
    pub fn leave(mut self) -> Result<(), Trouble> {
        self.board.ask(&Request::LeaveBench, done).map_err(gone)
    }

    /// The next inputs as they go over the line, and how many they are.
    fn batch(&self, until: Instant) -> (Instant, Vec<u8>, usize) {
        let base = self.ahead.front().map_or(Instant::BOOT, |(at, _)| *at);
        let (mut bytes, mut before, mut count) = (Vec::new(), base, 0);
        for (at, input) in self.ahead.iter().take_while(|(at, _)| *at <= until) {
            let mut buffer = [0; RECORD_MAX];
            let Some(item) = write_input(at.since(before), input, &mut buffer) else { break };
            let on_the_board = bytes.len() + item.len() + (count + 1) * BESIDE;
            if bytes.len() + item.len() > BATCH_MAX || on_the_board > self.room {
                break;
            }
            bytes.extend_from_slice(item);
            (before, count) = (*at, count + 1);
        }
        (base, bytes, count)
    }
}

fn done(answer: Answer<'_>) -> Result<(), Trouble> {
    match answer {
        Answer::Done => Ok(()),
        other => Err(words::unexpected(&other)),
    }
}

/// A line that is gone in the middle of a heat leaves it without an end.
fn gone(why: Unanswered) -> Trouble {
    match why {
        Unanswered::For(trouble) => trouble,
        _ => Trouble::Gone,
    }
}

fn rows(mut bytes: &[u8]) -> Result<Vec<Told>, Trouble> {
    let mut rows = Vec::new();
    while !bytes.is_empty() {
        let (told, rest) = read_told(bytes).ok_or(Trouble::Nonsense)?;
        rows.push(told);
        bytes = rest;
    }
    Ok(rows)
}

/// So far ahead of its moment an input goes: what a cable and a host's scheduler may take, many times over, and what
/// the board has room for.
pub const AHEAD: Span = Span::from_millis(2_000);
