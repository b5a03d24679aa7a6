//! What the program says when it can go on no more, and why it started.
//!
//! A panic or a fault of the processor is written into RAM that no start clears, and the rest is left to the
//! watchdog: it bites at a known time after its last kick, whatever went wrong, so the next start knows how long the
//! clock stood. The next start takes the words out and shows them.
//!
//! Knows the watchdog's registers. A reason out.

use core::fmt::{self, Write};
use core::panic::PanicInfo;
use core::ptr::addr_of_mut;

use cortex_m_rt::{ExceptionFrame, exception};
use firmware::screen::LAST_WORDS_MAX;
use firmware::talk::Restart;
use rp2040_hal::pac;

/// The most bytes of a message that are kept: what the display has room for.
const KEPT: usize = LAST_WORDS_MAX;

/// What stands in the RAM when there are words: no noise that RAM holds after power-on is likely to say this.
const WRITTEN: u32 = 0x4755_4E4C;

/// Words in RAM that no start clears.
#[repr(C)]
struct Words {
    written: u32,
    length: usize,
    bytes: [u8; KEPT],
}

// Never initialised: whatever bits stand there are a number and bytes.
#[unsafe(link_section = ".uninit.last_words")]
static mut WORDS: core::mem::MaybeUninit<Words> = core::mem::MaybeUninit::uninit();

/// What the program said before it stopped itself; empty when it did not.
pub type LastWords = heapless::String<KEPT>;

/// Why the program started.
pub struct Start {
    /// The reason.
    pub restart: Restart,
    /// The last words, if it stopped itself.
    pub words: LastWords,
}

/// Finds out why the program started, and takes the words out. To be called once, first thing.
pub fn read(watchdog: &pac::WATCHDOG) -> Start {
    let reason = watchdog.reason().read();
    let by_watchdog = reason.timer().bit_is_set() || reason.force().bit_is_set();
    let place = addr_of_mut!(WORDS).cast::<Words>();
    // SAFETY: nobody else touches the words while this runs: handlers and panics come later. All fields are integers,
    // for which any bits will do; they are read and wiped as they stand, whatever the compiler believes of them.
    let words = unsafe {
        let words = place.read_volatile();
        addr_of_mut!((*place).written).write_volatile(0);
        words
    };
    let is_whole = by_watchdog && words.written == WRITTEN;
    let bytes = words.bytes.get(..words.length).filter(|_| is_whole).unwrap_or_default();
    let said = core::str::from_utf8(bytes).ok().and_then(|said| LastWords::try_from(said).ok());
    let restart = match (by_watchdog, is_whole) {
        (false, _) => Restart::Power,
        (true, false) => Restart::Watchdog,
        (true, true) => Restart::Panic,
    };
    Start { restart, words: said.unwrap_or_default() }
}

impl Write for Words {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for byte in text.bytes() {
            let Some(place) = self.bytes.get_mut(self.length) else { return Ok(()) };
            *place = byte;
            self.length += 1;
        }
        Ok(())
    }
}

/// Writes the words down, and waits for the watchdog.
pub fn say(words: fmt::Arguments<'_>) -> ! {
    cortex_m::interrupt::disable();
    // SAFETY: interrupts are off and this never returns: nobody else touches the words.
    let place = unsafe { (*addr_of_mut!(WORDS)).write(Words { written: 0, length: 0, bytes: [0; KEPT] }) };
    let _ = place.write_fmt(words);
    place.written = WRITTEN;
    loop {
        cortex_m::asm::nop();
    }
}

#[panic_handler]
fn panic(info: &PanicInfo<'_>) -> ! {
    match info.location() {
        Some(place) => {
            // The end of the path names the file; what stands before it names the machine it was built on.
            let path = place.file();
            let slash = path.bytes().rposition(|byte| byte == b'/');
            let file = slash.and_then(|slash| path.get(slash..)).unwrap_or(path);
            say(format_args!("{file} {}: {}", place.line(), info.message()))
        }
        None => say(format_args!("{}", info.message())),
    }
}

#[exception]
unsafe fn HardFault(frame: &ExceptionFrame) -> ! {
    say(format_args!("fault at {:08x} from {:08x}", frame.pc(), frame.lr()))
}
