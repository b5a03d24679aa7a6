//! What the board measures by itself: the receiver's bytes, both shafts twenty times a second and at once when the power
//! shaft's turns are news, the exhaust ten times.
//!
//! Nothing here knows what a value means: it gathers, in the forms that the dash takes, and remembers which sensor
//! has been heard.
//!
//! Knows the decoder, the pickups' counters and the thermocouple chips. Bytes and edges in, inputs out.

use core::mem::MaybeUninit;

use firmware::engine::thermocouple;
use firmware::gnss::{Decoder, Fix, Heard};
use firmware::input::{Input, ProbeReading, Pulses, TURNS};
use firmware::talk::{Check, Turning};
use firmware::units::{Instant, Span};

use crate::clock;
use crate::probes::{PROBES, Probes};
use crate::stamps::{N1_SHAFT, N2_SHAFT, N2_TURNS, Shaft};

/// Both shafts are reported twenty times a second.
const SHAFTS_EVERY: Span = Span::from_millis(50);

/// A probe is read ten times a second and no more often: a MAX31855 begins its conversion, of 0.1 s at the most, anew
/// whenever it is read.
const PROBES_EVERY: Span = Span::from_millis(100);

/// All sensors but the lines that are stamped.
pub struct Sensors {
    decoder: Decoder,
    probes: Probes,
    shafts_due: Instant,
    /// News of the power shaft, to follow the report that was made for it.
    turns: Option<[Span; TURNS]>,
    lines: [Line; PROBES],
    receiver: Check,
    fix: Option<(Instant, Fix)>,
    shafts: [Option<Turning>; 2],
}

/// A probe's place among the measurements.
#[derive(Clone, Copy)]
struct Line {
    due: Instant,
    last: Option<ProbeReading>,
}

impl Sensors {
    /// Sensors of which nothing has been heard.
    #[inline(never)]
    pub fn new(room: &'static mut MaybeUninit<Self>, probes: Probes) -> &'static mut Self {
        let lines = [Line { due: Instant::BOOT, last: None }; PROBES];
        let (decoder, shafts_due) = (Decoder::default(), Instant::BOOT);
        let (receiver, fix, shafts) = (Check::Silent, None, [None; 2]);
        room.write(Self { decoder, probes, shafts_due, turns: None, lines, receiver, fix, shafts })
    }

    /// A byte from the receiver at a moment, and what it completed.
    pub fn byte(&mut self, at: Instant, byte: u8) -> Option<Input> {
        match self.decoder.push(byte)? {
            Heard::Fix(fix) => {
                self.receiver = Check::Good;
                self.fix = Some((at, fix));
                Some(Input::Fix(fix))
            }
            Heard::Rejected(why) => {
                if self.receiver == Check::Silent {
                    self.receiver = Check::Fault;
                }
                Some(Input::Rejected(why))
            }
        }
    }

    /// The next measurement that is due, `fitted` probes among them. Ask until there is none.
    pub fn measure(&mut self, now: Instant, fitted: u8) -> Option<Input> {
        for (index, line) in (0..fitted).zip(&mut self.lines) {
            if line.due <= now {
                line.due = now.plus(PROBES_EVERY);
                if let Some(reading) = self.probes.read(index) {
                    line.last = Some(reading);
                    return Some(Input::Probe { index, reading });
                }
            }
        }
        if let Some(turns) = self.turns.take() {
            return Some(Input::N2Turns { turns });
        }
        self.turns = N2_TURNS.take(Instant::from_micros(clock::raw()));
        if self.turns.is_none() {
            if self.shafts_due > now {
                return None;
            }
            self.shafts_due = now.plus(SHAFTS_EVERY);
            N2_TURNS.renew();
        }
        let (n1, n2) = (N1_SHAFT.report(), N2_SHAFT.report());
        for (last, pulses) in self.shafts.iter_mut().zip([n1, n2]) {
            note(last, now, pulses);
        }
        // A report without pulses tells the dash nothing, and would fill the journal of an engine at rest.
        (n1.count != 0 || n2.count != 0).then_some(Input::Shafts { n1, n2 })
    }

    /// When the next measurement is due.
    pub fn next_wake(&self, fitted: u8) -> Instant {
        let lines = self.lines.iter().take(usize::from(fitted));
        lines.map(|line| line.due).fold(self.shafts_due, Instant::min)
    }

    /// What each probe said last.
    pub fn readings(&self) -> [Option<ProbeReading>; PROBES] {
        self.lines.map(|line| line.last)
    }

    /// The last fix, and when it had arrived.
    pub const fn fix(&self) -> Option<(Instant, Fix)> {
        self.fix
    }

    /// The last reports of both shafts with a pulse in them.
    pub const fn shafts(&self) -> [Option<Turning>; 2] {
        self.shafts
    }

    /// Whether the receiver is heard.
    pub const fn receiver(&self) -> Check {
        self.receiver
    }

    /// How a probe is, `fitted` of which the settings name.
    pub fn probe(&self, index: usize, fitted: u8) -> Check {
        if index >= usize::from(fitted) {
            return Check::NotFitted;
        }
        match self.lines.get(index).and_then(|line| line.last).map(thermocouple::decode) {
            None => Check::Silent,
            Some(Ok(_)) => Check::Good,
            Some(Err(_)) => Check::Fault,
        }
    }
}

/// Keeps a report, if there is a pulse in it.
fn note(last: &mut Option<Turning>, at: Instant, pulses: Pulses) {
    if pulses.count != 0 {
        let before = last.map_or(0, |turning| turning.total);
        *last = Some(Turning { at, pulses, total: before.wrapping_add(u32::from(pulses.count)) });
    }
}

/// Whether a pickup is heard.
pub fn shaft(shaft: &Shaft) -> Check {
    if shaft.is_heard() { Check::Good } else { Check::Silent }
}
