//! On the bench: what a host would have happen to the dash waits here until its moment comes, and what came of it waits
//! here until the host fetches it.
//!
//! Sans-IO. A host sends inputs ahead of time, each stamped with a moment of the board's own clock; whoever turns the
//! board takes them out when they are due ([`Bench::due`]), feeds them, and tells how late that was and what was decided.
//! The pins, meanwhile, are nobody's: but the start button's edges are kept for a cue (rules B1 to B8 in
//! `docs/timing-logic.md`).
//!
//! Inputs are written as in the journal: the time since the input before, then the input. What is told back is a row of
//! [`Told`]. Both in the postcard format, in two queues of bytes. Knows inputs, outputs and units; decides nothing.

use heapless::Deque;
use serde::{Deserialize, Serialize};

use crate::input::{Input, Line};
use crate::journal::RECORD_MAX;
use crate::output::Output;
use crate::talk::{Cued, SeenEdge};
use crate::units::{Instant, Span};

/// So many bytes of inputs can wait: some three seconds of a heat.
pub const AHEAD_MAX: usize = 3_072;

/// So many bytes can wait to be told: some two seconds of a heat, told of once.
pub const TOLD_MAX: usize = 1_536;

/// The most that is told in one answer.
pub const TELL_MAX: usize = 512;

/// A host that has asked nothing for so long has gone.
pub const SILENT_FOR: Span = Span::from_secs(5);

/// The start button at its pin, held for so long, ends the bench: as long as clears a clock.
pub const HOLD_TO_LEAVE: Span = Span::from_secs(2);

/// So long a cue lights and sounds.
pub const CUE_FOR: Span = Span::from_millis(200);

/// So many reports of a shaft in a row end the bench: half a second of turning.
const REPORTS_OF_TURNING: u8 = 10;

/// So few pulses in a report are what an open wire picks up.
const STRAY_PULSES: u16 = 2;

/// Reports further apart than this are not in a row.
const IN_A_ROW: Span = Span::from_millis(200);

/// A stamp may be this much older than the one before it; the dash itself refuses older ones (rule T9).
const OUT_OF_ORDER: Span = Span::from_millis(100);

/// The length that stands before each entry of a queue.
const LENGTH: usize = 2;

/// Why inputs were not taken. None of their batch was.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum BenchFault {
    /// They are no inputs.
    Unreadable,
    /// One is stamped well before the one before it.
    OutOfOrder,
    /// They find no room yet: send them again later.
    NoRoom,
}

/// What became of an input, or what was decided. Variants are appended, never reordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Told {
    /// The next of the host's inputs was fed, so many microseconds after its stamp.
    Fed {
        /// Those microseconds.
        late_us: u32,
    },
    /// Something was decided.
    Decided {
        /// The stamp of what led to it: an input's, or the moment at which the dash asked to be woken.
        at: Instant,
        /// So many microseconds after that stamp it was decided.
        late_us: u32,
        /// What.
        output: Output,
    },
}

/// The bench.
#[derive(Debug, Default)]
pub struct Bench {
    is_on: bool,
    ahead: Deque<u8, AHEAD_MAX>,
    told: Deque<u8, TOLD_MAX>,
    /// The stamp of the next input, and of the last that was taken.
    next: Option<Instant>,
    newest: Option<Instant>,
    waiting: u16,
    lost: u32,
    /// When the host was heard last.
    heard: Instant,
    /// Since when the button at its pin is down.
    held: Option<Instant>,
    cue: Cue,
    turning: (u8, Instant),
}

/// The cue for a thumb.
#[derive(Debug, Default)]
struct Cue {
    is_due: bool,
    seen: Cued,
    count: usize,
}

impl Bench {
    /// Nothing is on it.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            is_on: false,
            ahead: Deque::new(),
            told: Deque::new(),
            next: None,
            newest: None,
            waiting: 0,
            lost: 0,
            heard: Instant::BOOT,
            held: None,
            cue: Cue { is_due: false, seen: Cued::NONE, count: 0 },
            turning: (0, Instant::BOOT),
        }
    }

    /// The board goes on the bench, with nothing waiting.
    pub fn begin(&mut self, now: Instant) {
        self.end();
        (self.is_on, self.heard) = (true, now);
    }

    /// The board leaves it.
    pub fn end(&mut self) {
        self.ahead.clear();
        self.told.clear();
        (self.is_on, self.next, self.newest, self.held) = (false, None, None, None);
        (self.waiting, self.lost, self.turning) = (0, 0, (0, Instant::BOOT));
        self.cue = Cue::default();
    }

    /// Whether the board is on the bench.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.is_on
    }

    /// The host was heard.
    pub fn hear(&mut self, now: Instant) {
        self.heard = now;
    }

    /// Whether it is time to leave: the host has gone, the button is held, or the engine turns (rule B5).
    #[must_use]
    pub fn is_over(&self, now: Instant) -> bool {
        let is_held = self.held.is_some_and(|since| now.since(since) >= HOLD_TO_LEAVE);
        self.is_on && (is_held || now.since(self.heard) > SILENT_FOR || self.turning.0 >= REPORTS_OF_TURNING)
    }

    /// When something is due without being asked: an input, or the end.
    #[must_use]
    pub fn next_wake(&self, now: Instant) -> Option<Instant> {
        if !self.is_on {
            return None;
        }
        let cue_ends = self.cue.seen.at.map(|at| at.plus(CUE_FOR)).filter(|end| *end > now);
        [self.next, cue_ends, self.cue.is_due.then_some(now)].into_iter().flatten().min()
    }

    /// Takes a batch of inputs, the first so long after `base`: all of them or none.
    ///
    /// # Errors
    /// Why not.
    #[inline(never)]
    pub fn take(&mut self, base: Instant, batch: &[u8]) -> Result<(), BenchFault> {
        let mut item = [0; RECORD_MAX];
        let (mut rest, mut at, mut newest, mut size) = (batch, base, self.newest, 0_usize);
        while !rest.is_empty() {
            let input;
            (at, input, rest) = read(at, rest)?;
            if newest.is_some_and(|newest: Instant| newest.since(at) > OUT_OF_ORDER) {
                return Err(BenchFault::OutOfOrder);
            }
            newest = Some(newest.map_or(at, |newest| newest.max(at)));
            let len = postcard::to_slice(&(at, input), &mut item).map_or(0, |item| item.len());
            size = size.saturating_add(len).saturating_add(LENGTH);
        }
        if size > self.room() {
            return Err(BenchFault::NoRoom);
        }
        (rest, at) = (batch, base);
        while !rest.is_empty() {
            let input;
            (at, input, rest) = read(at, rest)?;
            let item = postcard::to_slice(&(at, input), &mut item).map_err(|_| BenchFault::Unreadable)?;
            put(&mut self.ahead, item);
            self.next = self.next.or(Some(at));
            self.waiting = self.waiting.saturating_add(1);
        }
        self.newest = newest;
        Ok(())
    }

    /// Bytes of inputs that find room now. An input takes its bytes in the batch and at most twelve more.
    #[must_use]
    pub fn room(&self) -> usize {
        AHEAD_MAX.saturating_sub(self.ahead.len())
    }

    /// Inputs that wait.
    #[must_use]
    pub const fn waiting(&self) -> u16 {
        self.waiting
    }

    /// What was to be told and found no room since the bench began.
    #[must_use]
    pub const fn lost(&self) -> u32 {
        self.lost
    }

    /// The next input, if its moment has come.
    #[inline(never)]
    pub fn due(&mut self, now: Instant) -> Option<(Instant, Input)> {
        self.next.filter(|at| *at <= now)?;
        let mut item = [0; RECORD_MAX];
        let due = get(&mut self.ahead, &mut item).and_then(stamped);
        self.waiting = self.waiting.saturating_sub(1);
        self.next = None;
        if self.waiting > 0 {
            self.next = self.peek();
        }
        due
    }

    /// The stamp of the first input that waits.
    fn peek(&self) -> Option<Instant> {
        let mut stamp = [0; 10];
        let (mut bytes, mut to) = (self.ahead.iter().skip(LENGTH), stamp.iter_mut());
        while let (Some(byte), Some(place)) = (bytes.next(), to.next()) {
            *place = *byte;
        }
        postcard::take_from_bytes(&stamp).ok().map(|(at, _)| at)
    }

    /// The input just taken out was fed, so late.
    pub fn fed(&mut self, late: Span) {
        self.tell(&Told::Fed { late_us: micros(late) });
    }

    /// Something was decided on what was stamped so, so late.
    pub fn decided(&mut self, at: Instant, late: Span, output: Output) {
        self.tell(&Told::Decided { at, late_us: micros(late), output });
    }

    #[inline(never)]
    fn tell(&mut self, told: &Told) {
        let mut item = [0; RECORD_MAX];
        let item = postcard::to_slice(told, &mut item).map_or(&[][..], |item| item);
        if item.is_empty() || TOLD_MAX.saturating_sub(self.told.len()) < item.len().saturating_add(LENGTH) {
            self.lost = self.lost.saturating_add(1);
            return;
        }
        put(&mut self.told, item);
    }

    /// Takes out what there is to tell, as much as fits, whole entries one after the other.
    #[inline(never)]
    pub fn told<'a>(&mut self, buffer: &'a mut [u8; TELL_MAX]) -> &'a [u8] {
        let mut len = 0_usize;
        while let Some(rest) = buffer.get_mut(len..)
            && !self.told.is_empty()
            && length(&self.told) <= rest.len()
        {
            let mut item = [0; RECORD_MAX];
            let Some(item) = get(&mut self.told, &mut item) else { break };
            for (to, from) in rest.iter_mut().zip(item) {
                *to = *from;
            }
            len = len.saturating_add(item.len());
        }
        buffer.get(..len).unwrap_or_default()
    }

    /// Light and sound are wanted at once; the edges before are forgotten.
    pub fn cue(&mut self) {
        self.cue = Cue { is_due: true, ..Cue::default() };
    }

    /// Whether light and sound are to be switched on now.
    #[must_use]
    pub const fn is_cue_due(&self) -> bool {
        self.cue.is_due
    }

    /// They are on, since then.
    pub fn cued(&mut self, at: Instant) {
        (self.cue.is_due, self.cue.seen.at) = (false, Some(at));
    }

    /// Whether they are on.
    #[must_use]
    pub fn is_cue_on(&self, now: Instant) -> bool {
        self.cue.seen.at.is_some_and(|at| now.since(at) < CUE_FOR)
    }

    /// The last cue and what the button has done since.
    #[must_use]
    pub const fn seen(&self) -> Cued {
        self.cue.seen
    }

    /// The button at its pin.
    fn button(&mut self, at: Instant, active: bool) {
        self.held = active.then(|| self.held.unwrap_or(at));
        let Cue { seen, count, .. } = &mut self.cue;
        match seen.edges.get_mut(*count) {
            Some(place) => {
                *place = Some(SeenEdge { at, active });
                *count = count.saturating_add(1);
            }
            None => seen.more = seen.more.saturating_add(1),
        }
    }

    /// Something happened at the board's own pins.
    pub fn happen(&mut self, at: Instant, input: &Input) {
        match *input {
            Input::Edge { line: Line::Button, active } => self.button(at, active),
            Input::Shafts { n1, n2 } if n1.count > STRAY_PULSES || n2.count > STRAY_PULSES => self.turned(at),
            _ => {}
        }
    }

    /// A shaft's report at its pin told of turning.
    fn turned(&mut self, at: Instant) {
        let (count, last) = self.turning;
        let in_a_row = at.since(last) <= IN_A_ROW;
        self.turning = (if in_a_row { count.saturating_add(1) } else { 1 }, at);
    }
}

/// An input as it stands in a batch, so long after the one before it: for a host.
#[must_use]
pub fn write_input<'a>(after: Span, input: &Input, buffer: &'a mut [u8; RECORD_MAX]) -> Option<&'a [u8]> {
    postcard::to_slice(&(after, input), buffer).ok().map(|item| &*item)
}

/// The first thing that was told, and what follows it: for a host.
#[must_use]
pub fn read_told(told: &[u8]) -> Option<(Told, &[u8])> {
    postcard::take_from_bytes(told).ok()
}

/// The next input of a batch, its stamp, and what follows it.
fn read(before: Instant, batch: &[u8]) -> Result<(Instant, Input, &[u8]), BenchFault> {
    let ((after, input), rest) =
        postcard::take_from_bytes::<(Span, Input)>(batch).map_err(|_| BenchFault::Unreadable)?;
    Ok((before.plus(after), input, rest))
}

fn stamped(item: &[u8]) -> Option<(Instant, Input)> {
    postcard::take_from_bytes(item).ok().map(|(stamped, _)| stamped)
}

fn micros(late: Span) -> u32 {
    u32::try_from(late.as_micros().max(0)).unwrap_or(u32::MAX)
}

/// Puts an entry behind the others. There is room, which was seen to.
fn put<const N: usize>(queue: &mut Deque<u8, N>, item: &[u8]) {
    let length = u16::try_from(item.len()).unwrap_or_default().to_le_bytes();
    length.iter().chain(item).for_each(|byte| _ = queue.push_back(*byte));
}

/// The length of the first entry.
fn length<const N: usize>(queue: &Deque<u8, N>) -> usize {
    let mut bytes = queue.iter();
    let low = bytes.next().copied().unwrap_or_default();
    usize::from(u16::from_le_bytes([low, bytes.next().copied().unwrap_or_default()]))
}

/// Takes the first entry out.
fn get<'a, const N: usize>(queue: &mut Deque<u8, N>, item: &'a mut [u8; RECORD_MAX]) -> Option<&'a [u8]> {
    let (low, high) = (queue.pop_front()?, queue.pop_front()?);
    let len = usize::from(u16::from_le_bytes([low, high]));
    for place in item.get_mut(..len)? {
        *place = queue.pop_front()?;
    }
    item.get(..len)
}

#[cfg(test)]
mod tests;
