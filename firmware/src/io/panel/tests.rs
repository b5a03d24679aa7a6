//! The panel against a display that decodes its bytes, loses its bus and loses its supply.

use std::rc::Rc;
use std::vec::Vec;
use std::{cell::RefCell, vec};

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::Point;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_hal::i2c::{ErrorKind, ErrorType, NoAcknowledgeSource, Operation};
use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
use proptest::prelude::*;

use super::*;

/// Pieces that any picture may take: set-up, contrast, ten pieces a page (14 bytes and a move), the switch.
const POLLS_MAX: usize = SETUP.len() + 1 + 8 * 10 + 1;

/// A display that understands the page addressing of an SSD1306, and nothing it is not told in the data
/// sheet's command table (from memory). Stricter than the chip: an unknown command is a failed test.
struct Display {
    ram: [u8; Frame::BYTES],
    page: usize,
    column: usize,
    page_mode: bool,
    on: bool,
    contrast: u8,
    /// A command that waits for its parameter.
    pending: Option<u8>,
    /// The bus fails after so many bytes from now.
    fails_after: Option<usize>,
    /// Bytes on the bus in the present poll, addresses included.
    bytes: usize,
}

impl Display {
    fn new() -> Self {
        Self {
            ram: [0x5A; Frame::BYTES],
            page: 3,
            column: 77,
            page_mode: false,
            on: false,
            contrast: 0x7F,
            pending: None,
            fails_after: None,
            bytes: 0,
        }
    }

    fn command(&mut self, byte: u8) {
        if let Some(command) = self.pending.take() {
            match command {
                0x81 => self.contrast = byte,
                0x20 => self.page_mode = byte == 0x02,
                _ => {}
            }
            return;
        }
        match byte {
            0x00..=0x0F => self.column = self.column & 0xF0 | usize::from(byte),
            0x10..=0x17 => self.column = self.column & 0x0F | usize::from(byte & 7) << 4,
            0xB0..=0xB7 => self.page = usize::from(byte & 7),
            0x20 | 0x81 | 0x8D | 0xA8 | 0xD3 | 0xD5 | 0xD9 | 0xDA | 0xDB => self.pending = Some(byte),
            0x2E | 0x40 | 0xA1 | 0xA4 | 0xA6 | 0xC8 | 0xE3 => {}
            0xAE => self.on = false,
            0xAF => self.on = true,
            _ => panic!("no such command: {byte:#04x}"),
        }
    }

    fn data(&mut self, byte: u8) {
        assert!(self.page_mode, "data before the set-up");
        self.ram[self.page * Frame::WIDTH + self.column] = byte;
        self.column = (self.column + 1) % Frame::WIDTH;
    }

    /// A byte passes, unless the bus fails here.
    fn count(&mut self) -> Result<(), ErrorKind> {
        self.bytes += 1;
        match self.fails_after.as_mut() {
            Some(0) => {
                self.fails_after = None;
                Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown))
            }
            Some(left) => {
                *left -= 1;
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn message(&mut self, message: &[u8]) -> Result<(), ErrorKind> {
        self.count()?;
        for (place, byte) in message.iter().enumerate() {
            self.count()?;
            match (place, message[0]) {
                (0, control) => assert!(control == COMMANDS || control == DATA),
                (_, COMMANDS) => self.command(*byte),
                _ => self.data(*byte),
            }
        }
        Ok(())
    }
}

/// The bus to a display that the test can also look at.
#[derive(Clone)]
struct Wire(Rc<RefCell<Display>>);

impl ErrorType for Wire {
    type Error = ErrorKind;
}

impl I2c for Wire {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        assert_eq!(address, ADDRESS);
        for operation in operations {
            match operation {
                Operation::Write(message) => self.0.borrow_mut().message(message)?,
                Operation::Read(_) => panic!("the panel never reads"),
            }
        }
        Ok(())
    }
}

/// A panel on such a display, and a clock that jumps to when the panel wants to be polled.
struct Bench {
    display: Rc<RefCell<Display>>,
    panel: Panel<Wire>,
    now: Instant,
}

impl Bench {
    fn new() -> Self {
        let display = Rc::new(RefCell::new(Display::new()));
        let panel = Panel::new(Wire(display.clone()), ADDRESS);
        Self { display, panel, now: Instant::BOOT }
    }

    /// One poll; says whether the bus held.
    fn poll(&mut self) -> bool {
        self.display.borrow_mut().bytes = 0;
        self.now = self.now.max(self.panel.due().unwrap_or(Instant::BOOT));
        let held = self.panel.poll(self.now).is_ok();
        assert!(self.display.borrow().bytes <= PIECE, "a piece too long for half a millisecond");
        held
    }

    /// Polls until settled; says how often.
    fn settle(&mut self) -> usize {
        (0..1_000).find(|_| self.panel.is_settled() || !self.poll()).unwrap()
    }

    fn shows(&self, frame: &Frame) -> bool {
        let display = self.display.borrow();
        display.on && display.ram == *frame.bytes()
    }
}

fn lit(pixels: impl IntoIterator<Item = (i32, i32)>) -> Frame {
    let mut frame = Frame::new();
    frame.draw_iter(pixels.into_iter().map(|(x, y)| Pixel(Point::new(x, y), BinaryColor::On))).unwrap();
    frame
}

/// Noise, a few dots, and a change of whole columns: what differs in a picture comes in all lengths.
fn any_frame() -> impl Strategy<Value = Frame> {
    let dots = |most| proptest::collection::vec((0..128_i32, 0..64_i32), 0..most).prop_map(lit);
    let columns = (0..128_i32, 0..128_i32)
        .prop_map(|(from, until)| lit((from..until).flat_map(|x| (0..64).map(move |y| (x, y)))));
    prop_oneof![dots(8), dots(2_000), columns]
}

proptest! {
    /// Pictures in sequence, polls in between, and a bus that fails in the middle of a piece now and then.
    #[test]
    fn after_enough_polls_the_display_holds_the_last_picture_whatever_failed(
        steps in proptest::collection::vec((any_frame(), 0_usize..40, proptest::option::of(0_usize..400)), 1..6),
    ) {
        let mut bench = Bench::new();
        let mut failures = 0;
        for (frame, polls, fails_after) in &steps {
            bench.panel.show(frame);
            if fails_after.is_some() {
                bench.display.borrow_mut().fails_after = *fails_after;
            }
            failures += (0..*polls).filter(|_| !bench.poll()).count();
        }
        let last = &steps.last().unwrap().0;
        failures += (0..2 * POLLS_MAX).filter(|_| !bench.poll()).count();
        prop_assert!(bench.panel.is_settled());
        prop_assert!(bench.shows(last));
        prop_assert_eq!(bench.panel.errors() as usize, failures);
    }

    #[test]
    fn any_picture_is_whole_after_a_bounded_number_of_polls(first in any_frame(), second in any_frame()) {
        let mut bench = Bench::new();
        for frame in [&first, &second] {
            bench.panel.show(frame);
            prop_assert!(bench.settle() <= POLLS_MAX);
            prop_assert!(bench.shows(frame));
        }
    }

    #[test]
    fn settled_means_that_the_displays_ram_is_the_picture(
        frames in proptest::collection::vec((any_frame(), 0_usize..90), 1..6),
    ) {
        let mut bench = Bench::new();
        for (frame, polls) in &frames {
            bench.panel.show(frame);
            for _ in 0..*polls {
                bench.poll();
                prop_assert!(!bench.panel.is_settled() || bench.shows(frame));
            }
        }
    }
}

#[test]
fn the_first_bytes_are_the_set_up_of_the_data_sheet() {
    // SSD1306 data sheet, application example and command table; from memory.
    let first = vec![0x00, 0xE3, 0xE3, 0xA8, 0x3F, 0xD3, 0x00, 0x40, 0xA1, 0xC8, 0xDA, 0x12, 0x20, 0x02];
    let second = vec![0x00, 0xD5, 0x80, 0xD9, 0xF1, 0xDB, 0x20, 0x8D, 0x14, 0x2E, 0xA4, 0xA6];
    let data = vec![0x40; 1].into_iter().chain([0x01]).chain([0; 13]).collect();
    let mut bus = Mock::new(&[
        Transaction::write(ADDRESS, first),
        Transaction::write(ADDRESS, second),
        Transaction::write(ADDRESS, vec![0x00, 0x81, 0xFF]),
        Transaction::write(ADDRESS, vec![0x00, 0xB0, 0x00, 0x10]),
        Transaction::write(ADDRESS, data),
    ]);
    let mut panel = Panel::new(bus.clone(), ADDRESS);
    panel.show(&lit([(0, 0)]));
    for _ in 0..4 {
        panel.poll(Instant::BOOT).unwrap();
    }
    bus.done();
}

#[test]
fn one_dot_is_one_byte_and_the_display_is_told_where() {
    let mut bus = Mock::new(&[]);
    let mut panel = Panel::new(bus.clone(), ADDRESS);
    panel.set_up = SETUP.len();
    panel.contrast.told = Some(0xFF);
    panel.lit.told = Some(true);
    panel.picture.known = Frame::BYTES;
    panel.picture.unseen = 0;
    assert!(panel.is_settled());
    // Page 2, column 0x47: the dot at (71, 19) is bit 3 of that byte.
    bus.update_expectations(&[
        Transaction::write(ADDRESS, vec![0x00, 0xB2, 0x07, 0x14]),
        Transaction::write(ADDRESS, vec![0x40, 0b0000_1000]),
    ]);
    panel.show(&lit([(71, 19)]));
    assert_eq!(panel.due(), Some(Instant::BOOT));
    panel.poll(Instant::BOOT).unwrap();
    assert!(panel.is_settled());
    bus.done();
}

#[test]
fn a_display_that_is_not_there_is_tried_ten_times_a_second_and_no_more() {
    let absent = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
    let setup = || {
        let message = [COMMANDS].iter().chain(SETUP[0]).copied().collect();
        Transaction::write(ADDRESS, message).with_error(absent)
    };
    let mut bus = Mock::new(&[setup(), setup()]);
    let mut panel = Panel::new(bus.clone(), ADDRESS);
    let at = |ms| Instant::BOOT.plus(Span::from_millis(ms));
    assert_eq!(panel.poll(at(0)), Err(PanelError { doing: Doing::Setup, cause: absent }));
    assert_eq!(panel.due(), Some(at(100)));
    for ms in 1..100 {
        assert_eq!(panel.poll(at(ms)), Ok(()));
    }
    assert!(panel.poll(at(100)).is_err());
    assert_eq!(panel.errors(), 2);
    bus.done();
}

#[test]
fn the_light_stays_off_until_the_first_picture_is_whole() {
    let mut bench = Bench::new();
    bench.panel.show(&lit([(5, 5), (120, 60)]));
    while !bench.panel.is_settled() {
        assert!(!bench.display.borrow().on);
        bench.poll();
    }
    assert!(bench.display.borrow().on);
}

#[test]
fn off_comes_before_everything_else_and_keeps_the_picture() {
    let mut bench = Bench::new();
    let frame = lit((0..64).map(|y| (y, y)));
    bench.panel.show(&frame);
    bench.settle();
    bench.panel.show(&Frame::new());
    bench.panel.set_lit(false);
    bench.poll();
    assert!(!bench.display.borrow().on);
    assert_eq!(bench.display.borrow().ram, *frame.bytes());
}

#[test]
fn contrast_goes_out_before_the_rest_of_the_picture() {
    let mut bench = Bench::new();
    bench.settle();
    bench.panel.show(&lit([(0, 0)]));
    bench.panel.set_contrast(0x10);
    bench.poll();
    assert_eq!(bench.display.borrow().contrast, 0x10);
}

#[test]
fn a_display_that_lost_its_supply_comes_back_by_a_refresh() {
    let mut bench = Bench::new();
    let frame = lit([(64, 32)]);
    bench.panel.show(&frame);
    bench.settle();
    *bench.display.borrow_mut() = Display::new();
    assert!(bench.panel.is_settled() && !bench.shows(&frame), "nothing on the bus tells");
    bench.panel.refresh();
    bench.settle();
    assert!(bench.shows(&frame));
}

#[test]
fn a_refresh_does_not_darken_a_display_that_is_well() {
    let mut bench = Bench::new();
    let frame = lit([(1, 1)]);
    bench.panel.show(&frame);
    bench.settle();
    bench.panel.refresh();
    while !bench.panel.is_settled() {
        assert!(bench.shows(&frame));
        bench.poll();
    }
}

#[test]
fn a_picture_that_changes_at_every_poll_leaves_no_part_of_the_display_behind() {
    let mut bench = Bench::new();
    bench.settle();
    // The upper left corner changes every time; the lower right one is wanted all the while.
    let frames: Vec<Frame> = (0..8).map(|y| lit([(0, y), (127, 63)])).collect();
    for frame in frames.iter().cycle().take(POLLS_MAX) {
        bench.panel.show(frame);
        bench.poll();
    }
    assert_eq!(bench.display.borrow().ram[Frame::BYTES - 1], 0x80);
}
