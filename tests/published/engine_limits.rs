//! Time-limited engine limits and tachometers against published tables.
//!
//! The tables are for other engines than the owner's: they are test vectors here, never defaults.

use firmware::engine::limits::{Limit, Limited, Limits, Watch};
use firmware::engine::tach::TachSettings;
use firmware::engine::{Engine, EngineSettings};
use firmware::input::{ProbeReading, Pulses};
use firmware::output::{AlertId, Output, Outputs, Quantity};
use firmware::units::{CentiPercent, Instant, MilliCelsius, Span};
use proptest::prelude::*;

fn celsius(tenths: i32) -> MilliCelsius {
    MilliCelsius::from_milli(tenths * 100)
}

fn percent(tenths: i32) -> CentiPercent {
    CentiPercent::from_centi(tenths * 10)
}

/// A table from rows of tenths of a unit and seconds.
fn limits<T: Limited>(unit: fn(i32) -> T, rows: &[(i32, i64)], hysteresis: i32) -> Limits<T> {
    let row = |&(above, s): &(i32, i64)| Limit { threshold: unit(above), allowed: Span::from_secs(s) };
    Limits { rows: rows.iter().map(row).collect(), hysteresis: unit(hysteresis) }
}

/// Set A: TM 1-1510-223-10, table 5-1, EGT: no limit to 830 degrees, 840 for 5 minutes, 870 for 20 seconds,
/// never more.
const SET_A_EGT: [(i32, i64); 3] = [(8_300, 300), (8_400, 20), (8_700, 0)];
/// Set A: starting, 1,000 degrees for 5 seconds. Read as: above 870 for 5 s, above 1,000 never.
const SET_A_STARTING: [(i32, i64); 2] = [(8_700, 5), (10_000, 0)];
/// Set A: N1 104 %, never more.
const SET_A_N1: [(i32, i64); 1] = [(1_040, 0)];

/// Set B: limits flash cards of a military helicopter. EGT: no limit to 810 degrees, then 30 min, 10 min,
/// 2.5 min, 12 s, and never above 949.
const SET_B_EGT: [(i32, i64); 5] = [(8_100, 1_800), (8_510, 600), (8_780, 150), (9_030, 12), (9_490, 0)];
/// Set B: N1 no limit to 102.2 %, then 2.5 min, 12 s, and never above 107.
const SET_B_N1: [(i32, i64); 3] = [(1_022, 150), (1_060, 12), (1_070, 0)];
/// Set B: power turbine no limit to 105 %, then 20 s, 12 s, and never above 120.
const SET_B_N2: [(i32, i64); 3] = [(1_050, 20), (1_170, 12), (1_200, 0)];

/// Set C: TM 55-1510-215-10, engine restart and limits: 850 degrees for 2 s when accelerating. Read as: above 850 for
/// 2 s. No higher figure stands there for running.
const SET_C_ACCELERATING: [(i32, i64); 1] = [(8_500, 2)];
/// Set C: restart maximum 1,090 degrees. Read as: above it never.
const SET_C_RESTART: [(i32, i64); 1] = [(10_900, 0)];

/// Thresholds that are exceeded when the value goes from 0 to `value` for so many milliseconds and back to 0.
fn exceeded<T: Limited>(table: &Limits<T>, zero: T, value: T, ms: i64) -> Vec<i32> {
    let mut watch = Watch::new(Quantity::Egt, table);
    let start = Instant::from_micros(5_000_000);
    let mut out = Outputs::default();
    watch.update(Instant::BOOT, Some(zero), &mut out);
    watch.update(start, Some(value), &mut out);
    watch.update(start.plus(Span::from_millis(ms)), Some(zero), &mut out);
    assert!(!watch.is_exceeded() && !watch.is_timed() && watch.next_wake().is_none());
    let raised = |output: &Output| match *output {
        Output::Exceedance { threshold, over: false, .. } => Some(threshold),
        _ => None,
    };
    out.as_slice().iter().filter_map(raised).collect()
}

#[test]
fn the_worked_vectors_of_set_a_hold() {
    let table = limits(celsius, &SET_A_EGT, 50);
    let egt = |degrees, s: i64| exceeded(&table, celsius(0), celsius(degrees * 10), s * 1_000);
    assert_eq!(egt(871, 1), [870_000]);
    assert_eq!(egt(835, 299), []);
    assert_eq!(egt(835, 301), [830_000]);
    assert_eq!(egt(865, 19), []);
    assert_eq!(egt(865, 21), [840_000]);
    assert_eq!(egt(830, 86_400), [], "830 is inside, for ever");
    let starting = limits(celsius, &SET_A_STARTING, 50);
    assert_eq!(exceeded(&starting, celsius(0), celsius(9_990), 4_900), []);
    assert_eq!(exceeded(&starting, celsius(0), celsius(9_990), 5_100), [870_000]);
    let n1 = limits(percent, &SET_A_N1, 5);
    assert_eq!(exceeded(&n1, percent(0), percent(1_040), 3_600_000), []);
    assert_eq!(exceeded(&n1, percent(0), percent(1_041), 1), [10_400]);
}

#[test]
fn the_figures_of_set_c_hold() {
    let table = limits(celsius, &SET_C_ACCELERATING, 50);
    let egt = |degrees, ms| exceeded(&table, celsius(0), celsius(degrees * 10), ms);
    assert_eq!(egt(850, 60_000), []);
    assert_eq!(egt(900, 2_000), []);
    assert_eq!(egt(900, 2_001), [850_000]);
    let restart = limits(celsius, &SET_C_RESTART, 50);
    assert_eq!(exceeded(&restart, celsius(0), celsius(10_900), 60_000), []);
    assert_eq!(exceeded(&restart, celsius(0), celsius(10_901), 1), [1_090_000]);
}

/// The time left of a value that stands still since 5 s, and of one that rises, in milliseconds.
fn left<T: Limited>(table: &Limits<T>, value: T, since_s: i64, slope: i64) -> Option<(i64, bool)> {
    let mut watch = Watch::new(Quantity::Egt, table);
    let start = Instant::from_micros(5_000_000);
    watch.update(start, Some(value), &mut Outputs::default());
    let ahead = watch.ahead(start.plus(Span::from_secs(since_s)), value, slope, Span::from_secs(30));
    ahead.map(|(left, rising)| ((left.as_micros() + 500) / 1_000, rising))
}

/// Worked by hand from the tables: what is left is the allowance less the time above, to the first microsecond too
/// many; a rising value gets to a row after the way over its slope.
#[test]
fn the_time_left_is_that_of_the_tables_of_sets_a_b_and_c() {
    let a = limits(celsius, &SET_A_EGT, 50);
    assert_eq!(left(&a, celsius(8_300), 0, 0), None, "830 is inside, and stands still");
    assert_eq!(left(&a, celsius(8_350), 0, 0), Some((300_000, false)));
    assert_eq!(left(&a, celsius(8_350), 100, 0), Some((200_000, false)));
    assert_eq!(left(&a, celsius(8_650), 5, 0), Some((15_000, false)), "the shorter of two that run");
    assert_eq!(left(&a, celsius(8_650), 0, 1_000), Some((5_000, true)), "5 degrees at 1 a second to 870");
    assert_eq!(left(&a, celsius(7_990), 0, 1_000), None, "830 is 31 s off: too far ahead");
    assert_eq!(left(&a, celsius(8_000), 0, 1_000), Some((330_000, true)), "30 s to 830, and 300 s there");
    assert_eq!(left(&a, celsius(8_000), 0, 10_000), Some((7_000, true)), "870 in 7 s; 840 in 4 s and 20 s");

    let b = limits(percent, &SET_B_N1, 5);
    assert_eq!(left(&b, percent(1_061), 0, 0), Some((12_000, false)));
    assert_eq!(left(&b, percent(1_030), 50, 0), Some((100_000, false)));
    assert_eq!(left(&b, percent(1_050), 0, 100), Some((2_000, true)), "107 % in 2 s; 106 % in 1 s and 12 s");

    let c = limits(celsius, &SET_C_ACCELERATING, 50);
    assert_eq!(left(&c, celsius(8_600), 1, 0), Some((1_000, false)));
    assert_eq!(left(&c, celsius(8_300), 0, 20_000), Some((3_000, true)), "1 s to 850, and 2 s there");
    let restart = limits(celsius, &SET_C_RESTART, 50);
    assert_eq!(left(&restart, celsius(9_900), 0, 100_000), Some((1_000, true)));
}

#[test]
fn every_band_of_set_b_allows_its_time_and_no_more() {
    every_band(celsius, &SET_B_EGT);
    every_band(percent, &SET_B_N1);
    every_band(percent, &SET_B_N2);
}

fn every_band<T: Limited>(unit: fn(i32) -> T, rows: &[(i32, i64)]) {
    let table = limits(unit, rows, 30);
    for (place, &(threshold, seconds)) in rows.iter().enumerate() {
        let name = unit(threshold).raw();
        let lowest = unit(threshold + 1);
        let highest = rows.get(place + 1).map_or(unit(threshold + 500), |&(next, _)| unit(next));
        for value in [lowest, highest] {
            if seconds > 0 {
                assert_eq!(exceeded(&table, unit(0), value, seconds * 1_000 - 1), [], "just under {name}");
                assert_eq!(
                    exceeded(&table, unit(0), value, seconds * 1_000),
                    [],
                    "{name} to the microsecond"
                );
            }
            let over = exceeded(&table, unit(0), value, seconds * 1_000 + 1);
            assert_eq!(over, [name], "just over {name}");
        }
        // At its threshold a value is in the band below.
        let below = exceeded(&table, unit(0), unit(threshold), seconds * 1_000 + 1);
        assert!(!below.contains(&name));
    }
}

#[test]
fn peak_and_time_above_are_recorded_together() {
    // The rule in both sets: record the peak value and the time above the limit (TM 1-1510-223-10,
    // overtemperature text).
    let mut watch = Watch::new(Quantity::Egt, &limits(celsius, &SET_A_EGT, 50));
    let (mut out, second) = (Outputs::default(), |s: u64| Instant::from_micros(s * 1_000_000));
    for (s, degrees) in [(0, 700), (10, 845), (20, 866), (25, 850), (40, 838), (45, 834)] {
        watch.update(second(s), Some(celsius(degrees * 10)), &mut out);
    }
    // Above 840 from 10 to 40 s: 20 s are allowed. 838 is inside its hysteresis band of 5, 834 is out.
    let report = |above_us, over| Output::Exceedance {
        quantity: Quantity::Egt,
        threshold: 840_000,
        peak: 866_000,
        above: Span::from_micros(above_us),
        over,
    };
    assert_eq!(out.as_slice(), [report(30_000_000, false), report(30_000_000, true)]);
    assert_eq!(watch.next_wake(), Some(Instant::from_micros(310_000_001)), "above 830 since 10 s");
}

#[test]
fn the_wake_is_the_first_moment_that_is_longer_than_allowed() {
    let mut watch = Watch::new(Quantity::Egt, &limits(celsius, &SET_A_EGT, 50));
    let mut out = Outputs::default();
    watch.update(Instant::BOOT, Some(celsius(8_650)), &mut out);
    assert_eq!(watch.next_wake(), Some(Instant::from_micros(20_000_001)));
    watch.update(Instant::from_micros(20_000_000), Some(celsius(8_650)), &mut out);
    assert!(out.as_slice().is_empty());
    watch.update(Instant::from_micros(20_000_001), Some(celsius(8_650)), &mut out);
    assert!(watch.is_exceeded() && out.as_slice().len() == 1);
}

#[test]
fn a_limit_without_an_allowance_has_nothing_to_run_out() {
    let mut watch = Watch::new(Quantity::N1, &limits(percent, &SET_A_N1, 5));
    watch.update(Instant::BOOT, Some(percent(1_050)), &mut Outputs::default());
    assert!(watch.is_exceeded() && !watch.is_timed() && watch.next_wake().is_none());
}

#[test]
fn time_above_is_not_taken_back_by_a_clock_that_steps_back() {
    let mut watch = Watch::new(Quantity::Egt, &limits(celsius, &SET_A_EGT, 50));
    for ms in [10_000, 5_000, 10_000] {
        watch.update(Instant::from_micros(ms * 1_000), Some(celsius(8_650)), &mut Outputs::default());
    }
    assert_eq!(watch.next_wake(), Some(Instant::from_micros(30_000_001)));
}

#[test]
fn set_a_holds_through_chips_and_pulses_as_well() {
    for (degrees, seconds, limit) in [(835, 299, false), (835, 301, true), (865, 19, false), (865, 21, true)]
    {
        let mut settings = EngineSettings::demonstration();
        settings.egt_running = limits(celsius, &SET_A_EGT, 50);
        let mut engine = Engine::new(&settings);
        let warned = (0..=seconds * 10 + 5).any(|tenth| {
            let hot = if tenth < 5 || tenth >= seconds * 10 + 5 { 700 } else { degrees };
            read(&mut engine, tenth, hot)
        });
        assert_eq!(warned, limit, "{degrees} degrees for {seconds} s");
    }
}

/// Feeds a tenth of a second of a running engine; true when it warns of EGT.
fn read(engine: &mut Engine, tenth: u64, degrees: u32) -> bool {
    let (at, mut out) = (Instant::from_micros(tenth * 100_000), Outputs::default());
    let pulses = |count| Pulses { count, span: Span::from_millis(100) };
    engine.shafts(at, pulses(6), pulses(15), &mut out);
    engine.probe(at, 0, ProbeReading::Max31856 { hot: degrees << 12, cold: 0x1900, faults: 0 }, &mut out);
    engine.conditions(at).contains(&(AlertId::EgtLimit, true))
}

#[test]
fn the_speed_table_of_both_tachometer_generators_is_met() {
    // 4,200 rpm is 100 % (nameplate of an aircraft electric tachometer). A two-pole generator (MS28054-1, TM
    // 55-6680-234-40) gives one cycle a turn, 70 Hz; another unit, two cycles. Percent, rpm, and periods in us.
    let table = [
        (10, 420, 142_857.1, 71_428.6),
        (12, 504, 119_047.6, 59_523.8),
        (15, 630, 95_238.1, 47_619.0),
        (25, 1_050, 57_142.9, 28_571.4),
        (50, 2_100, 28_571.4, 14_285.7),
        (60, 2_520, 23_809.5, 11_904.8),
        (100, 4_200, 14_285.7, 7_142.9),
        (104, 4_368, 13_736.3, 6_868.1),
        (105, 4_410, 13_605.4, 6_802.7),
        (120, 5_040, 11_904.8, 5_952.4),
    ];
    let one = TachSettings { rpm_at_100: 4_200, cycles_per_turn: 1 };
    let two = TachSettings { rpm_at_100: 4_200, cycles_per_turn: 2 };
    for (percent, rpm, one_us, two_us) in table {
        let wanted = CentiPercent::from_centi(percent * 100);
        // One period, to the microsecond: 0.007 % or 0.014 % at 100 %, so 0.01 % or 0.02 % up to 120 %.
        for (tach, us, error) in [(one, one_us, 1), (two, two_us, 2)] {
            let got =
                tach.percent(Pulses { count: 1, span: Span::from_micros(f64::round(us) as i64) }).unwrap();
            assert!((got - wanted).abs() <= CentiPercent::from_centi(error), "{got:?} at {percent} %");
        }
        // A minute of pulses is the rpm itself.
        let minute = Pulses { count: rpm, span: Span::from_secs(60) };
        assert_eq!(one.percent(minute), Some(wanted));
        assert_eq!(two.percent(Pulses { count: rpm * 2, ..minute }), Some(wanted));
    }
}

#[test]
fn a_measured_generator_of_two_cycles_a_turn_is_met() {
    // Measured on a bench ("Interfacing to the tachogenerator"): 198 rpm gave 6.6 Hz, 394 rpm gave 13.08 Hz.
    let tach = TachSettings { rpm_at_100: 4_200, cycles_per_turn: 2 };
    let got = |count, s| tach.percent(Pulses { count, span: Span::from_secs(s) }).unwrap().as_centi();
    assert_eq!(got(66, 10), 471, "198 / 4,200 = 4.714 %");
    assert!((got(1_308, 100) - 938).abs() <= 4, "394 / 4,200 = 9.381 %, measured to 0.4 %");
}

#[test]
fn silence_is_two_periods_at_five_percent() {
    // 70 Hz type: 2 / 3.5 Hz = 0.57 s. 140 Hz type: 0.286 s.
    let tach = |cycles_per_turn| TachSettings { rpm_at_100: 4_200, cycles_per_turn };
    assert_eq!(tach(1).silence(), Span::from_micros(571_429));
    assert_eq!(tach(2).silence(), Span::from_micros(285_714));
    assert_eq!(tach(60).silence(), Span::from_millis(250), "reports come no faster than that");
}

#[test]
fn pulses_that_no_shaft_can_make_are_no_speed() {
    let tach = TachSettings { rpm_at_100: 4_200, cycles_per_turn: 1 };
    let speed = |count, us| tach.percent(Pulses { count, span: Span::from_micros(us) });
    assert_eq!(speed(0, 0), None);
    assert_eq!(speed(1, 0), None);
    assert_eq!(speed(1, -14_286), None);
    assert_eq!(speed(105, 1_000_000), Some(CentiPercent::from_centi(15_000)));
    assert_eq!(speed(106, 1_000_000), None, "151 %");
    assert_eq!(speed(1, 571_430), None, "slower than the silence");
}

/// A value every few milliseconds, or none, and the table of set A with its times over 100.
fn series() -> impl Strategy<Value = Vec<(u64, Option<i32>)>> {
    let value = prop_oneof![9 => (820_i32..880).prop_map(Some), 1 => Just(None)];
    prop::collection::vec((1_u64..1_500, value), 1..60)
}

fn quick() -> Limits<MilliCelsius> {
    let mut table = limits(celsius, &SET_A_EGT, 50);
    table.rows.iter_mut().for_each(|row| row.allowed = Span::from_micros(row.allowed.as_micros() / 100));
    table
}

/// Plays a series; gives every report of the row at `threshold`: peak, time above, and whether it closed.
fn reports(series: &[(u64, Option<i32>)], threshold: i32) -> Vec<(i32, i64, bool)> {
    let (mut watch, mut now, mut reports) = (Watch::new(Quantity::Egt, &quick()), 0, Vec::new());
    for &(later, value) in series {
        let mut out = Outputs::default();
        watch.update(Instant::from_micros(now * 1_000), value.map(|v| celsius(v * 10)), &mut out);
        now += later;
        let next = Instant::from_micros(now * 1_000);
        while let Some(due) = watch.next_wake().filter(|&due| due < next) {
            watch.update(due, value.map(|v| celsius(v * 10)), &mut out);
        }
        for output in out.as_slice() {
            match *output {
                Output::Exceedance { threshold: row, peak, above, over, .. } if row == threshold => {
                    reports.push((peak, above.as_micros(), over));
                }
                _ => {}
            }
        }
    }
    reports
}

/// The same by counting every millisecond: a plain model without clocks or wakes. Times are in milliseconds.
fn counted(series: &[(u64, Option<i32>)], threshold: i32, allowed_ms: i64) -> Vec<(i32, i64, bool)> {
    let (mut above, mut peak, mut exceeded, mut reports) = (0, 0, false, Vec::new());
    for &(lasts, value) in series {
        let back = value.is_some_and(|value| value * 1_000 <= threshold - 5_000);
        if (back || value.is_none()) && exceeded {
            reports.push((peak, above, true));
            exceeded = false;
        }
        if back {
            (above, peak) = (0, 0);
        }
        let Some(high) = value.map(|value| value * 1_000).filter(|&value| value > threshold) else {
            continue;
        };
        peak = peak.max(high);
        for _ in 0..lasts {
            if !exceeded && (above > allowed_ms || allowed_ms == 0) {
                exceeded = true;
                reports.push((peak, above, false));
            }
            above += 1;
            if !exceeded && above > allowed_ms {
                exceeded = true;
                reports.push((peak, above, false));
            }
        }
    }
    reports
}

proptest! {
    #[test]
    fn the_watch_agrees_with_counting_every_millisecond(series in series()) {
        for row in &quick().rows {
            let allowed = row.allowed.as_micros() / 1_000;
            let watched = reports(&series, row.threshold.raw());
            let counted = counted(&series, row.threshold.raw(), allowed);
            // The watch raises a row in the first microsecond too many, the model in that millisecond.
            let rounded = watched.iter().map(|&(peak, us, over)| (peak, (us + 999) / 1_000, over));
            prop_assert_eq!(rounded.collect::<Vec<_>>(), counted);
        }
    }

    #[test]
    fn no_exceedance_is_reported_at_its_threshold_or_within_its_time(series in series()) {
        for row in &quick().rows {
            for (peak, above, over) in reports(&series, row.threshold.raw()) {
                prop_assert!(peak > row.threshold.raw());
                let at_once = row.allowed == Span::ZERO && !over;
                prop_assert!(at_once || above > row.allowed.as_micros());
            }
        }
    }

    #[test]
    fn peak_and_time_above_never_decrease_within_an_exceedance(series in series()) {
        for row in &quick().rows {
            let mut open: Option<(i32, i64)> = None;
            for (peak, above, over) in reports(&series, row.threshold.raw()) {
                prop_assert_eq!(open.is_some(), over, "a report is opened once and closed once");
                prop_assert!(open.is_none_or(|(peak_then, above_then)| peak >= peak_then && above >= above_then));
                open = (!over).then_some((peak, above));
            }
        }
    }
}
