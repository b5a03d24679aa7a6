//! One turn of the loop: what happened, what follows, what is shown, what is kept, in this order.
//!
//! A turn takes the queued events in the order of their stamps, reads the sensors whose time has come, lets time pass
//! for the dash, and then does a short piece of each other duty. It ends by saying how long the processor may sleep.
//! No piece waits for anything, so a turn takes some milliseconds at the most: while a picture is drawn.
//!
//! Knows every part of the board. Events in; light, sound, pictures and records out.

use core::mem::MaybeUninit;

use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;
use firmware::alerts::cues::Pitch;
use firmware::engine::PROBES_MAX;
use firmware::input::{Input, Line};
use firmware::io::brightness::{Brightness, PageButton, PagePress};
use firmware::io::lamps::{Lamps, Lit};
use firmware::journal::firmware_version;
use firmware::screen;
use firmware::settings::Settings;
use firmware::shelf::BYTES_MAX;
use firmware::talk::{Check, PROTOCOL, Readings, Restart, SelfTest, SettingsFrom, Standing, Turning};
use firmware::units::{Instant, Span};

use crate::clock::Clock;
use crate::door::Door;
use crate::host::Host;
use crate::keeper::Keeper;
use crate::pins::{ACKNOWLEDGE, BUTTON, GUN_CONTACT, IGNITER, PPS, START_FUEL, STARTER_HIGH, STARTER_LOW};
use crate::program::Digest;
use crate::sensors::{self, Sensors};
use crate::show::Show;
use crate::signs::Signs;
use crate::stamps::{self, Edge, Event, N1_SHAFT, N2_SHAFT, N2_TURNS, Stamps};
use crate::store::Kept;

/// The longest sleep: the watchdog is kicked at least this often, and the Pico's own light blinks with it.
const LONGEST_SLEEP: Span = Span::from_millis(50);

/// Half a blink of the Pico's own light.
const BEAT: u64 = 500_000;

/// All of the board that the loop turns.
pub struct Wheel<SPI: 'static, BUS: 'static> {
    /// Edges and bytes, as they came.
    pub stamps: Stamps,
    /// What is measured.
    pub sensors: &'static mut Sensors,
    /// The dash, the journal and the beeper's tones.
    pub door: Door<SPI>,
    /// The display.
    pub show: Show<BUS>,
    /// Lamps and beeper.
    pub signs: Signs,
    /// The line to a host.
    pub host: Host,
    /// The watchdog.
    pub keeper: Keeper,
    /// The board's clock.
    pub clock: Clock,
    /// For settings on their way to or from the chip.
    pub buffer: &'static mut [u8; BYTES_MAX],
    /// What the loop itself remembers.
    pub own: Own,
}

/// What the loop itself remembers from turn to turn.
pub struct Own {
    lamps: Lamps,
    page_button: PageButton,
    brightness: Brightness,
    pulse: Check,
    /// When the last pulse per second came.
    pulsed: Option<Instant>,
    program: Digest,
    restart: Restart,
}

impl Own {
    /// A loop that has not turned yet, after a start for this reason.
    pub fn new(restart: Restart, quiet: Span) -> Self {
        Self {
            lamps: Lamps::new(),
            page_button: PageButton::new(quiet),
            brightness: Brightness::default(),
            pulse: Check::Silent,
            pulsed: None,
            program: Digest::new(),
            restart,
        }
    }
}

impl<SPI: SpiDevice, BUS: I2c> Wheel<SPI, BUS> {
    /// Turns once. Gives the moment until which there is nothing to do.
    pub fn turn(&mut self) -> Instant {
        let soon = self.clock.now().plus(LONGEST_SLEEP);
        let accepts = self.door.dash.accept_due().is_some_and(|due| due <= soon);
        if accepts {
            self.keeper.be_patient();
        }
        self.hear();
        let now = self.clock.now();
        self.measure(now);
        self.door.feed_bench(now);
        self.door.pass(now);
        if accepts {
            self.keeper.begin();
        }
        self.act(now);
        let kept = self.keep(now);
        self.talk(now, kept);
        self.draw(now);
        self.next_wake()
    }

    /// A fresh dash on the settings that are on the chip.
    pub fn begin_anew(&mut self, room: &mut MaybeUninit<Settings>) {
        let (settings, from) = self.door.store.settings(self.buffer, room);
        self.door.begin_anew(self.clock.now(), settings);
        self.host.set_settings_from(from);
        self.own.page_button = PageButton::new(settings.gun.debounce);
    }

    /// Whether it is time to leave the bench.
    pub fn is_bench_over(&mut self) -> bool {
        self.host.leaves_bench() || self.door.bench.is_over(self.clock.now())
    }

    /// A fresh dash on the settings that were in force before the bench.
    pub fn leave_bench(&mut self, settings: &Settings) {
        self.keeper.be_patient();
        self.door.begin_anew(self.clock.now(), settings);
        self.own.page_button = PageButton::new(settings.gun.debounce);
        self.keeper.begin();
        self.host.bench_left();
    }

    /// Takes the queued events, first come first.
    #[inline(never)]
    fn hear(&mut self) {
        while let Some(event) = self.stamps.next() {
            match event {
                Event::Edge(edge) => self.edge(edge),
                Event::Byte(byte) => {
                    let at = self.clock.at(byte.raw);
                    if let Some(input) = self.sensors.byte(at, byte.byte) {
                        self.happen(at, input);
                    }
                }
            }
        }
    }

    /// Something happened at the board's own pins: the dash hears of it, but for one on the bench.
    fn happen(&mut self, at: Instant, input: Input) {
        if self.door.bench.is_on() {
            return self.door.bench.happen(at, &input);
        }
        self.door.take(at, input);
    }

    fn edge(&mut self, Edge { raw, pin, active }: Edge) {
        let at = self.clock.at(raw);
        let line = match pin {
            BUTTON => Line::Button,
            GUN_CONTACT => Line::GunContact,
            ACKNOWLEDGE => Line::Acknowledge,
            IGNITER => Line::Igniter,
            STARTER_LOW => Line::StarterLow,
            STARTER_HIGH => Line::StarterHigh,
            START_FUEL => Line::StartFuel,
            PPS => {
                self.own.pulse = Check::Good;
                self.own.pulsed = Some(at);
                return self.happen(at, Input::Pps);
            }
            _ => {
                let press = self.own.page_button.edge(at, active);
                return self.page(at, press);
            }
        };
        let hidden = self.show.hides_the_dash();
        if active && matches!(line, Line::Button | Line::Acknowledge) {
            self.show.dismiss();
        }
        // What he could not see he does not acknowledge, and a boat least of all: this press was for the page.
        if active && hidden && line == Line::Acknowledge {
            return;
        }
        self.happen(at, Input::Edge { line, active });
    }

    /// What a press of the page button was: the dash's, or a step of the brightness.
    fn page(&mut self, at: Instant, press: Option<PagePress>) {
        match press {
            None => return,
            Some(PagePress::Short) => {
                for active in [true, false] {
                    self.happen(at, Input::Edge { line: Line::Page, active });
                }
            }
            Some(PagePress::Hold) => {
                self.own.brightness = self.own.brightness.stepped();
                self.show.set_contrast(self.own.brightness.contrast());
            }
        }
        self.show.dismiss();
    }

    #[inline(never)]
    fn measure(&mut self, now: Instant) {
        while let Some(input) = self.sensors.measure(now, self.door.fitted()) {
            self.happen(now, input);
        }
        let press = self.own.page_button.settle(now);
        self.page(now, press);
    }

    /// Lamps, beeper and the Pico's own light.
    #[inline(never)]
    fn act(&mut self, now: Instant) {
        if self.door.news() {
            let view = self.door.dash.view(now);
            self.own.lamps.show(now, view.alert, view.caution);
            self.show.hurry();
        }
        let bench = &mut self.door.bench;
        let cues = bench.is_cue_due() || bench.is_cue_on(now);
        let lit = if cues {
            Lit { caution: true, warning: false }
        } else if self.show.is_self_test() {
            Lit::BOTH
        } else {
            self.own.lamps.lit(now)
        };
        if bench.is_cue_due() {
            bench.cued(self.clock.now());
        }
        self.signs.light(lit, self.own.brightness.lamp_percent());
        self.signs.sound(if cues { Some(Pitch::High) } else { self.door.sounder.sound(now) });
        self.signs.beat((now.as_micros() / BEAT).is_multiple_of(2));
    }

    /// What outlives a restart: the watchdog's words, and a piece of work on the chip. Gives what became of a host's
    /// settings.
    #[inline(never)]
    fn keep(&mut self, now: Instant) -> Option<Kept> {
        self.keeper.kick(now, self.door.zero);
        let may_erase = self.door.may_erase(now);
        if may_erase {
            self.door.keep_boat(self.buffer);
        }
        let kept = self.door.store.turn(now, may_erase);
        if !self.door.is_boat_s(kept.as_ref()) {
            return kept;
        }
        if matches!(kept, Some(Kept::Yes)) {
            self.host.set_settings_from(SettingsFrom::Chip);
        }
        None
    }

    #[inline(never)]
    fn talk(&mut self, now: Instant, kept: Option<Kept>) {
        let about = About { sensors: self.sensors, own: &self.own, picture: self.show.picture() };
        self.host.turn(now, &mut self.door, kept, &about);
    }

    /// Judges settings that a host has sent: a lane is laid out for that, which takes a deep stack. If they are for the
    /// bench, the board goes on it, and the settings in force wait in their room.
    pub fn judge(&mut self, room: &mut MaybeUninit<Settings>) {
        self.keeper.be_patient();
        let about = About { sensors: self.sensors, own: &self.own, picture: self.show.picture() };
        self.host.ask(self.clock.now(), &mut self.door, &about);
        if self.host.wants_bench() {
            self.enter_bench(room);
        }
        self.keeper.begin();
    }

    #[inline(never)]
    fn enter_bench(&mut self, room: &mut MaybeUninit<Settings>) {
        if !self.door.bench.is_on() {
            room.write(self.door.dash.settings().clone());
        }
        // SAFETY: written just now, or when the board went on the bench that it is still on.
        let kept = unsafe { room.assume_init_ref() };
        match self.host.bench_settings() {
            Some(settings) => self.door.enter_bench(self.clock.now(), &settings),
            None => self.door.enter_bench(self.clock.now(), kept),
        }
        self.show.begin_bench();
        self.host.bench_entered();
    }

    #[inline(never)]
    fn draw(&mut self, now: Instant) {
        // A start in mid-race has better things to do; nobody reads the number then.
        if !self.door.clock_runs(now) {
            self.own.program.turn();
        }
        let (sensors, door) = (&self.sensors, &self.door);
        let about = About { sensors, own: &self.own, picture: &[] };
        let from = self.host.settings_from();
        self.show.turn(now, (door.dash, door.inputs, door.bench.is_on()), |frame| {
            let standing = about.standing(now, door, from);
            let Ok(()) = screen::draw_self_test(frame, &standing, sensors.readings());
        });
    }

    fn next_wake(&self) -> Instant {
        let now = self.clock.now();
        let (door, own) = (&self.door, &self.own);
        let sometimes = [
            door.dash.next_wake(),
            door.sounder.next_wake(now),
            own.lamps.next_wake(now),
            own.page_button.next_wake(now),
            self.host.is_pressed().then_some(now),
            N2_TURNS.due().map(|due| self.clock.at(due.as_micros())),
            door.bench.next_wake(now),
        ];
        let always = [self.show.next_wake(), door.store.next_wake(), self.sensors.next_wake(door.fitted())];
        let all = sometimes.into_iter().flatten().chain(always);
        all.fold(now.plus(LONGEST_SLEEP), Instant::min)
    }
}

/// What the board can say of itself: for the self-test's page and for a host.
pub struct About<'a> {
    sensors: &'a Sensors,
    own: &'a Own,
    /// The picture shown.
    pub picture: &'a [u8],
}

impl About<'_> {
    /// Who the board is and how it stands.
    pub fn standing<SPI: SpiDevice>(
        &self,
        now: Instant,
        door: &Door<SPI>,
        settings: SettingsFrom,
    ) -> Standing {
        let Self { sensors, own, .. } = self;
        let probe = |index| sensors.probe(index, door.dash.settings().engine.probes);
        Standing {
            protocol: PROTOCOL,
            firmware: firmware_version(),
            program: own.program.value(),
            clock_runs: door.clock_runs(now),
            settings,
            self_test: SelfTest {
                receiver: sensors.receiver(),
                pulse: own.pulse,
                probes: core::array::from_fn(probe),
                n1: sensors::shaft(&N1_SHAFT),
                n2: sensors::shaft(&N2_SHAFT),
                chip: door.store.chip_id(),
                overflows: stamps::overflows(),
                restarted: own.restart,
            },
            journal: door.store.extent(),
        }
    }

    /// Whether a shaft turned within the last second, as far as a pickup tells.
    pub fn turns(&self, now: Instant) -> bool {
        let turned = |turning: Turning| now.since(turning.at) < Span::from_secs(1);
        self.sensors.shafts().into_iter().flatten().any(turned)
    }

    /// What the sensors say.
    pub fn readings<SPI: SpiDevice>(&self, now: Instant, door: &Door<SPI>) -> Readings {
        let Self { sensors, own, .. } = self;
        let mut probes = [None; PROBES_MAX];
        for (shown, said) in probes.iter_mut().zip(sensors.readings()) {
            *shown = said;
        }
        let [n1, n2] = sensors.shafts();
        let crystal = door.dash.measured_crystal().filter(|_| !door.bench.is_on());
        Readings { at: now, probes, n1, n2, fix: sensors.fix(), pulse: own.pulsed, crystal }
    }
}
