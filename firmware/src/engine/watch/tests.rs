//! What is watched beside the limits, as dated scripts and as rules that hold for any signal.

use std::vec::Vec;

use proptest::prelude::*;

use crate::engine::suffered::{Account, Accounts};
use crate::engine::tach::TachSettings;
use crate::engine::*;
use crate::io::lookout::Lookout;
use crate::output::Output;

fn us(us: u64) -> Instant {
    Instant::from_micros(us)
}

fn wants(engine: &Engine, at: Instant) -> Vec<AlertId> {
    engine.conditions(at).into_iter().filter_map(|(id, on)| on.then_some(id)).collect()
}

/// Pickups: turns a minute at full speed and pulses a turn.
const PICKUPS: [(u32, u16); 3] = [(10_000, 1), (4_200, 1), (4_200, 2)];

/// An engine with such a pickup on its power shaft.
fn with_pickup((rpm_at_100, cycles_per_turn): (u32, u16)) -> EngineSettings {
    EngineSettings {
        n2_tach: TachSettings { rpm_at_100, cycles_per_turn },
        ..EngineSettings::demonstration()
    }
}

/// Edges through the lookout, which is never at a loss for words; true when one of both alarms is asked for.
fn alarms(settings: &EngineSettings, edges: &[u64]) -> bool {
    let (mut engine, mut out) = (Engine::new(settings), Outputs::default());
    let mut lookout = Lookout::new(&Engine::watched(settings));
    let mut asks = |lookout: &mut Lookout, until: Instant| {
        let Some(due) = lookout.due().filter(|due| *due < until) else { return false };
        lookout.take(due).is_some_and(|turns| {
            engine.n2_turns(due, turns, &mut out);
            let wants = wants(&engine, due);
            wants.contains(&AlertId::N2Unloaded) || wants.contains(&AlertId::N2Overspeed)
        })
    };
    let mut asked = false;
    for edge in edges {
        asked |= asks(&mut lookout, us(*edge));
        lookout.edge(us(*edge));
        lookout.renew();
    }
    asked | asks(&mut lookout, us(u64::MAX))
}

proptest! {
    /// Anywhere within a turn, at any speed below overspeed.
    #[test]
    fn a_single_spurious_pulse_is_no_alarm(pickup in 0..3_usize, centi in 6_000_u64..11_150, place in 0.001_f64..0.999) {
        let settings = with_pickup(PICKUPS[pickup]);
        let hertz_at_100 = u64::from(PICKUPS[pickup].0) * u64::from(PICKUPS[pickup].1);
        let period = 60_000_000 * 10_000 / hertz_at_100 / centi;
        let mut edges: Vec<u64> = (0..40).map(|n| 1_000_000 + n * period).collect();
        prop_assert!(!alarms(&settings, &edges));
        edges.push(edges[20] + (period as f64 * place) as u64);
        edges.sort_unstable();
        prop_assert!(!alarms(&settings, &edges));
    }

    /// A pulse that does not come.
    #[test]
    fn a_missing_pulse_is_no_alarm(pickup in 0..3_usize, centi in 6_000_u64..11_000) {
        let settings = with_pickup(PICKUPS[pickup]);
        let hertz_at_100 = u64::from(PICKUPS[pickup].0) * u64::from(PICKUPS[pickup].1);
        let period = 60_000_000 * 10_000 / hertz_at_100 / centi;
        let mut edges: Vec<u64> = (0..40).map(|n| 1_000_000 + n * period).collect();
        edges.remove(20);
        prop_assert!(!alarms(&settings, &edges));
    }

    #[test]
    fn nothing_is_asked_for_below_the_speed_from_which_a_rise_counts(rise in 1_u64..500) {
        // From 10 to 55 %: a boat that gets going, however briskly.
        let mut edges: Vec<u64> = Vec::new();
        let (mut at, mut pct) = (1_000_000_f64, 10.0_f64);
        while pct < 55.0 {
            edges.push(at as u64);
            let period = 600_000.0 / pct;
            at += period;
            pct += rise as f64 * period * 1e-6;
        }
        prop_assert!(!alarms(&EngineSettings::demonstration(), &edges));
    }
}

#[test]
fn teeth_that_are_not_cut_evenly_are_no_news() {
    // Four teeth, the angle between them up to 5 % off: every turn is alike all the same.
    let settings = with_pickup((10_000, 4));
    let mut lookout = Lookout::new(&Engine::watched(&settings));
    let (mut at, mut news) = (1_000_000, 0);
    for edge in 0..4_000 {
        at += 1_500 + [60, -75, 30, -15][edge % 4];
        news += usize::from(lookout.edge(us(at as u64)));
        if edge % 33 == 0 {
            lookout.renew();
        }
    }
    assert_eq!(news, 0);
}

#[test]
fn a_shaft_that_stays_too_fast_is_told_at_once_and_then_at_the_pace_of_reports() {
    let mut lookout = Lookout::new(&Engine::watched(&EngineSettings::demonstration()));
    let mut told = Vec::new();
    for edge in 0..600_u64 {
        // 120 % of 10,000 a minute: 5,000 us a turn; a regular report every ten turns.
        let now = us(1_000_000 + edge * 5_000);
        if let Some(turns) = lookout.take(now) {
            told.push(edge);
            assert_eq!(turns[2], Span::from_micros(5_000));
        }
        lookout.edge(now);
        if edge % 10 == 9 {
            lookout.renew();
        }
    }
    assert_eq!(told.first(), Some(&2), "the first whole turn, before the next has ended");
    assert!((59..=64).contains(&told.len()), "4 at first, then one a report: {}", told.len());
}

#[test]
fn an_idle_lookout_says_nothing() {
    let mut lookout = Lookout::idle();
    assert!((0..100).all(|edge| !lookout.edge(us(edge * 10))));
    assert_eq!(lookout.take(us(10_000)), None);
}

/// A MAX31856 that reads so many whole degrees, with its own temperature in whole degrees.
fn reads(hot: i32, cold: i32) -> ProbeReading {
    ProbeReading::Max31856 { hot: (hot as u32) << 12 & 0xFF_FFFF, cold: (cold << 8) as u16, faults: 0 }
}

/// An engine under a script of tenths of a second.
struct Bench {
    engine: Engine,
    tenth: u64,
    decided: Vec<Output>,
}

impl Bench {
    fn new(probes: u8) -> Self {
        let settings = EngineSettings { probes, ..EngineSettings::demonstration() };
        Self { engine: Engine::new(&settings), tenth: 0, decided: Vec::new() }
    }

    fn at(&self) -> Instant {
        us(self.tenth * 100_000)
    }

    /// A tenth of a second with these speeds in percent (0 is no signal) and these probes.
    fn tenth(&mut self, (n1, n2): (u32, u32), probes: &[ProbeReading]) {
        let (at, mut out) = (self.at(), Outputs::default());
        // 4,200 a minute are 70 a second at 100 %; 10,000 are 500 in 3 s.
        let n1 = Pulses { count: (n1 * 70) as u16, span: Span::from_secs(100) };
        let n2 = Pulses { count: (n2 * 50) as u16, span: Span::from_secs(30) };
        self.engine.shafts(at, n1, n2, &mut out);
        for (index, reading) in probes.iter().enumerate() {
            self.engine.probe(at, index as u8, *reading, &mut out);
        }
        assert_eq!(out.lost(), 0);
        self.decided.extend_from_slice(out.as_slice());
        self.tenth += 1;
    }

    fn run(&mut self, tenths: u64, shafts: (u32, u32), probes: &[ProbeReading]) {
        (0..tenths).for_each(|_| self.tenth(shafts, probes));
    }

    fn wants(&self) -> Vec<AlertId> {
        wants(&self.engine, self.at())
    }

    fn ahead(&self) -> Option<(Quantity, i64, bool)> {
        // Asked at the moment of the last reading.
        let at = us((self.tenth - 1) * 100_000);
        self.engine.ahead(at).map(|it| (it.quantity, it.left.as_micros() / 1_000, it.is_extrapolated))
    }
}

#[test]
fn shafts_that_do_not_belong_together_are_told_after_their_grace() {
    let mut bench = Bench::new(1);
    let fire = [reads(700, 25)];
    bench.run(49, (95, 15), &fire);
    assert_eq!(bench.wants(), [], "a boat that gets going, a propeller that ventilates");
    bench.run(10, (95, 60), &fire);
    bench.run(49, (95, 15), &fire);
    assert_eq!(bench.wants(), [], "the grace begins anew");
    bench.run(5, (95, 15), &fire);
    assert_eq!(bench.wants(), [AlertId::ShaftMismatch]);
    bench.run(1, (70, 15), &fire);
    assert_eq!(bench.wants(), [], "he lifted");
}

#[test]
fn two_probes_apart_are_told_and_neither_is_called_right() {
    let mut bench = Bench::new(2);
    bench.run(100, (90, 80), &[reads(700, 25), reads(660, 25)]);
    assert_eq!(bench.wants(), [], "40 degrees are allowed");
    bench.run(49, (90, 80), &[reads(701, 25), reads(660, 25)]);
    assert_eq!(bench.wants(), []);
    bench.run(3, (90, 80), &[reads(701, 25), reads(660, 25)]);
    assert_eq!(bench.wants(), [AlertId::ProbeSplit]);
    assert_eq!(bench.engine.trust(bench.at())[..3], [Trust::Doubtful, Trust::Doubtful, Trust::None]);
    bench.run(1, (90, 80), &[reads(701, 25), reads(664, 25)]);
    assert_eq!(bench.wants(), [AlertId::ProbeSplit], "not back inside by 5 degrees yet");
    bench.run(1, (90, 80), &[reads(701, 25), reads(666, 25)]);
    assert_eq!(bench.wants(), []);
}

#[test]
fn a_probe_that_reads_low_for_a_minute_has_aged_and_one_alone_never() {
    let mut bench = Bench::new(2);
    bench.run(605, (90, 80), &[reads(700, 25), reads(670, 25)]);
    assert_eq!(bench.wants(), []);
    bench.run(20, (90, 80), &[reads(700, 25), reads(670, 25)]);
    assert_eq!(bench.wants(), [AlertId::ProbeAged]);
    assert_eq!(bench.engine.trust(bench.at())[..2], [Trust::Sound, Trust::Doubtful]);
    let mut alone = Bench::new(1);
    alone.run(900, (90, 80), &[reads(600, 25)]);
    assert_eq!(alone.wants(), []);
}

/// Both follow the same gas, one with a lag of 0.5 s, its mate with one of `lag_s`; up and down by 150 degrees.
fn two_lags(lag_s: f64) -> Vec<AlertId> {
    let mut bench = Bench::new(2);
    let (mut quick, mut slow) = (600.0_f64, 600.0_f64);
    for tenth in 0..600 {
        let gas = if (tenth / 100) % 2 == 0 { 600.0 } else { 750.0 };
        quick += (gas - quick) * (1.0 - (-0.1_f64 / 0.5).exp());
        slow += (gas - slow) * (1.0 - (-0.1_f64 / lag_s).exp());
        bench.run(1, (90, 80), &[reads(quick as i32, 25), reads(slow as i32, 25)]);
    }
    bench.wants()
}

#[test]
fn a_probe_that_follows_more_slowly_than_its_mate_has_aged() {
    assert_eq!(two_lags(0.5), []);
    assert_eq!(two_lags(0.7), []);
    assert!(two_lags(3.0).contains(&AlertId::ProbeAged));
}

#[test]
fn a_cold_junction_that_no_cockpit_has_is_told() {
    let mut bench = Bench::new(1);
    bench.run(20, (60, 30), &[reads(600, 85)]);
    assert_eq!(bench.wants(), []);
    bench.run(20, (60, 30), &[reads(600, 90)]);
    assert_eq!(bench.wants(), [AlertId::ColdJunction]);
    assert_eq!(bench.engine.trust(bench.at())[0], Trust::Doubtful);
    bench.run(20, (60, 30), &[reads(600, 40)]);
    bench.run(20, (60, 30), &[reads(600, 40)]);
    assert_eq!(bench.wants(), []);
    // 20 degrees in a second: a chip whose bus hangs, or that is being soldered.
    for step in 0..10 {
        bench.run(1, (60, 30), &[reads(600, 40 + 2 * step)]);
    }
    assert_eq!(bench.wants(), [AlertId::ColdJunction]);
}

#[test]
fn the_seconds_left_are_those_of_the_row_that_runs() {
    // Demonstration rows: 780 for 300 s, 820 for 20 s, 850 never.
    let mut bench = Bench::new(1);
    bench.run(10, (90, 80), &[reads(700, 25)]);
    assert_eq!(bench.ahead(), None);
    bench.run(1, (90, 80), &[reads(790, 25)]);
    assert!(matches!(bench.ahead(), Some((Quantity::Egt, _, _))));
    bench.run(100, (90, 80), &[reads(790, 25)]);
    assert_eq!(bench.ahead(), Some((Quantity::Egt, 290_000, false)));
}

#[test]
fn a_value_that_rises_is_followed_to_the_limit_it_will_reach() {
    let mut bench = Bench::new(1);
    bench.run(10, (90, 80), &[reads(700, 25)]);
    // 10 degrees a second from 700: 840 after 14 s; a second more to 850.
    for tenth in 0..=140 {
        bench.run(1, (90, 80), &[reads(700 + tenth, 25)]);
    }
    let Some((Quantity::Egt, ms, true)) = bench.ahead() else { panic!("{:?}", bench.ahead()) };
    assert!((ms - 1_000).abs() <= 100, "{ms}");
}

#[test]
fn time_running_and_in_bands_adds_up_and_a_restart_of_the_dash_is_no_start() {
    let mut bench = Bench::new(1);
    bench.run(50, (20, 0), &[reads(250, 25)]); // cranking: it does not burn
    bench.run(100, (30, 0), &[reads(650, 25)]); // 10 s in 600 to 700
    bench.run(300, (60, 30), &[reads(720, 25)]); // 30 s in 700 to 750
    bench.run(200, (95, 90), &[reads(760, 25)]); // 20 s in 750 to 800
    bench.run(1, (95, 90), &[reads(760, 25)]);
    let account = bench.engine.accounts().total;
    assert_eq!((account.starts, account.hot_starts), (1, 0));
    assert_eq!(account.run_ms, 50_000);
    assert_eq!(account.bands_ms, [0, 10_000, 30_000, 20_000, 0, 0]);
    assert_eq!(bench.engine.accounts().heat, account);

    let (known, mut again) = (*bench.engine.accounts(), Bench::new(1));
    again.engine.resume(&known);
    again.run(101, (95, 90), &[reads(760, 25)]);
    let account = again.engine.accounts().total;
    assert_eq!((account.starts, account.run_ms), (1, 60_000));
    again.engine.begin_heat();
    assert_eq!(*again.engine.accounts(), Accounts { heat: Account::default(), total: account });
}

#[test]
fn a_hot_start_and_an_exceedance_are_counted_with_both_shafts() {
    let mut bench = Bench::new(1);
    bench.run(10, (20, 0), &[reads(100, 25)]);
    bench.run(30, (30, 0), &[reads(910, 25)]); // above 900: at once
    bench.run(20, (20, 0), &[reads(250, 25)]); // given up
    assert_eq!(bench.engine.accounts().total.hot_starts, 1);
    bench.run(100, (60, 30), &[reads(600, 25)]);
    let account = bench.engine.accounts().total;
    assert_eq!((account.starts, account.hot_starts), (2, 1));
    bench.run(5, (99, 95), &[reads(860, 25)]);
    bench.run(20, (99, 95), &[reads(700, 25)]);
    let egt = bench.engine.accounts().total.excess[0];
    assert_eq!((egt.count, egt.peak), (2, 910_000));
    assert_eq!(egt.n1, Some(CentiPercent::from_centi(3_000)));
    let told =
        |output: &Output| matches!(output, Output::Suffered { what: Suffering::HotStarts, total: 1, .. });
    assert_eq!(bench.decided.iter().filter(|output| told(output)).count(), 1);
}
