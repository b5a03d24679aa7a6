//! The only door to the dash on this board: what goes in is recorded, and what comes out is heard.
//!
//! Between two events the dash's own moments come due exactly when they were due, whenever the loop gets to them: so
//! a busy loop changes no decision, and the simulator decides the same.
//!
//! Knows the dash, the beeper and the journal. Stamped inputs in; decisions to journal, beeper and log.

use core::mem::MaybeUninit;

use embedded_hal::spi::SpiDevice;
use firmware::bench::Bench;
use firmware::dash::Dash;
use firmware::engine::Engine;
use firmware::engine::suffered::Accounts;
use firmware::input::Input;
use firmware::io::sounder::Sounder;
use firmware::output::{Output, Outputs, Refused};
use firmware::resume::CarriedZero;
use firmware::settings::Settings;
use firmware::talk::Scheduled;
use firmware::units::{Instant, Utc};

use crate::clock::Clock;
use crate::log;
use crate::stacks;
use crate::stamps::N2_TURNS;
use crate::store::{Kept, Store};

/// The dash and those that hear of each decision.
pub struct Door<SPI: 'static> {
    /// The dash. It is fed here and nowhere else.
    pub dash: &'static mut Dash,
    /// The chip with settings and journal.
    pub store: &'static mut Store<SPI>,
    /// The beeper's tones.
    pub sounder: Sounder,
    /// Inputs since this dash began.
    pub inputs: u32,
    /// Zero as a fresh dash would have to know it.
    pub zero: Option<CarriedZero>,
    /// Something was decided since it was last asked: see [`Door::news`].
    is_news: bool,
    /// The boat in force, as far as the chip knows it.
    boat: Boat,
    /// The bench. While the board is on it, the dash is the host's: neither journal nor chip hear of it.
    pub bench: &'static mut Bench,
    /// What the engine had suffered when the board went on the bench.
    suffered: Option<Accounts>,
    /// An accepted boat was not on the chip yet when the board went on the bench.
    boat_waited: bool,
    clock: Clock,
}

/// Whether the chip holds the boat that the dash runs on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Boat {
    /// It does, or nobody has asked for that.
    Kept,
    /// The driver has accepted what hot laps have taught (rule G15), and the settings with it wait for the chip.
    Waits,
    /// They are on their way.
    OnItsWay,
}

impl<SPI: SpiDevice> Door<SPI> {
    /// The door to a fresh dash; its journal begins.
    pub fn new(
        dash: &'static mut Dash,
        store: &'static mut Store<SPI>,
        bench: &'static mut Bench,
        clock: Clock,
    ) -> Self {
        store.open(dash.settings());
        let (sounder, boat) = (Sounder::new(), Boat::Kept);
        let (inputs, zero, is_news, suffered, boat_waited) = (0, None, true, None, false);
        Self { dash, store, sounder, inputs, zero, is_news, boat, bench, suffered, boat_waited, clock }
    }

    /// A fresh dash on other settings takes the old one's place.
    pub fn begin_anew(&mut self, at: Instant, settings: &Settings) {
        let suffered = if self.bench.is_on() { self.suffered.take() } else { self.dash.accounts().copied() };
        self.bench.end();
        self.put(settings);
        if core::mem::replace(&mut self.boat_waited, false) {
            self.boat = Boat::Waits;
        }
        self.store.open(settings);
        if let Some(accounts) = suffered {
            self.take(at, Input::Suffered(accounts));
        }
    }

    /// The board goes on the bench: a fresh dash on these settings, which nobody but the host feeds (rule B1).
    pub fn enter_bench(&mut self, at: Instant, settings: &Settings) {
        if !self.bench.is_on() {
            self.suffered = self.dash.accounts().copied();
            self.boat_waited = self.boat != Boat::Kept;
        }
        // Its record ends here; the next dash's goes on from it.
        self.store.flush(at);
        self.put(settings);
        self.bench.begin(at);
    }

    /// A fresh dash in the old one's place.
    fn put(&mut self, settings: &Settings) {
        // SAFETY: `begin` leaves a dash where it found one, and nobody else looks meanwhile.
        let room = unsafe { &mut *core::ptr::from_mut::<Dash>(self.dash).cast::<MaybeUninit<Dash>>() };
        begin(room, settings);
        (self.inputs, self.zero, self.is_news, self.boat) = (0, None, true, Boat::Kept);
        self.sounder = Sounder::new();
    }

    /// Takes an input, after everything of the dash's own that was due before it.
    pub fn take(&mut self, at: Instant, input: Input) {
        self.pass(at);
        let _ = self.feed(at, input);
    }

    /// Takes an input from a host, and says what the dash has against it.
    #[inline(never)]
    pub fn ask(&mut self, at: Instant, input: Input) -> Option<Refused> {
        self.pass(at);
        self.feed(at, input)
    }

    /// Feeds what a host has sent to the bench and is due.
    #[inline(never)]
    pub fn feed_bench(&mut self, now: Instant) {
        while let Some((at, input)) = self.bench.due(now) {
            self.pass(at);
            let late = self.clock.now().since(at);
            let _ = self.feed(at, input);
            self.bench.fed(late);
        }
    }

    /// Takes a schedule, and says what the dash made of it.
    pub fn schedule(&mut self, at: Instant, zero: Utc) -> Scheduled {
        self.pass(at);
        match self.feed(at, Input::Schedule { zero }) {
            Some(why) => Scheduled::from_decisions(&[Output::Refused(why)]),
            None => Scheduled::Set,
        }
    }

    /// Lets time pass: wakes the dash at each moment for which it asked, up to `now`.
    pub fn pass(&mut self, now: Instant) {
        while let Some(wake) = self.dash.next_wake().filter(|wake| *wake <= now) {
            let _ = self.feed(wake, Input::Tick);
        }
    }

    /// Whether a start clock runs, or one of before a restart is still being looked for.
    pub fn clock_runs(&self, now: Instant) -> bool {
        !self.bench.is_on() && (self.dash.race_time(now).is_some() || self.zero.is_some())
    }

    /// Whether a host may change what the clock runs on: none runs, is being looked for or waits for UTC.
    pub fn is_free(&self, now: Instant) -> bool {
        !self.clock_runs(now) && (self.bench.is_on() || self.dash.is_idle())
    }

    /// Whether the chip may be erased: not while a clock runs. A boat that was accepted after a finish need not wait until
    /// the clock is cleared, though: who switches off then would lose it.
    pub fn may_erase(&self, now: Instant) -> bool {
        !self.clock_runs(now) || (self.boat != Boat::Kept && self.dash.may_offer(now))
    }

    /// Gives the settings with an accepted boat to the chip, which may be busy: then at another turn.
    #[inline(never)]
    pub fn keep_boat(&mut self, buffer: &mut [u8; Settings::ENCODED_MAX]) {
        if self.boat == Boat::Waits && self.store.keep(self.dash.settings().encode(buffer)).is_ok() {
            self.boat = Boat::OnItsWay;
        }
    }

    /// What became of settings on their way to the chip: true if they were the dash's own, for the sake of a boat. A chip
    /// that does not take them is not asked again: they are in force and in the record all the same.
    pub fn is_boat_s(&mut self, kept: Option<&Kept>) -> bool {
        let is_ours = self.boat == Boat::OnItsWay && kept.is_some();
        if is_ours {
            self.boat = Boat::Kept;
        }
        is_ours
    }

    /// How many probes the settings name.
    pub fn fitted(&self) -> u8 {
        self.dash.settings().engine.probes
    }

    /// Whether something was decided since the last call.
    pub const fn news(&mut self) -> bool {
        core::mem::replace(&mut self.is_news, false)
    }

    /// Feeds the dash, and says what it has against that.
    ///
    /// Not inlined: the list of decisions is long, and should lie on the stack only while it is needed.
    #[inline(never)]
    fn feed(&mut self, at: Instant, input: Input) -> Option<Refused> {
        let mut decided = Outputs::default();
        // Lanes may be laid anew then, which takes the deep stack.
        let takes_over = input == Input::Offer { accept: true };
        if takes_over || self.dash.accept_due().is_some_and(|due| due <= at) {
            stacks::lend(&mut (&mut *self.dash, at, input, &mut decided), feed_deep);
        } else {
            gunline_feed(self.dash, at, input, &mut decided);
        }
        self.inputs = self.inputs.saturating_add(1);
        if self.bench.is_on() {
            let late = self.clock.now().since(at);
            decided.as_slice().iter().for_each(|output| self.bench.decided(at, late, *output));
        } else {
            self.record(at, &input, &decided);
        }
        decided.as_slice().iter().for_each(|output| self.sounder.hear(at, output));
        decided.as_slice().iter().for_each(|output| log::decided(at, output));
        self.is_news |= !decided.as_slice().is_empty();
        decided.as_slice().iter().find_map(|output| match output {
            Output::Refused(why) => Some(*why),
            _ => None,
        })
    }

    #[inline(never)]
    fn record(&mut self, at: Instant, input: &Input, decided: &Outputs) {
        let carried = self.dash.carried(at);
        self.zero = carried.and_then(|carried| carried.zero());
        self.store.record(at, input, decided, carried);
        self.store.suffered(self.dash.accounts());
        if decided.as_slice().iter().any(|output| matches!(output, Output::Learned { accepted: true, .. })) {
            self.boat = Boat::Waits;
        }
    }
}

/// The feed's four words, for a call through one.
type Fed<'a> = (&'a mut Dash, Instant, Input, &'a mut Outputs);

extern "C" fn feed_deep(fed: &mut Fed<'_>) {
    gunline_feed(fed.0, fed.1, fed.2, fed.3);
}

/// Makes a dash in its room. It is the largest thing on this board: what this needs of the stack is the most that is
/// ever needed, so it is called from near the stack's beginning, and from nowhere else.
#[inline(never)]
pub fn begin<'a>(room: &'a mut MaybeUninit<Dash>, settings: &Settings) -> &'a mut Dash {
    N2_TURNS.look_out(&Engine::watched(&settings.engine));
    Dash::new_in(room, settings)
}

/// The dash's `feed`, with a name and a place of its own, so that the emulator can count its cycles.
#[unsafe(no_mangle)]
#[inline(never)]
fn gunline_feed(dash: &mut Dash, at: Instant, input: Input, out: &mut Outputs) {
    dash.feed_into(at, input, out);
}
