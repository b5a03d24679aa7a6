//! Recorded sensors: a receiver's bytes and an engine's table, as streams of the same events that the world makes.
//!
//! Each sentence of a receiver's recording is timed by its own UTC: it reaches the board a latency later, and the
//! sentences of one epoch follow each other at the line's rate. An engine's table becomes thermocouple frames and
//! shaft pulses, so that the dash decodes and measures as it does on the boat.
//!
//! Files' contents in, events in time order out. The faults that a heat file lists are applied here too.

use firmware::input::ProbeReading;
use firmware::units::{Span, Utc};

use crate::world::crystal::Crystal;
use crate::world::faults::{FaultKind, Faults};
use crate::world::pickup::{Pair, PickupSettings};
use crate::world::probe::{ProbeSettings, ThermocoupleChip};
use crate::world::{Bytes, SensorEvent};

/// One row of an engine's recording.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EngineRow {
    /// Race time in seconds.
    pub t_s: f64,
    /// Exhaust gas temperature, degrees Celsius.
    pub egt_c: f64,
    /// Gas generator speed, percent.
    pub n1_pct: f64,
    /// Power shaft speed, percent.
    pub n2_pct: f64,
}

/// A receiver's line on a serial wire at 115,200 baud: ten bits a byte.
const BYTE_US: f64 = 1e7 / 115_200.0;

/// The receiver's recording as events: each sentence `latency` after its own UTC, less what `faults` take away.
#[must_use]
pub fn receiver_events(nmea: &[u8], zero: Utc, latency: Span, faults: &Faults) -> Vec<(Span, SensorEvent)> {
    let mut events = Vec::new();
    let mut epoch: Option<Span> = None;
    let mut bytes_of_epoch = 0;
    for line in nmea.split_inclusive(|byte| *byte == b'\n') {
        if let Some(time) = time_of(line, zero)
            && epoch != Some(time)
        {
            (epoch, bytes_of_epoch) = (Some(time), 0);
        }
        // Before the first time there is nothing to place a sentence by.
        let Some(moment) = epoch else { continue };
        for piece in line.chunks(Bytes::new().capacity()) {
            bytes_of_epoch += piece.len();
            let on_the_wire = Span::from_micros((bytes_of_epoch as f64 * BYTE_US).round() as i64);
            let at = moment + latency + on_the_wire;
            if faults.active(FaultKind::GnssLost, at) || faults.active(FaultKind::GnssInvalid, at) {
                continue;
            }
            let mut piece = Bytes::from_slice(piece).unwrap_or_default();
            if faults.active(FaultKind::GnssGarbled, at)
                && let Some(byte) = piece.get_mut(7)
            {
                *byte ^= 0x15;
            }
            events.push((at, SensorEvent::ReceiverBytes(piece)));
        }
    }
    events.sort_by_key(|(at, _)| *at);
    events
}

/// The race time of a sentence's own time of day, taken for the day that brings it nearest to zero.
fn time_of(line: &[u8], zero: Utc) -> Option<Span> {
    let mut fields = line.split(|byte| *byte == b',');
    let name = fields.next()?;
    let timed = [b"RMC", b"GGA", b"ZDA", b"GLL"];
    if !name.starts_with(b"$") || !timed.iter().any(|timed| name.ends_with(*timed)) {
        return None;
    }
    let field = if name.ends_with(b"GLL") { fields.nth(4)? } else { fields.next()? };
    let text = std::str::from_utf8(field).ok()?;
    let clock: (i64, i64, f64) =
        (text.get(0..2)?.parse().ok()?, text.get(2..4)?.parse().ok()?, text.get(4..)?.parse().ok()?);
    let of_day_us = (clock.0 * 3_600 + clock.1 * 60) * 1_000_000 + (clock.2 * 1e6).round() as i64;
    const DAY_US: i64 = 86_400_000_000;
    let zero_of_day_us = zero.as_unix_micros().rem_euclid(DAY_US);
    let apart = (of_day_us - zero_of_day_us + DAY_US / 2).rem_euclid(DAY_US) - DAY_US / 2;
    Some(Span::from_micros(apart))
}

/// The engine's recording as events: ten temperatures and twenty shaft reports a second, from the first row to
/// the last.
#[must_use]
pub fn engine_events(
    rows: &[EngineRow],
    (probe, pickups): (&ProbeSettings, &PickupSettings),
    (crystal, seed): (&Crystal, u64),
    faults: &Faults,
) -> Vec<(Span, SensorEvent)> {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return Vec::new() };
    let chip = ThermocoupleChip::on_board_at(probe.board_c);
    let mut pair = Pair::new(pickups, seed);
    let mut events = Vec::new();
    let mut cursor = Cursor { rows, place: 0 };
    let mut before = *first;
    let steps = ((last.t_s - first.t_s) * 100.0).floor().max(0.0) as i64;
    for step in 1..=steps {
        let t_s = first.t_s + step as f64 / 100.0;
        let now = cursor.at(t_s);
        let at = Span::from_micros((t_s * 1e6).round() as i64);
        let lost = (faults.active(FaultKind::N1Lost, at), faults.active(FaultKind::N2Lost, at));
        let speeds = ((before.n1_pct, before.n2_pct), (now.n1_pct, now.n2_pct));
        events.extend(pair.step(t_s - 0.01, speeds, crystal, lost));
        before = now;
        if step % 10 == 0 {
            let reading = chip_reading(&chip, now.egt_c, faults, at);
            events.push((at, SensorEvent::ProbeFrame { index: 0, reading }));
        }
        if step % 5 == 0 {
            events.push((at, pair.report(lost)));
        }
    }
    events
}

fn chip_reading(chip: &ThermocoupleChip, egt_c: f64, faults: &Faults, at: Span) -> ProbeReading {
    if faults.active(FaultKind::ThermocoupleSilent, at) {
        ProbeReading::NoAnswer
    } else if faults.active(FaultKind::ThermocoupleOpen, at) {
        ProbeReading::Max31855(chip.open_circuit())
    } else {
        ProbeReading::Max31855(chip.frame(egt_c))
    }
}

/// Straight lines between the rows of a table, asked for with growing time.
pub struct Cursor<'a> {
    rows: &'a [EngineRow],
    place: usize,
}

impl<'a> Cursor<'a> {
    /// At the beginning of `rows`, which are in order of time.
    #[must_use]
    pub const fn new(rows: &'a [EngineRow]) -> Self {
        Self { rows, place: 0 }
    }

    /// The row at `t_s`, which is no earlier than what was asked before; beyond the ends the first or last row.
    pub fn at(&mut self, t_s: f64) -> EngineRow {
        while self.rows.get(self.place + 1).is_some_and(|next| next.t_s <= t_s) {
            self.place += 1;
        }
        let idle = EngineRow { t_s, egt_c: 0.0, n1_pct: 0.0, n2_pct: 0.0 };
        let from = self.rows.get(self.place).copied().unwrap_or(idle);
        let to = self.rows.get(self.place + 1).copied().unwrap_or(from);
        let share =
            if to.t_s > from.t_s { ((t_s - from.t_s) / (to.t_s - from.t_s)).clamp(0.0, 1.0) } else { 0.0 };
        let mix = |a: f64, b: f64| a + share * (b - a);
        EngineRow {
            t_s,
            egt_c: mix(from.egt_c, to.egt_c),
            n1_pct: mix(from.n1_pct, to.n1_pct),
            n2_pct: mix(from.n2_pct, to.n2_pct),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2031-05-17T00:00:01Z.
    const ZERO: Utc = Utc::from_unix_micros(1_936_742_401_000_000);

    #[test]
    fn a_sentence_is_placed_by_its_own_time_of_day_across_midnight() {
        let us = |line: &[u8]| time_of(line, ZERO).map(Span::as_micros);
        assert_eq!(us(b"$GNRMC,000002.50,A,,,\r\n"), Some(1_500_000));
        assert_eq!(us(b"$GPGGA,235959.00,,,\r\n"), Some(-2_000_000));
        assert_eq!(us(b"$GNVTG,1,T,,M,2,N\r\n"), None);
        assert_eq!(us(b"garbage"), None);
    }

    #[test]
    fn sentences_follow_each_other_at_the_rate_of_the_line() {
        let text = b"$GNRMC,000002.00,A*00\r\n$GNVTG,1,T*00\r\n";
        let events = receiver_events(text, ZERO, Span::from_millis(60), &Faults::default());
        let times: Vec<i64> = events.iter().map(|(at, _)| at.as_micros()).collect();
        // 23 and 15 bytes of 86.8 us.
        assert_eq!(times, [1_061_997, 1_063_299]);
    }

    #[test]
    fn rows_are_joined_by_straight_lines() {
        let row = |t_s, egt_c| EngineRow { t_s, egt_c, n1_pct: 0.0, n2_pct: 0.0 };
        let rows = [row(0.0, 100.0), row(10.0, 200.0)];
        let mut cursor = Cursor::new(&rows);
        assert_eq!(cursor.at(-1.0).egt_c, 100.0);
        assert_eq!(cursor.at(2.5).egt_c, 125.0);
        assert_eq!(cursor.at(99.0).egt_c, 200.0);
    }
}
