//! A chip in memory, stricter than a real one, whose power may die after any byte.
//!
//! It fails the test when anything is asked of it while it is busy; when a page is programmed twice; when a
//! page with frames is programmed where cells may be half-way, after a cut erase or a program cut early; and
//! when an address is not aligned or not on the chip. Every byte on the bus counts, and when the last byte of
//! its power is used up, it answers nothing but [`Dead`] until [`StrictChip::power_up`].
//!
//! A program that is cut leaves the bytes sent so far, the last of them half-cleared; or, if told so, all
//! bits as they were and the cells half-way. A cut erase leaves one of [`ERASE_STAGES`].

use std::vec;
use std::vec::Vec;

use super::chip::{Chip, Geometry, PAGE, is_blank};

/// The power is gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Dead;

/// What the last cut left of an erase, one stage a byte of power: all as it was; the same, with cells
/// half-way; all random; mostly blank; the first half blank; the last half blank; all blank to the eye.
const ERASE_STAGES: u64 = 7;

/// Bytes of write enable, command and address before anything happens.
const BEFORE: u64 = 5;

/// One operation as it was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Operation {
    Status,
    Read,
    /// A page, and after which of its bytes a cut makes a difference.
    Program(Vec<u64>),
    Erase,
}

#[derive(Clone, Debug)]
pub(crate) struct StrictChip {
    pub(crate) geometry: Geometry,
    pub(crate) bytes: Vec<u8>,
    /// Pages that were programmed since their erase.
    programmed: Vec<bool>,
    /// Pages whose erase or program was cut so that reading may not show it.
    half_way: Vec<bool>,
    /// Erases of each sector.
    pub(crate) erases: Vec<u32>,
    /// How many times it says "busy" after each operation.
    pub(crate) busy_polls: u32,
    busy: u32,
    /// Bytes until the power dies.
    power: u64,
    /// Bytes so far.
    pub(crate) used: u64,
    /// Bytes read, commands included.
    pub(crate) read: u64,
    /// Whether a cut program leaves no bit changed.
    pub(crate) cuts_early: bool,
    /// A byte that stays as it is, whatever is programmed.
    pub(crate) stuck: Option<usize>,
    /// A byte that no erase makes blank.
    pub(crate) worn: Option<usize>,
    /// Nothing is ever programmed or erased.
    pub(crate) protected: bool,
    /// Whether a log is kept.
    pub(crate) is_logged: bool,
    /// What was done since power-up, and when it began.
    pub(crate) log: Vec<(u64, Operation)>,
    random: u64,
}

impl StrictChip {
    pub(crate) fn new(sectors: u32, pages_per_sector: u32) -> Self {
        let pages = (sectors * pages_per_sector) as usize;
        Self {
            geometry: Geometry { sectors, pages_per_sector },
            bytes: vec![0xFF; pages * PAGE],
            programmed: vec![false; pages],
            half_way: vec![false; pages],
            erases: vec![0; sectors as usize],
            busy_polls: 1,
            busy: 0,
            power: u64::MAX,
            used: 0,
            read: 0,
            cuts_early: false,
            stuck: None,
            worn: None,
            protected: false,
            is_logged: false,
            log: Vec::new(),
            random: 0x9E37_79B9_7F4A_7C15,
        }
    }

    /// Another chip's content: nothing known about it.
    pub(crate) fn fill_at_random(&mut self) {
        for place in 0..self.bytes.len() {
            self.bytes[place] = self.draw();
        }
        self.programmed.fill(true);
    }

    /// Power again, for so many bytes on the bus.
    pub(crate) fn power_up(&mut self, bytes: u64) {
        (self.power, self.used, self.busy) = (bytes, 0, 0);
        self.log.clear();
    }

    /// Moments of the log at which a cut leaves the chip in a state of its own. A cut within a read leaves
    /// what a cut before it leaves, so one stands for all between two writings; and so does one for all bytes
    /// in a row that a program does not change.
    pub(crate) fn moments(&self) -> Vec<u64> {
        let mut moments = vec![0];
        for (began, operation) in &self.log {
            match operation {
                Operation::Status | Operation::Read => {}
                Operation::Program(places) => moments.extend(places.iter().map(|p| began + BEFORE + p)),
                Operation::Erase => moments.extend((0..=ERASE_STAGES).map(|stage| began + BEFORE + stage)),
            }
        }
        moments
    }

    /// Uses up power for an operation and says how many of its bytes were within it.
    fn spend(&mut self, bytes: u64) -> (u64, Result<(), Dead>) {
        assert_eq!(self.busy, 0, "asked while busy");
        let spent = bytes.min(self.power);
        self.used += spent;
        self.power -= spent;
        (spent, if spent == bytes { Ok(()) } else { Err(Dead) })
    }

    fn note(&mut self, operation: impl FnOnce() -> Operation) {
        if self.is_logged {
            self.log.push((self.used, operation()));
        }
    }

    fn draw(&mut self) -> u8 {
        self.random ^= self.random << 13;
        self.random ^= self.random >> 7;
        self.random ^= self.random << 17;
        (self.random >> 32) as u8
    }

    fn stage_of_erase(&mut self, stage: u64, at: usize, len: usize) {
        for place in 0..len {
            let was = self.bytes[at + place];
            self.bytes[at + place] = match stage {
                0 | 1 => was,
                2 => self.draw(),
                3 if self.draw() < 5 => self.draw(),
                4 if place >= len / 2 => was,
                5 if place < len / 2 => was,
                _ => 0xFF,
            };
        }
    }
}

impl Chip for StrictChip {
    type Error = Dead;

    fn geometry(&self) -> Geometry {
        self.geometry
    }

    fn is_busy(&mut self) -> Result<bool, Dead> {
        if self.power == 0 {
            return Err(Dead);
        }
        let busy = std::mem::take(&mut self.busy);
        self.note(|| Operation::Status);
        self.spend(2).1?;
        self.busy = busy.saturating_sub(1);
        Ok(busy > 0)
    }

    fn read(&mut self, address: u32, buffer: &mut [u8]) -> Result<(), Dead> {
        let at = address as usize;
        assert!(at + buffer.len() <= self.bytes.len(), "read beyond the chip");
        self.note(|| Operation::Read);
        let (spent, alive) = self.spend(4 + buffer.len() as u64);
        self.read += spent;
        alive?;
        buffer.copy_from_slice(&self.bytes[at..at + buffer.len()]);
        Ok(())
    }

    fn begin_program(&mut self, address: u32, page: &[u8; PAGE]) -> Result<(), Dead> {
        let at = address as usize;
        assert!(at.is_multiple_of(PAGE) && at < self.bytes.len(), "no page begins at {address:#x}");
        let number = at / PAGE;
        self.note(|| Operation::Program(places_that_differ(page)));
        let (spent, alive) = self.spend(BEFORE + PAGE as u64);
        let sent = spent.saturating_sub(BEFORE) as usize;
        if sent == 0 || self.protected {
            return alive;
        }
        assert!(!self.programmed[number], "page {number} is programmed a second time");
        let is_marker = page[0] == 0;
        assert!(
            !self.half_way[number] || is_marker,
            "page {number} is programmed, but its cells are half-way"
        );
        if alive.is_err() && self.cuts_early {
            self.half_way[number] = true;
            return alive;
        }
        let half_cleared = if alive.is_ok() { PAGE } else { sent - 1 };
        for (place, wanted) in page.iter().enumerate().take(sent) {
            let half = [0x55, 0xAA, 0x0F, 0xF0][sent % 4];
            let wanted = if place == half_cleared { wanted | half } else { *wanted };
            if self.stuck != Some(at + place) {
                self.bytes[at + place] &= wanted;
            }
        }
        self.programmed[number] = !is_blank(&self.bytes[at..at + PAGE]);
        self.busy = self.busy_polls;
        alive
    }

    fn begin_erase(&mut self, address: u32) -> Result<(), Dead> {
        let len = self.geometry.sector_bytes() as usize;
        let at = address as usize;
        assert!(at.is_multiple_of(len) && at < self.bytes.len(), "no sector begins at {address:#x}");
        self.note(|| Operation::Erase);
        let (spent, alive) = self.spend(BEFORE + ERASE_STAGES);
        if spent < BEFORE || self.protected {
            return alive;
        }
        let pages = at / PAGE..(at + len) / PAGE;
        self.erases[at / len] += 1;
        let stage = spent - BEFORE;
        self.stage_of_erase(stage, at, len);
        if let Some(worn) = self.worn {
            self.bytes[worn] &= 0x7F;
        }
        let is_cut = alive.is_err();
        self.half_way[pages.clone()].fill(is_cut && stage > 0);
        if stage > 0 {
            self.programmed[pages].fill(false);
        }
        self.busy = self.busy_polls;
        alive
    }
}

/// After how many bytes of a program a cut makes a difference: the last of them is half-cleared, or nothing
/// is.
fn places_that_differ(page: &[u8; PAGE]) -> Vec<u64> {
    let changes = |place: usize| page.get(place).is_some_and(|byte| *byte != 0xFF);
    let differs =
        |sent: &usize| [0, PAGE].contains(sent) || changes(sent - 1) || (*sent > 1 && changes(sent - 2));
    (0..=PAGE).filter(differs).map(|sent| sent as u64).collect()
}
