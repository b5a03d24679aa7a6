//! What a host asks over USB, done: settings kept, the journal read out, a schedule taken.
//!
//! One request at a time, one short piece of it a turn, and never anything that the start clock would have to wait
//! for: a page read from the chip, a kilobyte written into a frame.
//!
//! Knows the line, the talk and the door to the dash. Requests in, answers out.

use core::mem::MaybeUninit;

use embedded_hal::spi::SpiDevice;
use firmware::bench::TELL_MAX;
use firmware::engine::suffered::Accounts;
use firmware::input::Input;
use firmware::output::Refused;
use firmware::settings::Settings;
use firmware::talk::{Answer, Fed, Refusal, Request, SettingsFrom, Talk};
use firmware::units::Instant;

use crate::door::Door;
use crate::stamps;
use crate::store::{Kept, Stretch};
use crate::usb::Usb;
use crate::wheel::About;

/// The host's end of the board.
pub struct Host {
    usb: Option<Usb>,
    talk: &'static mut Talk,
    doing: Doing,
    /// Where the settings in force come from.
    settings: SettingsFrom,
    /// There is more to send at once.
    is_pressed: bool,
    /// Something has come that is done on the deep stack.
    goes_deep: bool,
    /// The board is to go on the bench, or to leave it.
    wants_bench: bool,
    leaves_bench: bool,
    /// New settings are on the chip that are not in force yet.
    has_new_settings: bool,
}

/// The request that is not answered yet.
#[derive(Clone, Copy)]
enum Doing {
    Nothing,
    /// New settings are on their way to the chip.
    Keeping,
    /// The journal is being read from this position on.
    Reading {
        from: u64,
        most: u16,
    },
    /// A cue is to be given.
    Cueing,
}

impl Host {
    /// A board that runs on settings from there.
    #[inline(never)]
    pub fn new(
        usb: Option<Usb>,
        room: &'static mut MaybeUninit<Talk>,
        runs: u32,
        settings: SettingsFrom,
    ) -> Self {
        let talk = room.write(Talk::new(runs));
        stamps::hear_host();
        let doing = Doing::Nothing;
        Self {
            usb,
            talk,
            doing,
            settings,
            is_pressed: false,
            goes_deep: false,
            wants_bench: false,
            leaves_bench: false,
            has_new_settings: false,
        }
    }

    /// Whether something has come for which [`Host::ask`] needs the deep stack; said once.
    pub const fn goes_deep(&mut self) -> bool {
        core::mem::replace(&mut self.goes_deep, false)
    }

    /// Whether the board is to go on the bench; said once. It ends with [`Host::bench_entered`].
    pub const fn wants_bench(&mut self) -> bool {
        core::mem::replace(&mut self.wants_bench, false)
    }

    /// The settings for the bench; none: the kept ones.
    pub fn bench_settings(&self) -> Option<Settings> {
        match self.talk.owed() {
            Some(Request::EnterBench(bytes)) => Settings::decode(bytes),
            _ => None,
        }
    }

    /// The board is on the bench.
    pub fn bench_entered(&mut self) {
        self.answer(&Answer::Done);
    }

    /// Whether a host wants the board to leave the bench. It ends with [`Host::bench_left`].
    pub const fn leaves_bench(&self) -> bool {
        self.leaves_bench
    }

    /// The board has left the bench, asked or not.
    pub fn bench_left(&mut self) {
        if core::mem::replace(&mut self.leaves_bench, false) {
            self.answer(&Answer::Done);
        }
    }

    /// Whether new settings have come that want to be put into force; said once.
    pub const fn has_new_settings(&mut self) -> bool {
        core::mem::replace(&mut self.has_new_settings, false)
    }

    /// Other settings are in force.
    pub const fn set_settings_from(&mut self, from: SettingsFrom) {
        self.settings = from;
    }

    /// Where the settings in force come from.
    pub const fn settings_from(&self) -> SettingsFrom {
        self.settings
    }

    /// Does what it can without waiting. `kept` is the news of settings on their way, `about` tells who the board is.
    pub fn turn<SPI: SpiDevice>(
        &mut self,
        now: Instant,
        door: &mut Door<SPI>,
        kept: Option<Kept>,
        about: &About<'_>,
    ) {
        self.go_on(door, kept);
        if !stamps::host_calls() && !self.is_pressed && matches!(self.doing, Doing::Nothing) {
            return;
        }
        if let Some(usb) = self.usb.as_mut() {
            self.is_pressed = usb.turn(self.talk);
        }
        if self.talk.to_send().is_empty() {
            self.goes_deep = self.talk.goes_deep();
            if !self.goes_deep {
                self.ask(now, door, about);
            }
        }
        // What comes while a request is being done waits with the host.
        if self.talk.wants_bytes() {
            stamps::hear_host();
        }
    }

    /// True when it wants another turn at once.
    pub const fn is_pressed(&self) -> bool {
        self.is_pressed || self.leaves_bench || matches!(self.doing, Doing::Reading { .. } | Doing::Cueing)
    }

    /// Takes the next request and begins it.
    pub fn ask<SPI: SpiDevice>(&mut self, now: Instant, door: &mut Door<SPI>, about: &About<'_>) {
        self.begin(now, door, about);
        // The talk answers some requests by itself.
        self.is_pressed |= !self.talk.to_send().is_empty();
    }

    #[inline(never)]
    fn begin<SPI: SpiDevice>(&mut self, now: Instant, door: &mut Door<SPI>, about: &About<'_>) {
        let Some(request) = self.talk.next_request(!door.is_free(now)) else { return };
        door.bench.hear(now);
        match request {
            Request::Hello => self.greet(now, door, about),
            Request::ReadSettings => self.tell_settings(door),
            // What changes the board for good is not for a bench.
            Request::KeepSettings(_)
            | Request::Schedule { .. }
            | Request::Utc { .. }
            | Request::Offer { .. }
            | Request::ForgetSuffered
                if door.bench.is_on() =>
            {
                self.answer(&Answer::Refused(Refusal::OnTheBench));
            }
            Request::KeepSettings(bytes) => match door.store.keep(bytes) {
                Ok(()) => self.doing = Doing::Keeping,
                Err(_) => self.answer(&Answer::Refused(Refusal::Chip)),
            },
            Request::ReadJournal { from, most } => self.doing = Doing::Reading { from, most },
            Request::Schedule { zero } => {
                let scheduled = door.schedule(now, zero);
                self.answer(&Answer::Scheduled(scheduled));
            }
            Request::Readings => self.tell_readings(now, door, about),
            Request::Cue { .. } | Request::Feed { .. } if !door.bench.is_on() => {
                self.answer(&Answer::Refused(Refusal::NotOnTheBench));
            }
            Request::Cue { sound: true } => {
                door.bench.cue();
                self.doing = Doing::Cueing;
            }
            Request::Cue { sound: false } => self.tell_cue(door),
            // What is refused is nothing to the dash, and not in its record.
            Request::ForgetSuffered if !door.is_free(now) => {
                self.answer(&Answer::Refused(Refusal::ClockRuns))
            }
            Request::Offer { .. } if door.dash.offered(now).is_none() => {
                self.answer(&Answer::Refused(Refusal::Dash(Refused::NothingOffered)));
            }
            Request::Utc { .. } | Request::Offer { .. } | Request::ForgetSuffered => self.pass_on(now, door),
            Request::Learned => self.tell_learned(now, door),
            Request::Suffered => self.tell_suffered(door),
            Request::EnterBench(_) if about.turns(now) => {
                self.answer(&Answer::Refused(Refusal::EngineTurns));
            }
            Request::EnterBench(_) => self.wants_bench = true,
            Request::LeaveBench => {
                self.leaves_bench = door.bench.is_on();
                if !self.leaves_bench {
                    self.answer(&Answer::Done);
                }
            }
            Request::Feed { base, inputs } => match door.bench.take(base, inputs) {
                Ok(()) => self.tell(now, door),
                Err(why) => self.answer(&Answer::Refused(Refusal::Bench(why))),
            },
            Request::Picture => self.answer(&Answer::Picture(about.picture)),
        }
    }

    // Each of these has its answer on the stack, which `begin` would else have for all of them at once.

    #[inline(never)]
    fn greet<SPI: SpiDevice>(&mut self, now: Instant, door: &Door<SPI>, about: &About<'_>) {
        self.answer(&Answer::Hello(about.standing(now, door, self.settings)));
    }

    #[inline(never)]
    fn tell_settings<SPI: SpiDevice>(&mut self, door: &Door<SPI>) {
        let mut buffer = [0; Settings::ENCODED_MAX];
        let bytes = door.dash.settings().encode(&mut buffer);
        self.answer(&Answer::Settings { from: self.settings, bytes });
    }

    #[inline(never)]
    fn tell_readings<SPI: SpiDevice>(&mut self, now: Instant, door: &Door<SPI>, about: &About<'_>) {
        self.answer(&Answer::Readings(about.readings(now, door)));
    }

    #[inline(never)]
    fn tell_learned<SPI: SpiDevice>(&mut self, now: Instant, door: &Door<SPI>) {
        self.answer(&Answer::Learned(door.dash.offered(now)));
    }

    #[inline(never)]
    fn tell_cue<SPI: SpiDevice>(&mut self, door: &Door<SPI>) {
        self.answer(&Answer::Cued(door.bench.seen()));
    }

    #[inline(never)]
    fn tell_suffered<SPI: SpiDevice>(&mut self, door: &Door<SPI>) {
        let accounts = door.dash.accounts().copied().unwrap_or_default();
        self.answer(&Answer::Suffered(accounts));
    }

    /// What a host asks of the dash goes in like any input.
    #[inline(never)]
    fn pass_on<SPI: SpiDevice>(&mut self, now: Instant, door: &mut Door<SPI>) {
        let input = match self.talk.owed() {
            Some(Request::Utc { at, utc, sd }) => Input::Utc { at, utc, sd },
            Some(Request::Offer { accept }) => Input::Offer { accept },
            Some(Request::ForgetSuffered) => Input::Suffered(Accounts::default()),
            _ => return,
        };
        match door.ask(now, input) {
            None => self.answer(&Answer::Done),
            Some(why) => self.answer(&Answer::Refused(Refusal::Dash(why))),
        }
    }

    /// Tells what the bench has to tell.
    #[inline(never)]
    fn tell<SPI: SpiDevice>(&mut self, now: Instant, door: &mut Door<SPI>) {
        let mut buffer = [0; TELL_MAX];
        let told = door.bench.told(&mut buffer);
        let room = u16::try_from(door.bench.room()).unwrap_or(u16::MAX);
        let (waiting, lost) = (door.bench.waiting(), door.bench.lost());
        self.answer(&Answer::Fed(Fed { now, room, waiting, lost, told }));
    }

    /// Goes on with a request that takes more than one turn.
    fn go_on<SPI: SpiDevice>(&mut self, door: &mut Door<SPI>, kept: Option<Kept>) {
        match (self.doing, kept) {
            (Doing::Keeping, Some(Kept::Yes)) => {
                self.has_new_settings = true;
                self.answer(&Answer::SettingsKept);
            }
            (Doing::Keeping, Some(Kept::No)) => self.answer(&Answer::Refused(Refusal::Chip)),
            (Doing::Reading { from, most }, _) => self.read(door, from, most),
            (Doing::Cueing, _) if !door.bench.is_cue_due() => self.tell_cue(door),
            _ => {}
        }
    }

    #[inline(never)]
    fn read<SPI: SpiDevice>(&mut self, door: &mut Door<SPI>, from: u64, most: u16) {
        let mut page = [0; firmware::journal::ring::PAGE];
        match door.store.read(from, &mut page) {
            Stretch::Later => {}
            Stretch::Skipped { next } => self.doing = Doing::Reading { from: next, most },
            Stretch::Refused(refusal) => self.answer(&Answer::Refused(refusal)),
            Stretch::Bytes { from, bytes, next } => {
                let given = bytes.get(..usize::from(most)).unwrap_or(bytes);
                let rest = bytes.len().saturating_sub(given.len());
                let next = if rest == 0 { next } else { from.saturating_add(given.len() as u64) };
                self.answer(&Answer::Journal { from, next, bytes: given });
            }
        }
    }

    fn answer(&mut self, answer: &Answer<'_>) {
        self.talk.answer(answer);
        self.doing = Doing::Nothing;
        self.is_pressed = true;
    }
}
