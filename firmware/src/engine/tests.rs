//! The engine room as dated scripts, and rules that hold for any run of inputs.

use std::vec::Vec;

use proptest::prelude::*;

use super::*;
use crate::output::Output;
use crate::units::Span;

fn ms(ms: u64) -> Instant {
    Instant::from_micros(ms * 1_000)
}

/// A MAX31856 that reads so many whole degrees, on a board of 25.
fn reads(degrees: i32) -> ProbeReading {
    ProbeReading::Max31856 { hot: (degrees as u32) << 12 & 0xFF_FFFF, cold: 0x1900, faults: 0 }
}

const OPEN: ProbeReading = ProbeReading::Max31856 { hot: 0, cold: 0x1900, faults: 1 };

/// Pulses over a second of a pickup that gives so many a second at 100 %.
fn pulses(percent: u32, hertz_at_100: u32) -> Pulses {
    Pulses { count: (percent * hertz_at_100) as u16, span: Span::from_secs(100) }
}

/// An engine, a clock that only its script moves, and what it decided.
struct Bench {
    engine: Engine,
    decided: Vec<Output>,
}

impl Bench {
    fn new() -> Self {
        Self { engine: Engine::new(&EngineSettings::demonstration()), decided: Vec::new() }
    }

    fn with(&mut self, call: impl FnOnce(&mut Engine, &mut Outputs)) {
        let mut out = Outputs::default();
        call(&mut self.engine, &mut out);
        assert_eq!(out.lost(), 0);
        self.decided.extend_from_slice(out.as_slice());
    }

    fn probe(&mut self, at: u64, reading: ProbeReading) {
        self.with(|engine, out| engine.probe(ms(at), 0, reading, out));
    }

    /// Speeds in percent; 0 is no signal.
    fn shafts(&mut self, at: u64, n1: u32, n2: u32) {
        // The demonstration pickups: 4,200 rpm is 70 a second, 10,000 rpm is 500 in 3 s.
        let n2 = Pulses { count: (n2 * 50) as u16, span: Span::from_secs(30) };
        self.with(|engine, out| engine.shafts(ms(at), pulses(n1, 70), n2, out));
    }

    fn tick(&mut self, at: u64) {
        self.with(|engine, out| engine.tick(ms(at), out));
    }

    /// Probe and shafts every 100 ms from `from` up to `to`.
    fn run(&mut self, from: u64, to: u64, degrees: i32, n1: u32, n2: u32) {
        for at in (from..to).step_by(100) {
            self.shafts(at, n1, n2);
            self.probe(at, reads(degrees));
        }
    }

    fn egt(&self, at: u64) -> Reading<MilliCelsius> {
        self.engine.gauges(ms(at)).egt
    }

    fn wants(&self, at: u64) -> Vec<AlertId> {
        self.engine.conditions(ms(at)).into_iter().filter_map(|(id, on)| on.then_some(id)).collect()
    }

    /// Thresholds exceeded so far, and whether each report was the closing one.
    fn exceedances(&self) -> Vec<(Quantity, i32, bool)> {
        let exceedance = |output: &Output| match *output {
            Output::Exceedance { quantity, threshold, over, .. } => Some((quantity, threshold, over)),
            _ => None,
        };
        self.decided.iter().filter_map(exceedance).collect()
    }
}

fn good(degrees: i32) -> Reading<MilliCelsius> {
    Reading::Good(MilliCelsius::from_milli(degrees * 1_000))
}

#[test]
fn with_nothing_connected_nothing_is_asked_for() {
    let mut bench = Bench::new();
    bench.tick(1_000_000);
    assert_eq!((bench.egt(1_000_000), bench.wants(1_000_000)), (Reading::Absent, Vec::new()));
    assert_eq!(bench.engine.next_wake(), None);
}

#[test]
fn a_glitch_shows_nothing_and_the_last_good_value_ages() {
    let mut bench = Bench::new();
    bench.probe(0, reads(250));
    bench.probe(100, OPEN);
    bench.probe(200, OPEN);
    assert_eq!(bench.egt(499), good(250));
    assert_eq!(bench.engine.next_wake(), Some(ms(500)));
    assert_eq!(bench.egt(500), Reading::Absent, "asking needs no tick first");
    bench.tick(500);
    assert_eq!(bench.wants(500), [AlertId::ProbeStale]);
    bench.probe(600, reads(251));
    assert_eq!((bench.egt(600), bench.wants(600)), (good(251), Vec::new()));
}

#[test]
fn three_bad_reads_are_a_fault_and_three_good_ones_end_it() {
    let mut bench = Bench::new();
    bench.probe(0, reads(250));
    for at in [100, 200, 300] {
        assert_eq!(bench.egt(at), good(250));
        bench.probe(at, OPEN);
    }
    assert_eq!((bench.egt(300), bench.wants(300)), (Reading::Fault, [AlertId::ProbeFault].to_vec()));
    bench.probe(400, reads(250));
    bench.probe(500, OPEN);
    bench.probe(600, reads(250));
    bench.probe(700, reads(250));
    assert_eq!(bench.egt(250), Reading::Fault, "a loose wire is not trusted at its first good read");
    bench.probe(800, reads(250));
    assert_eq!((bench.egt(800), bench.wants(800)), (good(250), Vec::new()));
}

#[test]
fn a_chip_that_never_answers_is_a_fault() {
    let mut bench = Bench::new();
    (0..3).for_each(|read| bench.probe(read * 100, ProbeReading::NoAnswer));
    assert_eq!((bench.egt(200), bench.wants(200)), (Reading::Fault, [AlertId::ProbeFault].to_vec()));
}

#[test]
fn egt_is_the_hottest_sound_probe() {
    let mut settings = EngineSettings::demonstration();
    settings.probes = 2;
    let mut bench = Bench { engine: Engine::new(&settings), decided: Vec::new() };
    for at in [0, 100, 200] {
        bench.probe(at, OPEN);
        bench.with(|engine, out| engine.probe(ms(at), 1, reads(650), out));
        bench.with(|engine, out| engine.probe(ms(at), 2, reads(1_000), out));
    }
    assert_eq!(bench.egt(200), good(650), "a third probe is not fitted");
    assert_eq!(bench.wants(200), [AlertId::ProbeFault]);
}

#[test]
fn a_cold_probe_on_a_running_engine_is_a_fault() {
    // The frame of a MAX31855 with T+ tied to ground, seen in a support thread: 21 degrees, no fault bit.
    let grounded = ProbeReading::Max31855(0x0150_1790);
    let mut bench = Bench::new();
    bench.probe(0, grounded);
    assert!(matches!(bench.egt(0), Reading::Good(_)), "at rest it may be true");
    for at in [100, 200, 300] {
        bench.shafts(at, 60, 30);
        bench.probe(at, grounded);
    }
    assert_eq!(bench.egt(300), Reading::Fault);
}

#[test]
fn a_shaft_without_signal_is_absent_and_never_zero() {
    let mut bench = Bench::new();
    bench.shafts(0, 60, 30);
    assert_eq!(bench.engine.gauges(ms(0)).n1, Reading::Good(CentiPercent::from_centi(6_000)));
    for at in (100..1_000).step_by(100) {
        bench.shafts(at, 0, 0);
    }
    let gauges = bench.engine.gauges(ms(1_000));
    assert_eq!((gauges.n1, gauges.n2), (Reading::Absent, Reading::Absent));
}

#[test]
fn a_missing_shaft_is_a_caution_only_while_the_engine_runs() {
    let mut bench = Bench::new();
    bench.run(0, 2_000, 250, 15, 0);
    assert_eq!(bench.wants(2_000), [], "cranking: N2 may stand still");
    bench.run(2_000, 4_000, 600, 60, 30);
    assert_eq!(bench.wants(3_900), []);
    bench.run(4_000, 6_000, 600, 60, 0);
    assert_eq!(bench.wants(5_900), [], "idling at the dock with the power shaft at rest");
    bench.run(6_000, 10_000, 600, 90, 0);
    assert_eq!(bench.wants(9_900), [], "it may take a boat that leaves the dock some seconds");
    bench.run(10_000, 12_000, 600, 90, 0);
    assert_eq!(bench.wants(11_900), [AlertId::N2Signal], "under power it turns");
    bench.run(12_000, 20_000, 600, 60, 0);
    assert_eq!(bench.wants(19_900), [AlertId::N2Signal], "lifting for a turn mends no pickup");
    bench.run(20_000, 50_000, 600, 60, 0);
    assert_eq!(bench.wants(49_900), [], "back at the dock");
    bench.run(50_000, 52_000, 600, 0, 30);
    assert_eq!(bench.wants(51_900), [AlertId::N1Signal]);
    bench.run(52_000, 54_000, 200, 0, 0);
    assert_eq!(bench.wants(53_900), [], "stopped");
}

#[test]
fn the_sensors_may_begin_one_after_the_other() {
    let mut bench = Bench::new();
    bench.shafts(0, 60, 0);
    assert_eq!(bench.wants(0), [], "EGT has just as long as if it had been heard before");
    bench.tick(500);
    assert_eq!(bench.wants(500), [AlertId::ProbeStale]);
}

#[test]
fn either_sign_of_a_running_engine_makes_n1_missed() {
    let mut bench = Bench::new();
    bench.run(0, 1_000, 200, 0, 30);
    assert_eq!(bench.wants(900), [AlertId::N1Signal], "the power shaft turns");
    let mut bench = Bench::new();
    bench.run(0, 1_000, 600, 0, 0);
    assert_eq!(
        bench.wants(900),
        [AlertId::N1Signal],
        "it burns; how fast is not known, so N2 may stand still"
    );
}

#[test]
fn a_lost_probe_does_not_leave_its_last_caution_standing() {
    let mut bench = Bench::new();
    bench.run(0, 1_000, 790, 90, 90);
    assert_eq!(bench.wants(900), [AlertId::EgtHigh]);
    for at in (1_000..2_000).step_by(100) {
        bench.shafts(at, 90, 90);
    }
    assert_eq!(bench.wants(1_900), [AlertId::ProbeStale]);
}

#[test]
fn n1_wavering_at_self_sustaining_speed_does_not_swap_the_tables() {
    let mut bench = Bench::new();
    let n1 = |count| Pulses { count, span: Span::from_secs(100) };
    // 45 %, then 44.6 and 44.4 %: the demonstration's N1 hysteresis is 0.5 %.
    for (at, count, running) in [(0, 3_150, true), (100, 3_122, true), (200, 3_108, false)] {
        bench.with(|engine, out| engine.shafts(ms(at), n1(count), Pulses::default(), out));
        assert_eq!(bench.engine.running, running, "at {at} ms");
    }
}

#[test]
fn an_input_stamped_too_early_counts_from_the_latest_moment_seen() {
    let mut bench = Bench::new();
    bench.probe(10_000, reads(250));
    bench.probe(5_000, reads(251));
    assert_eq!(bench.egt(10_499), good(251));
    assert_eq!(bench.engine.next_wake(), Some(ms(10_500)));
}

#[test]
fn a_hot_start_is_judged_by_the_starting_table() {
    let mut bench = Bench::new();
    bench.run(0, 10_100, 850, 20, 0);
    assert_eq!(bench.exceedances(), [], "10 s above 800 are allowed while starting");
    bench.run(10_100, 10_300, 850, 20, 0);
    assert_eq!(bench.exceedances(), [(Quantity::Egt, 800_000, false)]);
    assert_eq!(bench.wants(10_200), [AlertId::EgtLimit, AlertId::EgtHigh]);
    bench.run(10_300, 10_600, 901, 20, 0);
    assert_eq!(bench.exceedances()[1..], [(Quantity::Egt, 900_000, false)]);
}

#[test]
fn reaching_self_sustaining_speed_changes_the_table() {
    let mut bench = Bench::new();
    bench.run(0, 5_000, 860, 20, 0);
    assert_eq!(bench.exceedances(), []);
    bench.run(5_000, 5_100, 860, 45, 10);
    assert_eq!(bench.exceedances(), [(Quantity::Egt, 850_000, false)]);
}

#[test]
fn losing_n1_in_a_race_keeps_the_running_table() {
    let mut bench = Bench::new();
    bench.run(0, 2_000, 700, 95, 95);
    bench.run(2_000, 4_000, 700, 0, 95);
    bench.run(4_000, 4_100, 860, 0, 95);
    assert_eq!(bench.exceedances(), [(Quantity::Egt, 850_000, false)]);
    // Fire out, N1 still unknown: the next start is a start.
    bench.run(4_100, 6_000, 200, 0, 0);
    bench.run(6_000, 6_100, 860, 0, 0);
    assert_eq!(bench.exceedances()[1..], [(Quantity::Egt, 850_000, true)]);
}

#[test]
fn time_alone_exceeds_a_limit() {
    let mut settings = EngineSettings::demonstration();
    settings.egt_stale_after = Span::from_secs(60);
    let mut bench = Bench { engine: Engine::new(&settings), decided: Vec::new() };
    bench.shafts(0, 80, 80);
    bench.probe(0, reads(830));
    while let Some(due) = bench.engine.next_wake().filter(|&due| due <= ms(20_000)) {
        bench.with(|engine, out| engine.tick(due, out));
    }
    // N1 has gone silent meanwhile, which leaves the running table on.
    assert_eq!(bench.engine.next_wake(), Some(Instant::from_micros(20_000_001)));
    assert_eq!(bench.exceedances(), []);
    bench.tick(20_001);
    assert_eq!(bench.exceedances(), [(Quantity::Egt, 820_000, false)]);
}

#[test]
fn overspeed_is_said_at_the_first_report_above_it() {
    let mut bench = Bench::new();
    bench.shafts(0, 95, 112);
    assert!(!bench.wants(0).contains(&AlertId::N2Overspeed), "at the limit is inside");
    bench.shafts(50, 95, 113);
    assert_eq!(bench.wants(50)[..2], [AlertId::N2Overspeed, AlertId::N2Limit]);
    assert_eq!(bench.exceedances().last(), Some(&(Quantity::N2, 11_200, false)));
}

#[test]
fn noise_that_no_shaft_can_make_is_no_speed() {
    let mut bench = Bench::new();
    bench.shafts(0, 95, 95);
    bench.shafts(50, 95, 151);
    assert_eq!(bench.engine.gauges(ms(50)).n2, Reading::Good(CentiPercent::from_centi(9_500)));
    assert_eq!(bench.exceedances(), []);
}

#[test]
fn a_dropout_ends_the_report_but_gives_no_time_back() {
    let mut bench = Bench::new();
    bench.run(0, 15_000, 830, 90, 90);
    // Last read at 14.9 s: the value holds until 15.4 s, so 15.4 s of the 20 are used.
    bench.tick(30_000);
    assert_eq!((bench.egt(30_000), bench.exceedances()), (Reading::Absent, Vec::new()));
    bench.run(30_000, 34_600, 830, 90, 90);
    assert_eq!(bench.exceedances(), []);
    bench.run(34_600, 34_800, 830, 90, 90);
    assert_eq!(bench.exceedances(), [(Quantity::Egt, 820_000, false)]);
    bench.tick(60_000);
    assert_eq!(bench.exceedances()[1..], [(Quantity::Egt, 820_000, true)]);
}

#[test]
fn the_demonstration_settings_pass_their_own_check() {
    assert_eq!(EngineSettings::demonstration().check(), Ok(()));
    assert!(EngineSettings::demonstration().demonstration);
}

#[test]
fn a_setting_that_cannot_be_right_is_named_with_its_rule() {
    let broken = |change: fn(&mut EngineSettings)| {
        let mut settings = EngineSettings::demonstration();
        change(&mut settings);
        settings.check().unwrap_err()
    };
    let said = |fault: EngineFault| std::format!("{fault}");
    assert_eq!(said(broken(|s| s.probes = 5)), "probes: must be from 0 to 4");
    assert_eq!(said(broken(|s| s.n2_tach.rpm_at_100 = 0)), "n2_tach.rpm_at_100: must be from 100 to 100000");
    assert_eq!(said(broken(|s| s.n1.rows.clear())), "n1: needs at least one row");
    let below = broken(|s| s.n2_overspeed = CentiPercent::from_centi(10_000));
    assert_eq!(said(below), "n2_overspeed: must be from 10800 to 15000");
    let narrow = broken(|s| s.egt_running.hysteresis = MilliCelsius::from_milli(2_999));
    assert_eq!(said(narrow), "egt_running: hysteresis must be from 3000 to 50000");
    let swapped = broken(|s| s.egt_running.rows.swap(0, 1));
    assert_eq!(swapped, EngineFault { field: "egt_running", rule: EngineRule::ThresholdRises { row: 2 } });
    let longer = broken(|s| s.egt_starting.rows[1].allowed = Span::from_secs(10));
    assert_eq!(longer, EngineFault { field: "egt_starting", rule: EngineRule::TimeFalls { row: 2 } });
}

/// One input, so many milliseconds after the one before.
#[derive(Clone, Copy, Debug)]
enum Step {
    Probe(ProbeReading),
    Shafts(Pulses, Pulses),
    Tick,
}

fn steps() -> impl Strategy<Value = Vec<(u64, Step)>> {
    let reading = prop_oneof![
        8 => (600_i32..950).prop_map(reads),
        1 => Just(OPEN),
        1 => any::<u32>().prop_map(ProbeReading::Max31855),
        1 => (any::<u32>(), any::<u16>(), any::<u8>())
            .prop_map(|(hot, cold, faults)| ProbeReading::Max31856 { hot, cold, faults }),
    ];
    let shaft = || {
        prop_oneof![
            4 => (80_u32..120).prop_map(|percent| pulses(percent, 70)),
            1 => Just(Pulses::default()),
            1 => (any::<u16>(), any::<i64>()).prop_map(|(count, us)| Pulses { count, span: Span::from_micros(us) }),
        ]
    };
    let step = prop_oneof![
        4 => reading.prop_map(Step::Probe),
        4 => (shaft(), shaft()).prop_map(|(n1, n2)| Step::Shafts(n1, n2)),
        1 => Just(Step::Tick),
    ];
    let pause = prop_oneof![6 => 0_u64..300, 2 => 300_u64..1_000, 1 => 1_000_u64..30_000];
    prop::collection::vec((pause, step), 1..120)
}

fn feed(engine: &mut Engine, at: Instant, step: Step, decided: &mut Vec<Output>) {
    let mut out = Outputs::default();
    match step {
        Step::Probe(reading) => engine.probe(at, 0, reading, &mut out),
        Step::Shafts(n1, n2) => engine.shafts(at, n1, n2, &mut out),
        Step::Tick => engine.tick(at, &mut out),
    }
    decided.extend_from_slice(out.as_slice());
}

/// Pickups alike on both shafts, and values that last, so that time can run out between inputs.
fn patient() -> Engine {
    let mut settings = EngineSettings::demonstration();
    settings.n2_tach = settings.n1_tach;
    settings.egt_stale_after = Span::from_secs(5);
    Engine::new(&settings)
}

proptest! {
    #[test]
    fn a_caller_who_never_ticks_gets_the_same_decisions_as_a_punctual_one(steps in steps()) {
        let (mut punctual, mut lazy) = (patient(), patient());
        let (mut promptly, mut late, mut now) = (Vec::new(), Vec::new(), 0);
        for (later, step) in steps {
            now += later;
            while let Some(due) = punctual.next_wake().filter(|&due| due < ms(now)) {
                feed(&mut punctual, due, Step::Tick, &mut promptly);
            }
            feed(&mut punctual, ms(now), step, &mut promptly);
            feed(&mut lazy, ms(now), step, &mut late);
            prop_assert_eq!(punctual.gauges(ms(now)), lazy.gauges(ms(now)));
            prop_assert_eq!(punctual.conditions(ms(now)), lazy.conditions(ms(now)));
        }
        prop_assert_eq!(promptly, late);
    }

    #[test]
    fn the_next_wake_is_later_than_now_whatever_came(steps in steps()) {
        let (mut engine, mut decided, mut now) = (patient(), Vec::new(), 0);
        for (later, step) in steps {
            now += later;
            feed(&mut engine, ms(now), step, &mut decided);
            prop_assert!(engine.next_wake().is_none_or(|due| due > ms(now)));
        }
    }

    #[test]
    fn a_clock_that_runs_backwards_changes_no_answer_already_given(steps in steps()) {
        let (mut engine, mut decided) = (patient(), Vec::new());
        for (back, step) in steps {
            feed(&mut engine, ms(1_000_000 - back), step, &mut decided);
        }
        for output in decided {
            if let Output::Exceedance { above, .. } = output {
                prop_assert!(above >= Span::ZERO && above < Span::from_secs(40));
            }
        }
    }
}

/// The probe shows 845 degrees, below the running limit of 850 that none may pass; it reads 2 % low, so the junction is at
/// 862. The chip's word is in 1/128 degree, 19 bits above five unused ones.
#[test]
fn the_engine_decides_by_the_corrected_temperature() {
    let shown = ProbeReading::Max31856 { hot: (845 * 128) << 5, cold: 25 << 8, faults: 0 };
    let boils = MilliCelsius::from_milli(100_000);
    let made = crate::calibration::Date(22_416);
    let low = crate::calibration::TwoPoint {
        ice: MilliCelsius::from_milli(0),
        boiling: MilliCelsius::from_milli(98_000),
        boils_at: boils,
        made,
    };
    let exceeded = |points| {
        let mut settings = EngineSettings::demonstration();
        settings.calibrated.0[0] = points;
        let mut bench = Bench { engine: Engine::new(&settings), decided: Vec::new() };
        for at in (0..5_000).step_by(100) {
            bench.shafts(at, 95, 95);
            bench.probe(at, shown);
        }
        bench.decided.iter().any(|decided| matches!(decided, Output::Exceedance { .. }))
    };
    assert!(!exceeded(None), "845 degrees as shown are below 850");
    assert!(exceeded(Some(low)), "corrected they are above");
}
