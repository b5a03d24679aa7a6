//! Sensor events become happenings at pins, one after the other, on the board's own crystal.
//!
//! Knows the crystal. Events in true time go in; the list comes out in order of time.

use firmware::input::{Line, ProbeReading};
use firmware::units::{Instant, Span};

use super::{BAUD, Happening, NoStimulus};
use crate::scenario::race_time;
use crate::world::crystal::Crystal;
use crate::world::faults::{Fault, FaultKind};
use crate::world::{Bytes, SensorEvent, Wire};

/// Receivers hold their pulse for a tenth of a second (common practice, no source); only its rise means anything.
const PULSE: Span = Span::from_millis(100);

/// How long a pickup's pulse is. Only its rise means anything, and it has fallen before the next comes, however fast the
/// shaft gains speed.
const SHAFT_PULSE: Span = Span::from_micros(50);

/// So much later a message may end than the world says, to leave the line to the one in front of it: 128 bytes
/// shrink by 11 us on a crystal that is slow by 1000 ppm, and times are rounded.
const LINE_SLACK: Span = Span::from_micros(15);

/// Writes happenings down as events come.
pub struct Pen {
    crystal: Crystal,
    list: Vec<(Instant, Happening)>,
    /// The lines that people and guns hold active.
    held: Vec<Line>,
    /// What each chip answers.
    chips: Vec<(u8, Option<u32>)>,
    /// When the last pulse of each shaft fell.
    fallen: [Instant; 2],
    /// When the receiver's last message ended.
    line_free: Instant,
    /// When the board is switched on, and the last moment played so far, race time.
    played: (Span, Span),
}

impl Pen {
    /// A pen for a board that is switched on as `crystal` begins.
    pub fn new(crystal: Crystal) -> Self {
        Self {
            crystal,
            list: Vec::new(),
            held: Vec::new(),
            chips: Vec::new(),
            fallen: [Instant::BOOT; 2],
            line_free: Instant::BOOT,
            played: (crystal.true_at(Instant::BOOT), crystal.true_at(Instant::BOOT)),
        }
    }

    /// What a sensor event means at the pins.
    pub fn event(&mut self, t: Span, event: SensorEvent) -> Result<(), NoStimulus> {
        let at = self.crystal.board_at(t);
        self.played.1 = t;
        match event {
            SensorEvent::Edge { line, active } => self.edge(at, line, active),
            SensorEvent::PpsEdge => pulse(&mut self.list, "pps", at, at.plus(PULSE)),
            SensorEvent::ReceiverBytes(bytes) => self.message(t, at, bytes)?,
            SensorEvent::ProbeFrame { index, reading } => self.chip(at, index, reading)?,
            SensorEvent::Pulse { wire } => self.shaft(wire, at),
            // The board counts for itself, and finds its own news.
            SensorEvent::ShaftPulses { .. }
            | SensorEvent::N2Turns { .. }
            | SensorEvent::PowerBlip { .. }
            | SensorEvent::WatchdogReset { .. }
            | SensorEvent::End => {}
        }
        Ok(())
    }

    /// Power that goes, or a program that hangs.
    pub fn restart(&mut self, fault: &Fault) {
        let at = self.crystal.board_at(fault.at);
        let happening = match fault.kind {
            FaultKind::PowerBlip => Happening::PowerOff(self.crystal.board_at(fault.ends()).since(at)),
            _ => Happening::Watchdog,
        };
        self.list.push((at, happening));
    }

    /// A look at a race time.
    pub fn look(&mut self, t: Span) -> Result<(), NoStimulus> {
        let label = race_time::text(t).to_string();
        let (begins, ends) = self.played;
        if t < begins || t >= ends {
            return Err(NoStimulus::LookOutside(label));
        }
        self.list.push((self.crystal.board_at(t), Happening::Look(label)));
        Ok(())
    }

    /// So many moments spread evenly over what was played, each in the middle of its share.
    pub fn spread(&self, count: i64) -> Vec<Span> {
        let (begins, ends) = self.played;
        let share = (ends - begins).as_micros() / count;
        (0..count).map(|k| begins + Span::from_micros(share * k + share / 2)).collect()
    }

    /// The list in order of time, up to the end.
    pub fn finish(self) -> Vec<(Instant, Happening)> {
        let Self { crystal, mut list, played, .. } = self;
        let end = crystal.board_at(played.1);
        list.retain(|(at, _)| *at <= end);
        // Stable: what was written first at one moment stays first.
        list.sort_by_key(|(at, _)| *at);
        list.push((end, Happening::End));
        list
    }

    /// One pulse of a pickup. Pulses do not overlap, and before the board is switched on there are none.
    fn shaft(&mut self, wire: Wire, at: Instant) {
        let (name, [of_n1, of_n2]) = (wire.name(), &mut self.fallen);
        let fallen = if wire == Wire::N1 { of_n1 } else { of_n2 };
        if at > *fallen {
            *fallen = at.plus(SHAFT_PULSE);
            pulse(&mut self.list, name, at, *fallen);
        }
    }

    /// An edge that changes nothing does not show on a wire.
    fn edge(&mut self, at: Instant, line: Line, active: bool) {
        if self.held.contains(&line) == active {
            return;
        }
        if active {
            self.held.push(line);
        } else {
            self.held.retain(|held| *held != line);
        }
        self.list.push((at, Happening::Pin { name: name_of(line), active }));
    }

    fn message(&mut self, t: Span, at: Instant, bytes: Bytes) -> Result<(), NoStimulus> {
        let Some(begins) = before(at, on_the_line(bytes.len())) else {
            return Ok(()); // The board was switched on in the middle of it.
        };
        let early = self.line_free.since(begins);
        if early > LINE_SLACK {
            let at = race_time::text(t).to_string();
            return Err(NoStimulus::Overrun { at, bytes: bytes.len(), early_us: early.as_micros() });
        }
        self.line_free = at.plus(early.max(Span::ZERO));
        self.list.push((self.line_free, Happening::Uart(bytes)));
        Ok(())
    }

    fn chip(&mut self, at: Instant, index: u8, reading: ProbeReading) -> Result<(), NoStimulus> {
        let frame = match reading {
            ProbeReading::Max31855(frame) => Some(frame),
            ProbeReading::NoAnswer => None,
            ProbeReading::Max31856 { .. } => return Err(NoStimulus::OtherChip),
        };
        if !self.chips.contains(&(index, frame)) {
            self.chips.retain(|(chip, _)| *chip != index);
            self.chips.push((index, frame));
            self.list.push((at, Happening::Probe { index, frame }));
        }
        Ok(())
    }
}

/// What the table of pins calls a line.
const fn name_of(line: Line) -> &'static str {
    match line {
        Line::Button => "button",
        Line::GunContact => "gun_contact",
        Line::Acknowledge => "acknowledge",
        Line::Page => "page",
        Line::Igniter => "igniter",
        Line::StarterLow => "starter_low",
        Line::StarterHigh => "starter_high",
        Line::StartFuel => "start_fuel",
        Line::ExternalPower => "external_power",
    }
}

fn pulse(list: &mut Vec<(Instant, Happening)>, name: &'static str, from: Instant, to: Instant) {
    list.push((from, Happening::Pin { name, active: true }));
    list.push((to, Happening::Pin { name, active: false }));
}

/// How long so many bytes take on the receiver's line, rounded up.
fn on_the_line(bytes: usize) -> Span {
    let bits = u64::try_from(bytes).unwrap_or(u64::MAX).saturating_mul(10);
    let micros = bits.saturating_mul(1_000_000).div_ceil(u64::from(BAUD));
    Span::from_micros(i64::try_from(micros).unwrap_or(i64::MAX))
}

/// A moment so long before another; none before the board was switched on.
fn before(at: Instant, span: Span) -> Option<Instant> {
    let micros = i64::try_from(at.as_micros()).ok()?.checked_sub(span.as_micros())?;
    u64::try_from(micros).ok().map(Instant::from_micros)
}
