//! The ring against a plain model of it, on a chip that is stricter than a real one.
//!
//! [`Model`] knows which frames were taken, which of them are acknowledged and in which slot each begins.
//! After anything at all, the chip must hold exactly the acknowledged ones whose sector was not given up, in
//! order, and behind them at most such frames as were under way.

mod cuts;
mod finding;
mod life;
mod mounting;
mod reading;
mod suffered;

use std::vec::Vec;

use super::strict_chip::{Dead, Operation, StrictChip};
use super::*;

/// A ring small enough to be filled often.
type SmallRing = Ring<3>;

/// A test's frame: a byte of length, four of its number, and bytes that follow from the number.
fn frame(id: u32, len: usize) -> Vec<u8> {
    let mut frame = std::vec![len as u8 - 1];
    frame.extend(id.to_le_bytes());
    frame.extend((5..len).map(|place| (id as usize * 31 + place) as u8));
    frame
}

const FRAME_MIN: usize = 5;
const FRAME_MAX: usize = 253;

/// The number of a frame, if it is one that [`frame`] made.
fn id_of(bytes: &[u8]) -> Option<u32> {
    let id = u32::from_le_bytes(bytes.get(1..5)?.try_into().ok()?);
    (frame(id, bytes.len()) == bytes).then_some(id)
}

/// A frame that was taken.
#[derive(Clone, Copy, Debug)]
struct Taken {
    id: u32,
    /// The stream's position before it, and behind it.
    begin: u64,
    end: u64,
    /// The slot it begins in, once that is acknowledged.
    slot: Option<u32>,
}

/// What must be on the chip.
#[derive(Clone, Debug, Default)]
struct Model {
    next_id: u32,
    /// Acknowledged, of all runs.
    kept: Vec<Taken>,
    /// Taken in this run and not yet acknowledged.
    pending: Vec<Taken>,
    /// Slots before this one were given up.
    given_up: u32,
}

impl Model {
    /// Gives the ring a frame.
    fn put<const N: usize>(&mut self, ring: &mut Ring<N>, len: usize) {
        let begin = ring.taken();
        if ring.frame(&frame(self.next_id, len)) {
            self.pending.push(Taken { id: self.next_id, begin, end: ring.taken(), slot: None });
        }
        self.next_id += 1;
    }

    /// Does one poll and notes what it acknowledged and gave up.
    fn poll<const N: usize>(
        &mut self,
        ring: &mut Ring<N>,
        chip: &mut StrictChip,
        may_erase: bool,
    ) -> Result<Activity, Dead> {
        let before = ring.acknowledged();
        let activity = ring.poll(chip, may_erase);
        // What an erase gives up is gone, even if the power died in it.
        self.given_up = self.given_up.max(ring.oldest);
        let acknowledged = ring.acknowledged();
        for taken in &mut self.pending {
            if (before..acknowledged).contains(&taken.begin) {
                taken.slot = ring.last;
            }
        }
        self.kept.extend(self.pending.iter().filter(|taken| taken.end <= acknowledged));
        self.pending.retain(|taken| taken.end > acknowledged);
        activity
    }

    /// Polls until nothing is left to do.
    fn settle<const N: usize>(
        &mut self,
        ring: &mut Ring<N>,
        chip: &mut StrictChip,
        may_erase: bool,
    ) -> Result<(), Dead> {
        for _ in 0..100_000 {
            if self.poll(ring, chip, may_erase)? == Activity::Idle {
                return Ok(());
            }
        }
        panic!("the ring never comes to rest");
    }

    /// Mounts, with power for ever, and compares what is there with what must be.
    fn check<const N: usize>(&mut self, chip: &mut StrictChip) -> Ring<N> {
        chip.power_up(u64::MAX);
        let (ring, _) = Ring::mount(chip).unwrap();
        self.compare(&ring, chip);
        ring
    }

    /// The chip holds what was acknowledged and not given up, all of it in order; before it at most what has
    /// been given up and is still there, behind it at most what was under way.
    fn compare<const N: usize>(&mut self, ring: &Ring<N>, chip: &mut StrictChip) {
        let found = read_all(ring, chip);
        let newest = self.kept.last().map(|taken| taken.id);
        let (kept, more) = found.split_at(found.partition_point(|id| Some(*id) <= newest));
        let must = self.kept.iter().filter(|taken| taken.slot >= Some(self.given_up)).count();
        assert!(kept.len() >= must, "acknowledged frames are gone: {found:?}, but {:?}", self.kept);
        let tail = self.kept.iter().skip(self.kept.len() - kept.len());
        assert!(tail.map(|taken| &taken.id).eq(kept), "not in order: {found:?}, but {:?}", self.kept);
        let under_way: Vec<u32> = self.pending.iter().map(|taken| taken.id).take(more.len()).collect();
        assert_eq!(more, under_way, "frames that nobody gave");
        // What was seen once must stay. What was under way begins in the newest page, if its slot is not
        // known.
        let seen = self.pending.iter().take(more.len());
        self.kept.extend(seen.map(|taken| Taken { slot: taken.slot.or(ring.last), ..*taken }));
        self.pending.clear();
    }
}

/// Numbers of all frames on the chip, from old to new.
fn read_all<const N: usize>(ring: &Ring<N>, chip: &mut StrictChip) -> Vec<u32> {
    let (mut cursor, mut buffer, mut join) = (ring.oldest(), [0; PAGE], Join::default());
    loop {
        match ring.read_back(chip, &mut cursor, &mut buffer).unwrap() {
            Found::End => return join.ids,
            Found::Busy | Found::Nothing => {}
            Found::Piece(piece) => join.add(&piece),
        }
    }
}

/// Makes frames of pieces again.
#[derive(Default)]
struct Join {
    open: Vec<u8>,
    ids: Vec<u32>,
}

impl Join {
    fn add(&mut self, piece: &Piece<'_>) {
        let (end, begun) = piece.bytes.split_at(piece.first.unwrap_or(piece.bytes.len()));
        if !piece.joins {
            self.open.clear();
        }
        if !self.open.is_empty() {
            self.open.extend(end);
            self.close_whole();
        }
        if piece.first.is_some() {
            // Nothing follows where the power was cut within a frame; else all of it must.
            assert!(end.is_empty() || self.open.is_empty() || !piece.joins, "a frame without its end");
            self.open = begun.to_vec();
            self.close_whole();
        }
    }

    /// Takes off the frames that are whole.
    fn close_whole(&mut self) {
        while self.open.first().is_some_and(|len| self.open.len() > usize::from(*len)) {
            let len = usize::from(self.open[0]) + 1;
            let frame: Vec<u8> = self.open.drain(..len).collect();
            self.ids.push(id_of(&frame).expect("a frame that nobody gave"));
        }
    }
}
