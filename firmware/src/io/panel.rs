//! The display: an SSD1306 or a relative with 128x64 dots on an I2C bus.
//!
//! [`Panel::show`] says which picture is wanted, [`Panel::poll`] sends one short piece of what the display
//! does not hold yet: at most [`PIECE`] bytes, under 0.5 ms of a bus at 400 kHz, so the loop around it never
//! waits for a whole picture (27 ms). Pieces go round the picture, so no part of it starves however often it
//! changes.
//!
//! The display cannot be read back. After an error on the bus nothing is known about it: it is set up again
//! and the whole picture goes out again. A display that lost its supply without an error shows nothing until
//! [`Panel::refresh`] does the same.
//!
//! Pictures in, bus writes out. This file knows frames and moments.

use embedded_hal::i2c::I2c;

use crate::screen::Frame;
use crate::units::{Instant, Span};

/// The address of most such displays, seven bits (the other is 0x3D; from memory).
pub const ADDRESS: u8 = 0x3C;

/// The most bytes of one `poll`, addresses included: 21 bytes of 9 bits take 0.473 ms at 400 kHz, starts and
/// stops another 0.01.
pub const PIECE: usize = 21;

/// How long to leave a bus alone after an error: a display that is not there must not fill the loop.
const RETRY_AFTER: Span = Span::from_millis(100);

/// Control byte: what follows are commands.
const COMMANDS: u8 = 0x00;
/// Control byte: what follows goes into the display's RAM.
const DATA: u8 = 0x40;
/// Bytes that a write costs beside its content: address and control byte.
const ENVELOPE: usize = 2;
/// Bytes that it costs to move the display's pointer: an envelope and three commands.
const MOVE: usize = ENVELOPE + 3;

const SET_CONTRAST: u8 = 0x81;
const SWITCH_OFF: u8 = 0xAE;
const SWITCH_ON: u8 = 0xAF;

/// The set-up, in pieces. SSD1306 data sheet, "Application example" and the command table; from memory.
///
/// It does not switch the display off: it is off after power-on, and a set-up repeated must not flicker. The
/// two NOPs feed a command that a reset cut short and that still waits for its parameters.
const SETUP: [&[u8]; 2] = [
    &[
        0xE3, 0xE3, // two NOPs
        0xA8, 0x3F, // 64 rows
        0xD3, 0x00, // no vertical offset
        0x40, // RAM row 0 at the top
        0xA1, 0xC8, // columns and rows turned: upright with the header above the glass
        0xDA, 0x12, // row pins as a panel of 64 rows has them
        0x20, 0x02, // page addressing: the pointer stays in its page
    ],
    &[
        0xD5, 0x80, // the chip's own clock
        0xD9, 0xF1, // precharge for the inner charge pump
        0xDB, 0x20, // deselect level
        0x8D, 0x14, // charge pump on: the module makes its own voltage
        0x2E, // no scrolling
        0xA4, 0xA6, // show the RAM, lit dots lit
    ],
];

/// What the panel was doing when the bus failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Doing {
    /// Setting the display up.
    Setup,
    /// Setting its contrast.
    Contrast,
    /// Sending a part of the picture.
    Picture,
    /// Switching it on or off.
    Switch,
}

/// The bus failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PanelError<E> {
    /// During what.
    pub doing: Doing,
    /// What the bus says; no acknowledge of the address means that no display is there.
    pub cause: E,
}

/// The display and what it is known to hold.
#[derive(Debug)]
pub struct Panel<I2C> {
    bus: I2C,
    address: u8,
    /// Pieces of the set-up that were sent.
    set_up: usize,
    contrast: Order<u8>,
    lit: Order<bool>,
    picture: Picture,
    errors: u32,
    /// After an error: when to try again.
    retry_at: Option<Instant>,
}

/// Something the display is told once: what is wanted, and what it was told last, if that is known.
#[derive(Clone, Copy, Debug)]
struct Order<T> {
    wanted: T,
    told: Option<T>,
}

/// One `poll`'s worth.
#[derive(Clone, Copy, Debug)]
enum Piece {
    Setup(&'static [u8]),
    Contrast(u8),
    /// Bytes of the picture, from the first to before the second; they lie in one page.
    Picture(usize, usize),
    Switch(bool),
}

impl<I2C: I2c> Panel<I2C> {
    /// A display of which nothing is known yet. It will be set up, filled with a dark picture and switched
    /// on.
    pub const fn new(bus: I2C, address: u8) -> Self {
        Self {
            bus,
            address,
            set_up: 0,
            contrast: Order { wanted: u8::MAX, told: None },
            lit: Order { wanted: true, told: None },
            picture: Picture::unknown(),
            errors: 0,
            retry_at: None,
        }
    }

    /// The picture that the display shall show from now on. What was not sent of an earlier one never is.
    pub fn show(&mut self, frame: &Frame) {
        self.picture.want(frame);
    }

    /// The picture that was last asked for, as the display will hold it.
    #[must_use]
    pub const fn wanted(&self) -> &[u8; Frame::BYTES] {
        self.picture.wanted.bytes()
    }

    /// How bright lit dots are, 255 the most. Even 0 is not dark.
    pub fn set_contrast(&mut self, contrast: u8) {
        self.contrast.wanted = contrast;
    }

    /// Switches the display's light on or off; its picture stays.
    pub fn set_lit(&mut self, lit: bool) {
        self.lit.wanted = lit;
    }

    /// Sets the display up and sends everything again, without flicker. Do this now and then: a display that
    /// lost its supply for a moment comes back by it.
    pub fn refresh(&mut self) {
        self.set_up = 0;
        self.contrast.told = None;
        self.lit.told = None;
        self.picture.forget();
    }

    /// Sends at most one piece; nothing when all is sent, or while it waits after an error.
    ///
    /// # Errors
    /// When the bus fails. The failure is counted, and everything will be sent again from the set-up on, 100
    /// ms later.
    pub fn poll(&mut self, at: Instant) -> Result<(), PanelError<I2C::Error>> {
        if self.retry_at.is_some_and(|retry| at < retry) {
            return Ok(());
        }
        self.retry_at = None;
        let Some(piece) = self.next_piece() else { return Ok(()) };
        match self.send(piece) {
            Ok(()) => {
                self.sent(piece);
                Ok(())
            }
            Err(cause) => {
                self.errors = self.errors.saturating_add(1);
                self.retry_at = Some(at.plus(RETRY_AFTER));
                self.refresh();
                Err(PanelError { doing: piece.doing(), cause })
            }
        }
    }

    /// When `poll` has something to do: `None` when all is sent, [`Instant::BOOT`] for at once.
    #[must_use]
    pub fn due(&self) -> Option<Instant> {
        self.next_piece().map(|_| self.retry_at.unwrap_or(Instant::BOOT))
    }

    /// True when the display holds and shows exactly what is wanted, as far as the bus can tell.
    #[must_use]
    pub fn is_settled(&self) -> bool {
        self.next_piece().is_none()
    }

    /// Failures of the bus so far.
    #[must_use]
    pub const fn errors(&self) -> u32 {
        self.errors
    }

    /// Gives the bus back.
    #[must_use]
    pub fn release(self) -> I2C {
        self.bus
    }

    /// Off at once; on only over a whole picture, since RAM is noise after power-on.
    fn next_piece(&self) -> Option<Piece> {
        if let Some(commands) = SETUP.get(self.set_up) {
            return Some(Piece::Setup(commands));
        }
        let switch = self.lit.open().map(Piece::Switch);
        let (first, last) = if self.lit.wanted { (None, switch) } else { (switch, None) };
        first
            .or_else(|| self.contrast.open().map(Piece::Contrast))
            .or_else(|| self.picture.next_piece().map(|(from, until)| Piece::Picture(from, until)))
            .or(last)
    }

    fn send(&mut self, piece: Piece) -> Result<(), I2C::Error> {
        match piece {
            Piece::Setup(commands) => self.command(commands),
            Piece::Contrast(contrast) => self.command(&[SET_CONTRAST, contrast]),
            Piece::Switch(lit) => self.command(&[if lit { SWITCH_ON } else { SWITCH_OFF }]),
            Piece::Picture(from, until) => {
                if self.picture.pointer != Some(from) {
                    self.command(&pointer_to(from))?;
                }
                let (bus, address) = (&mut self.bus, self.address);
                write(bus, address, DATA, self.picture.wanted(from, until))
            }
        }
    }

    fn command(&mut self, commands: &[u8]) -> Result<(), I2C::Error> {
        write(&mut self.bus, self.address, COMMANDS, commands)
    }

    fn sent(&mut self, piece: Piece) {
        match piece {
            Piece::Setup(_) => self.set_up = self.set_up.saturating_add(1),
            Piece::Contrast(contrast) => self.contrast.told = Some(contrast),
            Piece::Switch(lit) => self.lit.told = Some(lit),
            Piece::Picture(from, until) => self.picture.sent(from, until),
        }
    }
}

impl Piece {
    const fn doing(self) -> Doing {
        match self {
            Self::Setup(_) => Doing::Setup,
            Self::Contrast(_) => Doing::Contrast,
            Self::Picture(..) => Doing::Picture,
            Self::Switch(_) => Doing::Switch,
        }
    }
}

impl<T: Copy + PartialEq> Order<T> {
    /// What the display must still be told.
    fn open(&self) -> Option<T> {
        (self.told != Some(self.wanted)).then_some(self.wanted)
    }
}

/// One write: the control byte, then `content`.
fn write<I2C: I2c>(bus: &mut I2C, address: u8, control: u8, content: &[u8]) -> Result<(), I2C::Error> {
    let mut message: heapless::Vec<u8, PIECE> = heapless::Vec::new();
    // Content fits by the sizes above, and the tests compare every byte: what did not fit would be left out.
    let _ = message.push(control);
    let _ = message.extend_from_slice(content);
    bus.write(address, &message)
}

/// The three commands that move the display's pointer to a byte of the picture: page, low and high half of
/// the column.
const fn pointer_to(byte: usize) -> [u8; 3] {
    let (page, column) = ((byte / Frame::WIDTH) as u8, (byte % Frame::WIDTH) as u8);
    [0xB0 | page & 0x07, column & 0x0F, 0x10 | column >> 4]
}

/// The picture wanted, the picture held, and how far the comparison has come.
#[derive(Debug)]
struct Picture {
    wanted: Frame,
    held: [u8; Frame::BYTES],
    /// So many bytes from the front are held for certain; of the others nothing is known.
    known: usize,
    /// The next byte to look at; unless all are looked at, it is one that must be sent.
    next: usize,
    /// Bytes from `next` on, round the end, that were not looked at since the picture changed.
    unseen: usize,
    /// Where the display will put the next byte, when that is known.
    pointer: Option<usize>,
}

impl Picture {
    const fn unknown() -> Self {
        let held = [0; Frame::BYTES];
        Self { wanted: Frame::new(), held, known: 0, next: 0, unseen: Frame::BYTES, pointer: None }
    }

    fn forget(&mut self) {
        self.known = 0;
        self.next = 0;
        self.unseen = Frame::BYTES;
        self.pointer = None;
    }

    fn want(&mut self, frame: &Frame) {
        self.wanted.clone_from(frame);
        self.unseen = Frame::BYTES;
        self.seek();
    }

    fn wanted(&self, from: usize, until: usize) -> &[u8] {
        self.wanted.bytes().get(from..until).unwrap_or_default()
    }

    /// True when the display may hold another byte there than the one wanted.
    fn is_stale(&self, byte: usize) -> bool {
        byte >= self.known || self.held.get(byte) != self.wanted.bytes().get(byte)
    }

    /// Moves on to the next byte that must be sent.
    fn seek(&mut self) {
        while self.unseen > 0 && !self.is_stale(self.next) {
            self.next = self.next.wrapping_add(1) % Frame::BYTES;
            self.unseen = self.unseen.saturating_sub(1);
        }
    }

    /// From the next stale byte as far as a piece reaches, to the last stale one in there.
    fn next_piece(&self) -> Option<(usize, usize)> {
        if self.unseen == 0 {
            return None;
        }
        let from = self.next;
        let room = if self.pointer == Some(from) { PIECE - ENVELOPE } else { PIECE - ENVELOPE - MOVE };
        let end_of_page = (from / Frame::WIDTH).saturating_add(1).saturating_mul(Frame::WIDTH);
        let reach = from.saturating_add(room).min(end_of_page);
        let last = (from..reach).rev().find(|byte| self.is_stale(*byte)).unwrap_or(from);
        Some((from, last.saturating_add(1)))
    }

    fn sent(&mut self, from: usize, until: usize) {
        for (held, wanted) in self.held.iter_mut().zip(self.wanted.bytes()).take(until).skip(from) {
            *held = *wanted;
        }
        if from <= self.known {
            self.known = self.known.max(until);
        }
        // At the end of a page the display's pointer goes back to the page's start, where nothing waits.
        self.pointer = (!until.is_multiple_of(Frame::WIDTH)).then_some(until);
        self.next = until % Frame::BYTES;
        self.unseen = self.unseen.saturating_sub(until.saturating_sub(from));
        self.seek();
    }
}

#[cfg(test)]
mod tests;
