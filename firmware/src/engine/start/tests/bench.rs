//! An engine room on a bench, and an engine of a few lines to sit on it.

use std::vec::Vec;

use crate::engine::{Engine, EngineSettings, Wired};
use crate::input::{Line, ProbeReading, Pulses};
use crate::output::{AlertId, Output, Outputs, StartStep};
use crate::units::{Instant, Span};

pub fn ms(ms: i64) -> Instant {
    Instant::from_micros(1_000_000 + ms as u64 * 1_000)
}

/// A MAX31856 that reads so many degrees, on a board of 25.
pub fn reads(degrees: f64) -> ProbeReading {
    ProbeReading::Max31856 { hot: ((degrees * 4_096.0) as i32 & 0xFF_FFFF) as u32, cold: 0x1900, faults: 0 }
}

/// The demonstration pickup gives 70 a second at 100 %; a shaft that hardly turns gives nothing.
pub fn pulses(percent: f64) -> Pulses {
    if percent < 4.0 {
        return Pulses::default();
    }
    Pulses { count: 100, span: Span::from_micros((100.0 / (percent * 0.7) * 1e6) as i64) }
}

/// An engine room whose clock only its script moves, and what it decided.
pub struct Bench {
    pub engine: Engine,
    pub steps: Vec<(i64, StartStep)>,
    /// When each alert was asked for first.
    pub raised: Vec<(i64, AlertId)>,
    on: Vec<AlertId>,
}

impl Bench {
    pub fn new(settings: &EngineSettings) -> Self {
        Self { engine: Engine::new(settings), steps: Vec::new(), raised: Vec::new(), on: Vec::new() }
    }

    /// All five switches wired.
    pub fn wired() -> Self {
        let mut settings = EngineSettings::demonstration();
        settings.start.wired = Wired {
            igniter: true,
            starter_low: true,
            starter_high: true,
            start_fuel: true,
            external_power: true,
        };
        Self::new(&settings)
    }

    pub fn with(&mut self, at: i64, call: impl FnOnce(&mut Engine, &mut Outputs)) {
        let mut out = Outputs::default();
        call(&mut self.engine, &mut out);
        assert_eq!(out.lost(), 0);
        for output in out.as_slice() {
            if let Output::StartStep { step, .. } = output {
                self.steps.push((at, *step));
            }
        }
        let on = self.wants();
        self.raised.extend(on.iter().filter(|id| !self.on.contains(id)).map(|id| (at, *id)));
        self.on = on;
    }

    pub fn switch(&mut self, at: i64, line: Line, active: bool) {
        self.with(at, |engine, out| engine.switch(ms(at), line, active, out));
    }

    pub fn probe(&mut self, at: i64, degrees: f64) {
        self.with(at, |engine, out| engine.probe(ms(at), 0, reads(degrees), out));
    }

    pub fn shafts(&mut self, at: i64, n1: f64) {
        self.with(at, |engine, out| engine.shafts(ms(at), pulses(n1), Pulses::default(), out));
    }

    pub fn tick(&mut self, at: i64) {
        self.with(at, |engine, out| engine.tick(ms(at), out));
    }

    /// Both every 100 ms, from one pair of N1 and EGT to the other along straight lines.
    pub fn go(&mut self, from: i64, to: i64, (n1, egt): (f64, f64), (n1_to, egt_to): (f64, f64)) {
        for at in (from..to).step_by(100) {
            let part = (at - from) as f64 / (to - from) as f64;
            self.shafts(at, n1 + (n1_to - n1) * part);
            self.probe(at, egt + (egt_to - egt) * part);
        }
    }

    pub fn wants(&self) -> Vec<AlertId> {
        self.engine.start_conditions().into_iter().filter_map(|(id, on)| on.then_some(id)).collect()
    }

    pub fn first(&self, id: AlertId) -> Option<i64> {
        self.raised.iter().find(|(_, raised)| *raised == id).map(|(at, _)| *at)
    }

    pub fn path(&self) -> Vec<StartStep> {
        self.steps.iter().map(|(_, step)| *step).collect()
    }
}
