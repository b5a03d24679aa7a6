//! A board's journal becomes a file, piece by piece, over a cable that may be pulled.
//!
//! Pieces go to a file with `.part` after its name, which gets its own name when all is there. When the board goes
//! away it is waited for, and the fetching goes on where it was; the last piece is asked for once more and must be
//! the same, so that two boards' records never end up in one file.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use firmware::talk::{Answer, PIECE_MAX, Refusal, Request, Standing};
use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;

use super::conversation::{Conversation, Reach, Unanswered};
use super::port::Line;
use super::{Trouble, words};

/// How often to look whether the board is back.
const LOOK_EVERY: Duration = Duration::from_millis(200);

/// What was fetched.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Fetched {
    /// Bytes of journal.
    pub bytes: u64,
    /// Where the first piece began.
    pub from: u64,
    /// Where the next fetching would begin.
    pub next: u64,
    /// Places after the first piece where something could not be read: overwritten meanwhile, or torn by a cut.
    pub gaps: u32,
}

/// Fetches what the board has recorded, from a position or from the oldest, into `out`.
///
/// With a position it goes on with what an earlier fetching left beside `out`, if it left anything.
///
/// # Errors
/// [`Trouble`]. What has come so far stays beside `out`, with `.part` after its name.
pub fn fetch(reach: &Reach, out: &Path, from: Option<u64>) -> Result<Fetched, Trouble> {
    let part = part_of(out);
    let in_the_way = [(out, true), (&part, from.is_none())];
    if let Some((path, _)) = in_the_way.iter().find(|(path, matters)| *matters && path.exists()) {
        return Err(Trouble::InTheWay(path.to_path_buf()));
    }
    // Before a file is touched: is there a board at all?
    let (conversation, standing) = reach.connect()?;
    let mut fetching = Fetching::begin((out, part), from, &standing)?;
    match fetching.go_to_the_end(reach, conversation) {
        Ok(()) => fetching.finish(),
        Err(trouble) => {
            if from.is_none() && fetching.last.is_none() {
                let _ = fs::remove_file(&fetching.part);
            }
            Err(trouble)
        }
    }
}

/// Where a journal is kept until all of it is there.
fn part_of(out: &Path) -> PathBuf {
    let mut name = out.as_os_str().to_owned();
    name.push(".part");
    name.into()
}

/// A piece as it came.
struct Piece {
    from: u64,
    next: u64,
    bytes: Vec<u8>,
}

/// A fetching at work.
struct Fetching {
    out: PathBuf,
    part: PathBuf,
    file: File,
    /// The end as the board said it first: what is recorded later is left for the next time.
    end: u64,
    /// The last piece that was written.
    last: Option<Piece>,
    fetched: Fetched,
    bar: ProgressBar,
}

impl Fetching {
    fn begin((out, part): (&Path, PathBuf), from: Option<u64>, standing: &Standing) -> Result<Self, Trouble> {
        let mut open = OpenOptions::new();
        let file = open.create(true).append(true).open(&part).map_err(Trouble::file(&part))?;
        let extent = standing.journal;
        let from = from.unwrap_or(extent.oldest);
        let bar = ProgressBar::new(extent.acknowledged.saturating_sub(from)).with_style(style());
        let fetched = Fetched { from, next: from, ..Fetched::default() };
        let (out, end) = (out.to_owned(), extent.acknowledged);
        Ok(Self { out, part, file, end, last: None, fetched, bar })
    }

    /// Fetches until the end, through as many sessions as it takes.
    fn go_to_the_end(
        &mut self,
        reach: &Reach,
        mut conversation: Conversation<Box<dyn Line>>,
    ) -> Result<(), Trouble> {
        let (mut reached, mut since) = (self.fetched.next, Instant::now());
        loop {
            let went = self.session(&mut conversation);
            match went {
                Ok(()) => return Ok(()),
                Err(Unanswered::For(trouble)) => return Err(trouble),
                Err(_) => {
                    self.bar.suspend(|| eprintln!("the board is gone; waiting for it: plug it in again"))
                }
            }
            // The port must be free before it can be opened again.
            drop(conversation);
            if self.fetched.next > reached {
                (reached, since) = (self.fetched.next, Instant::now());
            }
            conversation = loop {
                if since.elapsed() > reach.patience.board {
                    return Err(self.unfinished());
                }
                match reach.connect() {
                    Ok((conversation, _)) => break conversation,
                    Err(Unanswered::For(trouble)) if !is_absence(&trouble) => return Err(trouble),
                    Err(_) => thread::sleep(LOOK_EVERY),
                }
            };
        }
    }

    /// Fetches piece after piece in one session.
    fn session(&mut self, board: &mut Conversation<Box<dyn Line>>) -> Result<(), Unanswered> {
        if let Some(last) = &self.last {
            let again = ask(board, last.from).map_err(|why| self.refused(why))?;
            // What has been overwritten meanwhile cannot be compared.
            if again.from == last.from && (again.next, &again.bytes) != (last.next, &last.bytes) {
                return Err(Unanswered::For(self.other_journal()));
            }
        }
        while self.fetched.next < self.end {
            let piece = ask(board, self.fetched.next).map_err(|why| self.refused(why))?;
            if piece.next <= self.fetched.next {
                return Ok(());
            }
            self.take(piece).map_err(Unanswered::For)?;
        }
        Ok(())
    }

    fn take(&mut self, piece: Piece) -> Result<(), Trouble> {
        self.file.write_all(&piece.bytes).map_err(Trouble::file(&self.part))?;
        let fetched = &mut self.fetched;
        if piece.from > fetched.next {
            if self.last.is_some() {
                fetched.gaps += 1;
            } else {
                fetched.from = piece.from;
            }
        }
        fetched.bytes += piece.bytes.len() as u64;
        fetched.next = piece.next;
        self.bar.set_position(piece.next.saturating_sub(fetched.from));
        self.bar.set_message(words::bytes(fetched.bytes));
        self.last = Some(piece);
        Ok(())
    }

    fn finish(self) -> Result<Fetched, Trouble> {
        self.bar.finish_and_clear();
        self.file.sync_all().map_err(Trouble::file(&self.part))?;
        fs::rename(&self.part, &self.out).map_err(Trouble::file(&self.out))?;
        Ok(self.fetched)
    }

    /// A board whose journal ends before what was fetched from it is not the one it was fetched from.
    fn refused(&self, why: Unanswered) -> Unanswered {
        match why {
            Unanswered::For(Trouble::NoSuchPosition(_)) if self.last.is_some() => {
                Unanswered::For(self.other_journal())
            }
            why => why,
        }
    }

    fn other_journal(&self) -> Trouble {
        Trouble::OtherJournal { position: self.fetched.next, part: self.part.clone() }
    }

    fn unfinished(&self) -> Trouble {
        self.bar.abandon();
        let (part, out) = (self.part.clone(), self.out.clone());
        Trouble::Unfinished { position: self.fetched.next, part, out }
    }
}

/// Asks for the piece at a position.
fn ask(board: &mut Conversation<Box<dyn Line>>, from: u64) -> Result<Piece, Unanswered> {
    let most = u16::try_from(PIECE_MAX).unwrap_or(u16::MAX);
    board.ask(&Request::ReadJournal { from, most }, |answer| match answer {
        Answer::Journal { from, next, bytes } => Ok(Piece { from, next, bytes: bytes.to_vec() }),
        Answer::Refused(Refusal::NoSuchPosition { acknowledged }) => {
            Err(Trouble::NoSuchPosition(acknowledged))
        }
        other => Err(words::unexpected(&other)),
    })
}

/// True when the board is not there at the moment, and may come back.
fn is_absence(trouble: &Trouble) -> bool {
    matches!(trouble, Trouble::NoBoard | Trouble::Port { .. })
}

fn style() -> ProgressStyle {
    let template = "{wide_bar} {percent:>3} %  {msg}  {elapsed} of about {duration}";
    ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar())
}
