//! The watchdog: kicked once a turn, and told what a fresh start must know if it bites.
//!
//! Knows the watchdog's registers and what is carried through a restart. A kick in, eight words out.

use firmware::resume::{CarriedZero, SCRATCH_WORDS, Scratch};
use firmware::units::{Instant, Span};
use rp2040_hal::fugit::MicrosDurationU32;
use rp2040_hal::watchdog::{ScratchRegister, Watchdog};

/// It bites so long after its last kick: several times the longest turn of the loop, and little enough that a restart
/// shows the clock again within half a second.
const PERIOD_US: u32 = 100_000;

/// While the board is brought up it is given longer: the storage chip may have to finish an erase of 0.4 s.
const BRING_UP_US: u32 = 2_000_000;

/// To lay two lanes anew takes a third of that on the emulated chip, and more where flash is slow. Then it bites after this.
const LANES_US: u32 = 1_000_000;

/// From the bite to the beginning of the board's counter: the boot ROM, the crystal, the first lines of `main`
/// (estimated, not measured on a board). How far that may be off is known to the library.
const START_US: i64 = 3_000;

/// From the last kick to the beginning of the board's counter.
pub const GAP: Span = Span::from_micros(PERIOD_US as i64 + START_US);

const REGISTERS: [ScratchRegister; SCRATCH_WORDS] = [
    ScratchRegister::Scratch0,
    ScratchRegister::Scratch1,
    ScratchRegister::Scratch2,
    ScratchRegister::Scratch3,
    ScratchRegister::Scratch4,
    ScratchRegister::Scratch5,
    ScratchRegister::Scratch6,
    ScratchRegister::Scratch7,
];

/// It is kicked no more often than this: the words and their check sum take 2,000 cycles.
const KICK_EVERY: Span = Span::from_millis(10);

/// The watchdog.
pub struct Keeper {
    watchdog: Watchdog,
    /// The next kick, and the zero that the words tell of.
    due: Instant,
    told: Option<CarriedZero>,
}

impl Keeper {
    /// Reads what the program before this one left, and wipes it: it is true for one start only.
    pub fn new(mut watchdog: Watchdog) -> (Self, Option<Scratch>) {
        let words = REGISTERS.map(|register| watchdog.read_scratch(register));
        REGISTERS.into_iter().for_each(|register| watchdog.write_scratch(register, 0));
        watchdog.start(MicrosDurationU32::micros(BRING_UP_US));
        (Self { watchdog, due: Instant::BOOT, told: None }, Scratch::from_words(&words))
    }

    /// The board is up: from now on every turn counts.
    pub fn begin(&mut self) {
        self.watchdog.start(MicrosDurationU32::micros(PERIOD_US));
    }

    /// The dash is about to take a boat over, which takes longer than any turn; no clock runs. Ends with [`Keeper::begin`].
    pub fn be_patient(&mut self) {
        self.watchdog.start(MicrosDurationU32::micros(LANES_US));
    }

    /// All is well at `now`. A zero that has moved is told at once. What is written first belongs to the kick that follows within microseconds.
    pub fn kick(&mut self, now: Instant, zero: Option<CarriedZero>) {
        if now < self.due && zero == self.told {
            return;
        }
        (self.due, self.told) = (now.plus(KICK_EVERY), zero);
        let words = Scratch { kicked: now, zero }.to_words();
        for (register, word) in REGISTERS.into_iter().zip(words) {
            self.watchdog.write_scratch(register, word);
        }
        self.watchdog.feed();
    }
}
