//! What a host asks over USB, done: settings kept, the journal read out, a schedule taken.
//!
//! One request at a time, one short piece of it a turn, and never anything that the start clock would have to wait
//! for: a page read from the chip, a kilobyte written into a frame.
//!
//! Knows the line, the talk and the door to the dash. Requests in, answers out.

use core::mem::MaybeUninit;

use embedded_hal::spi::SpiDevice;
use firmware::settings::Settings;
use firmware::talk::{Answer, Refusal, Request, SettingsFrom, Talk};
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
    /// Settings have come that are not judged yet.
    has_unjudged: bool,
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
        Self { usb, talk, doing, settings, is_pressed: false, has_unjudged: false, has_new_settings: false }
    }

    /// Whether settings have come that [`Host::ask`] should judge, on the deep stack; said once.
    pub const fn has_unjudged(&mut self) -> bool {
        core::mem::replace(&mut self.has_unjudged, false)
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
            self.has_unjudged = self.talk.brings_settings();
            if !self.has_unjudged {
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
        self.is_pressed || matches!(self.doing, Doing::Reading { .. })
    }

    /// Takes the next request and begins it.
    pub fn ask<SPI: SpiDevice>(
        &mut self,
        now: Instant,
        door: &mut Door<SPI>,
        about: &About<'_>,
    ) {
        self.begin(now, door, about);
        // The talk answers some requests by itself.
        self.is_pressed |= !self.talk.to_send().is_empty();
    }

    #[inline(never)]
    fn begin<SPI: SpiDevice>(
        &mut self,
        now: Instant,
        door: &mut Door<SPI>,
        about: &About<'_>,
    ) {
        let Some(request) = self.talk.next_request(door.clock_runs(now)) else { return };
        match request {
            Request::Hello => self.answer(&Answer::Hello(about.standing(now, door, self.settings))),
            Request::ReadSettings => {
                let mut buffer = [0; Settings::ENCODED_MAX];
                let bytes = door.dash.settings().encode(&mut buffer);
                self.answer(&Answer::Settings { from: self.settings, bytes });
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
            Request::Readings => self.answer(&Answer::Readings(about.readings(now, door))),
            Request::Cue { .. } => self.answer(&Answer::Refused(Refusal::NotOnTheBench)),
        }
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
