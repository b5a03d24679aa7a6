//! A heat from its file to its log: sensors, rig, truth.
//!
//! A checked heat in, everything that happened out. Equal heats give equal logs, on every machine.

use std::sync::Arc;

use firmware::course::StartLine;
use firmware::gnss::{Decoder, Fix, Heard, Position};
use firmware::units::{NanoDegrees, Span, Utc};

use crate::log::{BoatState, EngineState, Log, Sample, TrueCrossing};
use crate::recording::{Cursor, EngineRow};
use crate::rig::{Rig, Witness};
use crate::scenario::{BoatSource, EngineSource, Heat};
use crate::sensors::{Part, Sensors};
use crate::world::Truth;

/// Plays a heat in virtual time.
#[must_use]
pub fn play(heat: &Heat) -> Log {
    play_part(heat, Part::WHOLE)
}

/// Plays a part of a heat: the board is switched on when it begins.
#[must_use]
pub fn play_part(heat: &Heat, part: Part) -> Log {
    play_signed(heat, part, None)
}

/// The same by a board that holds a secret key, if it does, and signs its journal's seals with it.
#[must_use]
pub fn play_signed(heat: &Heat, part: Part, key: Option<[u8; 32]>) -> Log {
    let sensors = Sensors::new(heat, part);
    let mut rig = rig(heat, &sensors);
    if let Some(key) = key {
        rig.sign_with(key);
    }
    match &heat.boat {
        BoatSource::World => play_world(heat, part, sensors, rig),
        BoatSource::Recording { bytes, .. } => play_recording(heat, bytes, sensors, rig),
    }
}

/// A board that runs on these sensors' crystal, told its zero beforehand if the heat says so.
fn rig(heat: &Heat, sensors: &Sensors) -> Rig {
    let schedule = heat.scheduled.then_some(heat.world.zero_utc);
    Rig::new(&heat.settings, schedule, sensors.crystal())
}

fn play_world(heat: &Heat, part: Part, sensors: Sensors, mut rig: Rig) -> Log {
    let truth = Arc::clone(sensors.world().truth());
    let drawn = sensors.world().drawn().to_vec();
    rig.play(sensors.events(), &mut TruthWitness::new(heat, &truth));
    let mut log = rig.into_log(&heat.title, heat.seed, heat.world.zero_utc);
    log.drawn = drawn;
    let crossings = truth.crossings().into_iter().filter(|crossing| part.contains(crossing.at));
    log.true_crossings = crossings.map(|c| TrueCrossing { t: c.at, forward: c.forward }).collect();
    log
}

/// A recorded boat. The world around it still has the crystal, the thumb, the guns and the pulse per second.
fn play_recording(heat: &Heat, nmea: &[u8], sensors: Sensors, mut rig: Rig) -> Log {
    let drawn = sensors.world().drawn().to_vec();
    rig.play(sensors.events(), &mut RecordingWitness::new(heat, fixes(nmea)));
    let mut log = rig.into_log(&heat.title, heat.seed, heat.world.zero_utc);
    // The world's own boat does not sail in a recorded heat, and nothing that was drawn for it counts.
    log.drawn =
        drawn.into_iter().filter(|(name, _)| name.contains("crystal") || name.contains("reaction")).collect();
    log
}

/// Every fix that the dash's own decoder makes of a recording.
fn fixes(nmea: &[u8]) -> Vec<Fix> {
    let mut decoder = Decoder::default();
    let fix = |heard| if let Heard::Fix(fix) = heard { Some(fix) } else { None };
    nmea.iter()
        .chain(b"\n")
        .filter_map(|byte| decoder.push(*byte).and_then(fix))
        .filter(|fix| fix.valid)
        .collect()
}

/// Where the bow lies beside the line.
struct Beside {
    line: Option<StartLine>,
    lever_m: f64,
}

impl Beside {
    fn new(heat: &Heat) -> Self {
        let course = heat.settings.course.as_ref();
        Self {
            line: course.and_then(|course| StartLine::new(course).ok()),
            lever_m: heat.settings.crossing.antenna_to_bow.as_mm() as f64 / 1e3,
        }
    }

    /// The boat as the log holds it; `heading` clockwise from north in radians.
    fn boat(&self, position: Position, heading: f64, speed_m_s: f64, run_m: f64) -> BoatState {
        let (mut past, mut along) = (0.0, 0.0);
        if let Some(line) = &self.line {
            let antenna = line.beside(position);
            let scale = 1e6;
            let (ahead, aside) = line.turned((heading.sin() * scale) as i64, (heading.cos() * scale) as i64);
            past = antenna.past.as_mm() as f64 / 1e3 + self.lever_m * ahead as f64 / scale;
            along = antenna.along.as_mm() as f64 / 1e3 + self.lever_m * aside as f64 / scale;
        }
        BoatState { position, bow_past_m: past, bow_along_m: along, speed_m_s, run_m }
    }
}

/// Tells what truly happened in a simulated heat.
struct TruthWitness<'a> {
    truth: &'a Truth,
    lever_m: f64,
    table: Option<Cursor<'a>>,
    first_s_m: Option<f64>,
}

impl<'a> TruthWitness<'a> {
    fn new(heat: &'a Heat, truth: &'a Truth) -> Self {
        let lever_m = heat.world.boat.antenna_to_bow_m;
        Self { truth, lever_m, table: cursor(&heat.engine), first_s_m: None }
    }
}

impl Witness for TruthWitness<'_> {
    fn tell(&mut self, sample: &mut Sample) {
        let state = self.truth.at(sample.t);
        let course = self.truth.course();
        let (lat, lon) = course.degrees(state.place.east_m, state.place.north_m);
        let (bow_east, bow_north) = state.place.ahead(self.lever_m);
        let (bow_past_m, bow_along_m) = course.from_line(bow_east, bow_north);
        sample.boat = Some(BoatState {
            position: position(lat, lon),
            bow_past_m,
            bow_along_m,
            speed_m_s: state.speed_m_s,
            run_m: state.s_m - *self.first_s_m.get_or_insert(state.s_m),
        });
        let EngineRow { egt_c, n1_pct, n2_pct, .. } = match &mut self.table {
            Some(table) => table.at(seconds(sample.t)),
            None => EngineRow {
                t_s: 0.0,
                egt_c: state.engine.egt_c,
                n1_pct: state.engine.n1_pct,
                n2_pct: state.engine.n2_pct,
            },
        };
        sample.engine = Some(EngineState { egt_c, n1_pct, n2_pct });
    }
}

/// Tells what a recording says of a moment: the last fix before it, and the engine's table.
struct RecordingWitness<'a> {
    fixes: Vec<Fix>,
    next: usize,
    zero: Utc,
    beside: Beside,
    table: Option<Cursor<'a>>,
    run_m: f64,
}

impl<'a> RecordingWitness<'a> {
    fn new(heat: &'a Heat, fixes: Vec<Fix>) -> Self {
        let (beside, table) = (Beside::new(heat), cursor(&heat.engine));
        Self { fixes, next: 0, zero: heat.world.zero_utc, beside, table, run_m: 0.0 }
    }

    /// The last fix at or before `t`, and the way run up to it.
    fn fix_before(&mut self, t: Span) -> Option<Fix> {
        while let Some(fix) = self.fixes.get(self.next).filter(|fix| fix.utc.since(self.zero) <= t) {
            if let Some(before) = self.next.checked_sub(1).and_then(|place| self.fixes.get(place)) {
                self.run_m += f64::from(fix.speed.as_mm_s()) / 1e3 * seconds(fix.utc.since(before.utc));
            }
            self.next += 1;
        }
        self.next.checked_sub(1).and_then(|place| self.fixes.get(place)).copied()
    }
}

impl Witness for RecordingWitness<'_> {
    fn tell(&mut self, sample: &mut Sample) {
        if let Some(fix) = self.fix_before(sample.t) {
            let heading = (f64::from(fix.course.as_centi()) / 100.0).to_radians();
            let speed_m_s = f64::from(fix.speed.as_mm_s()) / 1e3;
            sample.boat = Some(self.beside.boat(fix.position, heading, speed_m_s, self.run_m));
        }
        if let Some(table) = &mut self.table {
            let row = table.at(seconds(sample.t));
            sample.engine = Some(EngineState { egt_c: row.egt_c, n1_pct: row.n1_pct, n2_pct: row.n2_pct });
        }
    }
}

fn cursor(engine: &EngineSource) -> Option<Cursor<'_>> {
    if let EngineSource::Recording(rows) = engine { Some(Cursor::new(rows)) } else { None }
}

fn position(lat: f64, lon: f64) -> Position {
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(lat), lon: nano(lon) }
}

fn seconds(span: Span) -> f64 {
    span.as_micros() as f64 / 1e6
}
