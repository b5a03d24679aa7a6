//! Signals over time as a VCD file (value change dump, IEEE 1364), for any waveform viewer: open the file, add
//! the signals of `dash`, `lines` and `truth`, and show the real ones as analogue traces.
//!
//! One time unit is a microsecond; `#0` is the log's first moment, and `race_ms` tells the race time. A real
//! signal has a `_good` wire beside it: 1 while the value may be believed, 0 while there is none, x while the
//! sensor says that it is broken. Until `_good` is 1 the real one means nothing.
//!
//! Knows the log. A log in, bytes out; the same log gives the same bytes.

use std::io::{self, Write};

use firmware::output::{Call, Level, Output, Reading};
use firmware::units::Span;
use firmware::view::{Phase, View};
use vcd::{IdCode, SimulationCommand, TimescaleUnit, Value, VarType, Writer};

use crate::log::{EdgeSeen, Log, Sample};
use crate::words;

/// Writes the waves of a log.
///
/// # Errors
/// Only the writer's own.
pub fn write(log: &Log, out: &mut impl Write) -> io::Result<()> {
    let mut wave = Wave { vcd: Writer::new(out), signals: Vec::new(), since: log.extent().0, at: None };
    let ids = wave.header()?;
    let mut moments = moments(log);
    moments.sort_by_key(|moment| moment.t());
    wave.initial()?;
    for moment in &moments {
        moment.apply(&ids, &mut wave);
        wave.flush(moment.t())?;
    }
    Ok(())
}

/// How the numbers read; comments at the head of the file.
const LEGEND: [&str; 4] = [
    "phase: 0 waiting, 1 milling, 2 window, 3 late, 4 racing, 5 finished.",
    "call: 0 none, 1 early, 2 legal, 3 too close.",
    "alert: 0 none, 1 advisory, 2 caution, 3 warning.",
    "name_good: 1 name may be believed, 0 no value, x sensor broken.",
];

/// What a signal stands at.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Stand {
    Bit(Value),
    /// So many bits; `None` is unknown.
    Bits(u32, Option<i64>),
    Real(f64),
}

struct Signal {
    id: IdCode,
    now: Stand,
    changed: bool,
}

struct Wave<W: Write> {
    vcd: Writer<W>,
    signals: Vec<Signal>,
    since: Span,
    at: Option<u64>,
}

/// Places in the list of signals.
struct Ids {
    lines: [usize; 9],
    race: usize,
    phase: usize,
    lap: usize,
    call: usize,
    alert: usize,
    speed: [usize; 2],
    gauges: [[usize; 2]; 3],
    boat: [usize; 3],
    engine: [usize; 4],
}

impl<W: Write> Wave<W> {
    /// Declares every signal.
    fn header(&mut self) -> io::Result<Ids> {
        self.vcd.version("Gunline")?;
        LEGEND.iter().try_for_each(|line| self.vcd.comment(line))?;
        self.vcd.timescale(1, TimescaleUnit::US)?;
        self.vcd.add_module("lines")?;
        let lines = [
            self.bit("button")?,
            self.bit("gun_contact")?,
            self.bit("acknowledge")?,
            self.bit("page")?,
            self.bit("igniter")?,
            self.bit("starter_low")?,
            self.bit("starter_high")?,
            self.bit("start_fuel")?,
            self.bit("external_power")?,
        ];
        self.vcd.upscope()?;
        self.vcd.add_module("dash")?;
        let race = self.add(VarType::Integer, 32, "race_ms", Stand::Bits(32, None))?;
        let phase = self.bits(3, "phase")?;
        let lap = self.bits(16, "lap")?;
        let call = self.bits(2, "call")?;
        let alert = self.bits(2, "alert")?;
        let speed = self.gauge("speed_m_s")?;
        let gauges = [self.gauge("egt_degc")?, self.gauge("n1_pct")?, self.gauge("n2_pct")?];
        self.vcd.upscope()?;
        self.vcd.add_module("truth")?;
        let boat = [self.bit("boat_good")?, self.real("bow_past_line_m")?, self.real("true_speed_m_s")?];
        let engine = [
            self.bit("engine_good")?,
            self.real("true_egt_degc")?,
            self.real("true_n1_pct")?,
            self.real("true_n2_pct")?,
        ];
        self.vcd.upscope()?;
        self.vcd.enddefinitions()?;
        Ok(Ids { lines, race, phase, lap, call, alert, speed, gauges, boat, engine })
    }

    fn add(&mut self, kind: VarType, width: u32, name: &str, now: Stand) -> io::Result<usize> {
        let id = self.vcd.add_var(kind, width, name, None)?;
        self.signals.push(Signal { id, now, changed: false });
        Ok(self.signals.len() - 1)
    }

    fn bit(&mut self, name: &str) -> io::Result<usize> {
        self.add(VarType::Wire, 1, name, Stand::Bit(Value::V0))
    }

    fn bits(&mut self, width: u32, name: &str) -> io::Result<usize> {
        self.add(VarType::Reg, width, name, Stand::Bits(width, Some(0)))
    }

    fn real(&mut self, name: &str) -> io::Result<usize> {
        self.add(VarType::Real, 64, name, Stand::Real(0.0))
    }

    /// A real signal and its `_good` wire.
    fn gauge(&mut self, name: &str) -> io::Result<[usize; 2]> {
        Ok([self.real(name)?, self.bit(&format!("{name}_good"))?])
    }

    /// The initial values, at `#0`.
    fn initial(&mut self) -> io::Result<()> {
        self.vcd.timestamp(0)?;
        self.at = Some(0);
        self.vcd.begin(SimulationCommand::Dumpvars)?;
        for signal in &self.signals {
            dump(&mut self.vcd, signal)?;
        }
        self.vcd.end()
    }

    fn set(&mut self, place: usize, to: Stand) {
        if let Some(signal) = self.signals.get_mut(place).filter(|signal| signal.now != to) {
            signal.now = to;
            signal.changed = true;
        }
    }

    fn set_reading(&mut self, [value, good]: [usize; 2], reading: Reading<f64>) {
        let standing = match reading {
            Reading::Absent => Value::V0,
            Reading::Fault => Value::X,
            Reading::Good(_) => Value::V1,
        };
        self.set(good, Stand::Bit(standing));
        if let Reading::Good(number) = reading {
            self.set(value, Stand::Real(number));
        }
    }

    /// Writes what has changed, under its time.
    fn flush(&mut self, t: Span) -> io::Result<()> {
        if self.signals.iter().all(|signal| !signal.changed) {
            return Ok(());
        }
        let at = u64::try_from((t - self.since).as_micros()).unwrap_or(0);
        if self.at != Some(at) {
            self.at = Some(at);
            self.vcd.timestamp(at)?;
        }
        for signal in self.signals.iter_mut().filter(|signal| signal.changed) {
            signal.changed = false;
            dump(&mut self.vcd, signal)?;
        }
        Ok(())
    }
}

fn dump<W: Write>(vcd: &mut Writer<W>, signal: &Signal) -> io::Result<()> {
    match signal.now {
        Stand::Bit(value) => vcd.change_scalar(signal.id, value),
        Stand::Bits(width, Some(number)) => {
            vcd.change_vector(signal.id, (0..width).rev().map(|bit| Value::from(number >> bit & 1 == 1)))
        }
        Stand::Bits(width, None) => vcd.change_vector(signal.id, (0..width).map(|_| Value::X)),
        Stand::Real(number) => vcd.change_real(signal.id, number),
    }
}

/// Something that moves a signal.
enum Moment<'a> {
    Edge(&'a EdgeSeen),
    Sample(&'a Sample),
    Lap(Span, u16),
    Call(Span, Call),
    Cleared(Span),
}

fn moments(log: &Log) -> Vec<Moment<'_>> {
    let decided = log.decisions.iter().filter_map(|decided| match decided.output {
        Output::Lap { lap, .. } => Some(Moment::Lap(decided.t, lap)),
        Output::Call { call, .. } => Some(Moment::Call(decided.t, call)),
        Output::Cleared => Some(Moment::Cleared(decided.t)),
        _ => None,
    });
    let edges = log.edges.iter().map(Moment::Edge);
    edges.chain(decided).chain(log.samples.iter().map(Moment::Sample)).collect()
}

impl Moment<'_> {
    fn t(&self) -> Span {
        match self {
            Moment::Edge(edge) => edge.t,
            Moment::Sample(sample) => sample.t,
            Moment::Lap(t, _) | Moment::Call(t, _) | Moment::Cleared(t) => *t,
        }
    }

    fn apply<W: Write>(&self, ids: &Ids, wave: &mut Wave<W>) {
        match self {
            Moment::Edge(edge) => edge_moves(edge, ids, wave),
            Moment::Sample(sample) => {
                view_moves(&sample.view, ids, wave);
                truth_moves(sample, ids, wave);
            }
            Moment::Lap(_, lap) => wave.set(ids.lap, Stand::Bits(16, Some(i64::from(*lap)))),
            Moment::Call(_, call) => wave.set(ids.call, Stand::Bits(2, Some(call_code(*call)))),
            Moment::Cleared(_) => {
                wave.set(ids.lap, Stand::Bits(16, Some(0)));
                wave.set(ids.call, Stand::Bits(2, Some(0)));
            }
        }
    }
}

fn edge_moves<W: Write>(edge: &EdgeSeen, ids: &Ids, wave: &mut Wave<W>) {
    // In the order in which the lines were declared above, which is that of `Line`.
    if let Some(place) = ids.lines.get(edge.line as usize) {
        wave.set(*place, Stand::Bit(edge.active.into()));
    }
}

fn view_moves<W: Write>(view: &View, ids: &Ids, wave: &mut Wave<W>) {
    wave.set(ids.race, Stand::Bits(32, view.race.map(|race| race.as_micros().div_euclid(1_000))));
    wave.set(ids.phase, Stand::Bits(3, Some(phase_code(view.phase))));
    let level = view.alert.map_or(0, |alert| level_code(alert.level));
    wave.set(ids.alert, Stand::Bits(2, Some(level)));
    let speed =
        view.speed.map_or(Reading::Absent, |speed| Reading::Good(f64::from(speed.as_mm_s()) / 1_000.0));
    wave.set_reading(ids.speed, speed);
    let [egt, n1, n2] = ids.gauges;
    wave.set_reading(egt, number(view.gauges.egt, words::celsius));
    wave.set_reading(n1, number(view.gauges.n1, words::percent));
    wave.set_reading(n2, number(view.gauges.n2, words::percent));
}

fn number<T: Copy>(reading: Reading<T>, value: impl Fn(Reading<T>) -> Option<f64>) -> Reading<f64> {
    match reading {
        Reading::Fault => Reading::Fault,
        other => value(other).map_or(Reading::Absent, Reading::Good),
    }
}

fn truth_moves<W: Write>(sample: &Sample, ids: &Ids, wave: &mut Wave<W>) {
    let ([boat_good, past, speed], [engine_good, egt, n1, n2]) = (ids.boat, ids.engine);
    wave.set(boat_good, Stand::Bit(sample.boat.is_some().into()));
    if let Some(boat) = sample.boat {
        wave.set(past, Stand::Real(boat.bow_past_m));
        wave.set(speed, Stand::Real(boat.speed_m_s));
    }
    wave.set(engine_good, Stand::Bit(sample.engine.is_some().into()));
    if let Some(engine) = sample.engine {
        wave.set(egt, Stand::Real(engine.egt_c));
        wave.set(n1, Stand::Real(engine.n1_pct));
        wave.set(n2, Stand::Real(engine.n2_pct));
    }
}

const fn phase_code(phase: Phase) -> i64 {
    match phase {
        Phase::Waiting => 0,
        Phase::Milling => 1,
        Phase::Window => 2,
        Phase::Late => 3,
        Phase::Racing => 4,
        Phase::Finished => 5,
    }
}

const fn call_code(call: Call) -> i64 {
    match call {
        Call::Early => 1,
        Call::Legal => 2,
        Call::TooClose => 3,
    }
}

const fn level_code(level: Level) -> i64 {
    match level {
        Level::Advisory => 1,
        Level::Caution => 2,
        Level::Warning => 3,
    }
}

#[cfg(test)]
mod tests;
