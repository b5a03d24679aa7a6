//! What stands on the display: cautions and self-test first, the dash from then on.
//!
//! A picture is drawn ten times a second, at the very moment at which the race time's last digit changes, and at once
//! when something was decided. It goes out in short pieces, one a turn. For the emulator's tests, which see the
//! display's RAM, [`GUNLINE_DRAWN`] tells which picture is whole in it.
//!
//! Knows the screen and the panel. Views in, bus writes out.

use core::mem::MaybeUninit;
use core::sync::atomic::{AtomicU32, Ordering};

use embedded_hal::i2c::I2c;
use firmware::dash::Dash;
use firmware::io::panel::{self, Panel};
use firmware::screen::{self, CAUTION_PAGES, Frame};
use firmware::units::{Instant, Span};

use crate::last_words::LastWords;

/// From picture to picture of the dash; the race time shows tenths of a second.
const PICTURE_EVERY: Span = Span::from_millis(100);

/// From picture to picture of the self-test, where a sensor that is plugged in should be seen soon.
const SELF_TEST_EVERY: Span = Span::from_millis(500);

/// Each page of cautions stands so long: time to read four short lines (common practice, no source).
const CAUTION_FOR: Span = Span::from_secs(4);

/// The display is set up anew now and then: one that lost its supply for a moment comes back.
const REFRESH_EVERY: Span = Span::from_secs(20);

/// The picture that the display's RAM holds, by words: moment in microseconds (low, high), inputs that the dash had
/// been fed when it was drawn (all ones for one that is not the dash's), and 1 when it is whole.
#[repr(C, align(8))]
pub struct Drawn {
    at_low: AtomicU32,
    at_high: AtomicU32,
    inputs: AtomicU32,
    settled: AtomicU32,
}

#[unsafe(no_mangle)]
#[used]
static GUNLINE_DRAWN: Drawn = Drawn {
    at_low: AtomicU32::new(0),
    at_high: AtomicU32::new(0),
    inputs: AtomicU32::new(u32::MAX),
    settled: AtomicU32::new(0),
};

/// What is on the display.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Page {
    /// A page of cautions, since when.
    Caution(u8, Instant),
    /// What the program said before it stopped itself, until a button is pressed.
    LastWords,
    /// What the board found of itself, until a button is pressed.
    SelfTest,
    /// The dash.
    Dash,
}

/// The display and what stands on it.
pub struct Show<I2C: 'static> {
    panel: &'static mut Panel<I2C>,
    words: LastWords,
    page: Page,
    picture_due: Instant,
    refresh_due: Instant,
    /// Moment and inputs of the picture that is going out.
    going_out: (Instant, u32),
}

impl<I2C: I2c> Show<I2C> {
    /// A display that shows the cautions first.
    #[inline(never)]
    pub fn new(room: &'static mut MaybeUninit<Panel<I2C>>, bus: I2C, words: LastWords, now: Instant) -> Self {
        Self {
            panel: room.write(Panel::new(bus, panel::ADDRESS)),
            words,
            page: Page::Caution(0, now),
            picture_due: now,
            refresh_due: now.plus(REFRESH_EVERY),
            going_out: (now, u32::MAX),
        }
    }

    /// A button was pressed: it is time for the dash, or first for the self-test behind last words.
    pub fn dismiss(&mut self) {
        self.page = if self.page == Page::LastWords { Page::SelfTest } else { Page::Dash };
        self.picture_due = Instant::BOOT;
    }

    /// The board went on the bench: its dash is shown, and that it is there.
    pub fn begin_bench(&mut self) {
        self.page = Page::Dash;
        self.picture_due = Instant::BOOT;
    }

    /// The picture shown, or on its way to the display.
    pub fn picture(&self) -> &[u8] {
        self.panel.wanted()
    }

    /// Something was decided: it is shown at once.
    pub fn hurry(&mut self) {
        self.picture_due = Instant::BOOT;
    }

    /// How bright.
    pub fn set_contrast(&mut self, contrast: u8) {
        self.panel.set_contrast(contrast);
    }

    /// Whether the self-test is shown, with which the lamps are tested.
    pub fn is_self_test(&self) -> bool {
        self.page == Page::SelfTest
    }

    /// Whether anything else than the dash is shown.
    pub fn hides_the_dash(&self) -> bool {
        self.page != Page::Dash
    }

    /// Draws if it is time, and sends a piece.
    ///
    /// `dash` is the dash, how many inputs it was fed, and whether it is on the bench.
    pub fn turn(&mut self, now: Instant, dash: (&Dash, u32, bool), self_test: impl FnOnce(&mut Frame)) {
        if now >= self.picture_due {
            self.turn_page(now, dash.0);
            self.draw(now, dash, self_test);
        }
        if now >= self.refresh_due {
            self.refresh_due = now.plus(REFRESH_EVERY);
            self.panel.refresh();
        }
        // Before its first piece goes out, too: from then on the display holds neither picture whole.
        self.tell();
        // A bus that fails is tried again by itself; the count of failures stands in the self-test.
        let _ = self.panel.poll(now);
        self.tell();
    }

    /// When there is something to do again.
    pub fn next_wake(&self) -> Instant {
        self.panel.due().unwrap_or(self.picture_due).min(self.picture_due)
    }

    /// A running clock is never covered, and a page of cautions gives way to the next.
    fn turn_page(&mut self, now: Instant, dash: &Dash) {
        self.page = match self.page {
            _ if dash.race_time(now).is_some() => Page::Dash,
            Page::Caution(page, since) if now.since(since) >= CAUTION_FOR => match page + 1 {
                next @ ..CAUTION_PAGES => Page::Caution(next, now),
                _ if self.words.is_empty() => Page::SelfTest,
                _ => Page::LastWords,
            },
            other => other,
        };
    }

    fn draw(
        &mut self,
        now: Instant,
        (dash, inputs, bench): (&Dash, u32, bool),
        self_test: impl FnOnce(&mut Frame),
    ) {
        let view = dash.view(now);
        self.picture_due = match self.page {
            // The face is rounded down to a tenth: its digit changes at whole tenths of the race time.
            Page::Dash => {
                let into = view.race.map_or(0, |race| race.as_micros().rem_euclid(PICTURE_EVERY.as_micros()));
                now.plus(PICTURE_EVERY - Span::from_micros(into))
            }
            Page::Caution(_, since) => since.plus(CAUTION_FOR),
            Page::LastWords | Page::SelfTest => now.plus(SELF_TEST_EVERY),
        };
        let mut frame = match self.page {
            Page::Dash => screen::draw(&view, &dash.settings().screen),
            Page::Caution(page, _) => drawn(|frame| {
                let Ok(()) = screen::draw_cautions(frame, page);
            }),
            Page::LastWords => drawn(|frame| {
                let Ok(()) = screen::draw_last_words(frame, &self.words);
            }),
            Page::SelfTest => drawn(self_test),
        };
        if bench {
            let Ok(()) = screen::draw_bench(&mut frame);
        }
        self.panel.show(&frame);
        self.going_out = (now, if self.page == Page::Dash { inputs } else { u32::MAX });
    }

    fn tell(&self) {
        let settled = self.panel.is_settled();
        if settled {
            let (at, inputs) = self.going_out;
            GUNLINE_DRAWN.at_low.store(at.as_micros() as u32, Ordering::Relaxed);
            GUNLINE_DRAWN.at_high.store((at.as_micros() >> 32) as u32, Ordering::Relaxed);
            GUNLINE_DRAWN.inputs.store(inputs, Ordering::Relaxed);
        }
        GUNLINE_DRAWN.settled.store(u32::from(settled), Ordering::Relaxed);
    }
}

fn drawn(draw: impl FnOnce(&mut Frame)) -> Frame {
    let mut frame = Frame::new();
    draw(&mut frame);
    frame
}
