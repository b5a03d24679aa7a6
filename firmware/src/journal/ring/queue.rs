//! Pages in RAM: frames go in at one end, pages to be written come out at the other.
//!
//! A frame is taken whole or not at all; it may begin in one page and end in the next. A page is due when it
//! is full or was flushed, and is filled on until the moment it is written: flushing often costs no pages
//! while the chip is behind.
//!
//! Knows pages. Frames in, sealed images out.

use heapless::Deque;

use super::chip::PAGE;
use super::page::{Draft, PAYLOAD};

/// Up to `PAGES` pages, oldest first.
#[derive(Clone, Debug)]
pub(super) struct Queue<const PAGES: usize> {
    pages: Deque<Draft, PAGES>,
    /// The first page is being written: it takes no more.
    is_sealed: bool,
    /// The first page did not arrive where it was written first.
    again: bool,
    /// The last page is due though not full.
    is_flushed: bool,
}

impl<const PAGES: usize> Queue<PAGES> {
    pub(super) const fn new() -> Self {
        Self { pages: Deque::new(), is_sealed: false, again: false, is_flushed: false }
    }

    /// Bytes that still fit.
    pub(super) fn free(&self) -> usize {
        let unused = PAGES.saturating_sub(self.pages.len()).saturating_mul(PAYLOAD);
        unused.saturating_add(self.last_free())
    }

    /// Takes a whole frame; false when it does not fit.
    pub(super) fn take(&mut self, frame: &[u8]) -> bool {
        if frame.len() > self.free() {
            return false;
        }
        let mut rest = frame;
        while !rest.is_empty() {
            // There is room for a new page: it was counted above.
            if self.last_free() == 0 && self.pages.push_back(Draft::new()).is_ok() {
                self.is_flushed = false;
            }
            let Some(page) = self.pages.back_mut() else { return false };
            if rest.len() == frame.len() {
                page.mark_first();
            }
            rest = page.fill(rest);
        }
        true
    }

    /// Makes all pages due.
    pub(super) fn flush(&mut self) {
        self.is_flushed = !self.pages.is_empty();
    }

    /// Whether the first page should be written.
    pub(super) fn is_due(&self) -> bool {
        let first_is_full = self.pages.front().is_some_and(|page| page.free() == 0);
        self.pages.len() > 1 || first_is_full || self.is_flushed
    }

    /// Makes the first page ready for the slot `number`; the page before stands `back` slots before it.
    pub(super) fn seal(&mut self, number: u32, back: Option<u32>) -> Option<&[u8; PAGE]> {
        let page = self.pages.front_mut()?;
        self.is_sealed = true;
        Some(page.seal(number, back, self.again))
    }

    /// The first page as it was sealed.
    pub(super) fn sealed(&self) -> Option<&[u8; PAGE]> {
        self.pages.front().filter(|_| self.is_sealed).map(Draft::image)
    }

    /// The first page is not where it was written: it goes to another slot.
    pub(super) const fn retry(&mut self) {
        self.again = true;
    }

    /// The first page is on the chip. Says how many bytes of frames it held.
    pub(super) fn done(&mut self) -> usize {
        if self.pages.len() == 1 {
            self.is_flushed = false;
        }
        self.is_sealed = false;
        self.again = false;
        self.pages.pop_front().map_or(0, |page| page.len())
    }

    /// Bytes that fit into the last page.
    fn last_free(&self) -> usize {
        let is_closed = self.is_sealed && self.pages.len() == 1;
        self.pages.back().filter(|_| !is_closed).map_or(0, Draft::free)
    }
}

#[cfg(test)]
mod tests {
    use super::super::page::Slot;
    use super::*;

    fn sealed<const PAGES: usize>(queue: &mut Queue<PAGES>) -> Slot<'_> {
        Slot::read(queue.seal(0, None).unwrap()).unwrap()
    }

    #[test]
    fn two_pages_take_one_byte_less_all_and_not_one_more() {
        for (bytes, fits) in [(2 * PAYLOAD - 1, true), (2 * PAYLOAD, true), (2 * PAYLOAD + 1, false)] {
            let mut queue = Queue::<2>::new();
            assert_eq!(queue.take(&std::vec![1; bytes]), fits, "{bytes}");
            assert_eq!(queue.free(), if fits { 2 * PAYLOAD - bytes } else { 2 * PAYLOAD });
        }
    }

    #[test]
    fn a_frame_that_does_not_fit_leaves_no_part_of_itself() {
        let mut queue = Queue::<1>::new();
        assert!(queue.take(&[1; 200]));
        assert!(!queue.take(&[2; 45]));
        assert!(queue.take(&[3; 44]));
        let page = sealed(&mut queue);
        assert!(page.frames[..200].iter().all(|b| *b == 1) && page.frames[200..].iter().all(|b| *b == 3));
    }

    #[test]
    fn a_page_is_due_when_full_or_flushed_and_a_new_one_is_not() {
        let mut queue = Queue::<3>::new();
        queue.flush();
        assert!(!queue.is_due(), "nothing is there");
        queue.take(&[1; PAYLOAD - 1]);
        assert!(!queue.is_due());
        queue.take(&[2; 1]);
        assert!(queue.is_due());
        sealed(&mut queue);
        assert_eq!(queue.done(), PAYLOAD);
        queue.take(&[3; 5]);
        assert!(!queue.is_due());
        queue.flush();
        assert!(queue.is_due());
        sealed(&mut queue);
        queue.take(&[4; 5]);
        queue.done();
        assert!(!queue.is_due(), "what came after the flush waits");
    }

    #[test]
    fn a_flushed_page_is_filled_on_until_it_is_sealed() {
        let mut queue = Queue::<3>::new();
        queue.take(&[1; 5]);
        queue.flush();
        queue.take(&[2; 5]);
        assert_eq!(sealed(&mut queue).frames.len(), 10);
        queue.take(&[3; 5]);
        assert_eq!(queue.done(), 10);
        assert_eq!(sealed(&mut queue).frames, [3; 5]);
    }

    #[test]
    fn a_page_says_where_its_first_frame_begins() {
        let mut queue = Queue::<4>::new();
        queue.take(&[1; PAYLOAD + 6]);
        queue.take(&[2; PAYLOAD - 6 + PAYLOAD]);
        queue.take(&[3; 1]);
        for first in [Some(0), Some(6), None, Some(0)] {
            assert_eq!(sealed(&mut queue).first, first);
            queue.done();
        }
    }
}
