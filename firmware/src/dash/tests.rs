//! Whole heats through `feed`: a boat on a round course of 4,021.2 m at 70 m/s, a receiver, a thumb.

use super::*;
use crate::course::CourseSettings;
use crate::gnss::Position;
use crate::input::{ProbeReading, Pulses};
use crate::output::{AlertState, Call, Counted, Tone};
use crate::run_in::boat::BoatModel;
use crate::run_in::lane::{Bend, LaneSettings, Turns};
use crate::run_in::{Advice, RunInSettings};
use crate::units::{CentiDegrees, MmPerSecond, NanoDegrees};
use crate::view::Phase;
use proptest::prelude::*;
use std::vec::Vec;

/// The board starts this long before the true zero.
const BOOT_TO_ZERO: Span = Span::from_secs(400);
pub(super) const ZERO_UTC: Utc = Utc::from_unix_micros(1_936_811_100_000_000);
const RADIUS_M: f64 = 640.0;
const SPEED_M_S: f64 = 70.0;

pub(super) fn t(ms: i64) -> Instant {
    Instant::BOOT.plus(BOOT_TO_ZERO + Span::from_millis(ms))
}

/// East and north of the middle of the round course, near latitude 45.
pub(super) fn position(east_m: f64, north_m: f64) -> Position {
    // Metres per degree at latitude 45 on WGS 84 by the usual series: 111,131.8 north, 78,846.8 east.
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(45.0 + north_m / 111_131.8), lon: nano(-30.0 + east_m / 78_846.8) }
}

pub(super) fn settings() -> Settings {
    let mut settings = Settings::bare();
    // This boat laps in 57 s; a window of 60 s would take its last milling lap for a start.
    settings.race.early_window = Span::from_secs(30);
    settings.course = Some(CourseSettings {
        line_left: position(RADIUS_M - 50.0, 0.0),
        line_right: position(RADIUS_M + 50.0, 0.0),
        line_sd: Millimetres::ZERO,
        end_tolerance: Millimetres::from_mm(2_000),
        lap_length: Millimetres::from_mm(4_021_239),
    });
    settings
}

/// A boat that crosses the line at `start_ms` and keeps its speed, before and after.
pub(super) struct Heat {
    pub(super) dash: Dash,
    start_ms: i64,
    /// When a leap second is inserted: from there the receiver's labels are a second behind.
    pub(super) leap_ms: Option<i64>,
    /// How far from the middle of the course it keeps.
    radius_m: f64,
    /// How far the board's clock is ahead of where it would be without restarts.
    pub(super) clock: Span,
    pub(super) decided: Vec<(i64, Output)>,
}

impl Heat {
    pub(super) fn new(settings: &Settings, start_ms: i64) -> Self {
        let (dash, clock) = (Dash::new(settings), Span::ZERO);
        Self { dash, start_ms, leap_ms: None, radius_m: RADIUS_M, clock, decided: Vec::new() }
    }

    /// The board's clock at a race time.
    pub(super) fn t(&self, ms: i64) -> Instant {
        t(ms).plus(self.clock)
    }

    pub(super) fn feed(&mut self, ms: i64, input: Input) {
        let out = self.dash.feed(self.t(ms), input);
        self.decided.extend(out.as_slice().iter().map(|output| (ms, *output)));
    }

    pub(super) fn press(&mut self, ms: i64, held_ms: i64) {
        self.feed(ms, Input::Edge { line: Line::Button, active: true });
        self.feed(ms + held_ms, Input::Edge { line: Line::Button, active: false });
    }

    pub(super) fn fix(&mut self, ms: i64) {
        let angle = (ms - self.start_ms) as f64 / 1e3 * SPEED_M_S / RADIUS_M;
        let label_ms = if self.leap_ms.is_some_and(|leap| ms >= leap) { ms - 1_000 } else { ms };
        let course = (-angle.to_degrees() * 100.0).round().rem_euclid(36_000.0) as i32;
        let fix = Fix {
            utc: ZERO_UTC.plus(Span::from_millis(label_ms)),
            position: position(self.radius_m * angle.cos(), self.radius_m * angle.sin()),
            speed: MmPerSecond::from_mm_s((SPEED_M_S * 1e3) as i32),
            course: CentiDegrees::from_centi(course % 36_000),
            position_sd: None,
            speed_sd: None,
            hdop_centi: None,
            valid: true,
        };
        self.feed(ms + 65, Input::Fix(fix));
    }

    /// Pulses and fixes from one race time to another, both whole seconds.
    pub(super) fn run(&mut self, from_s: i64, to_s: i64) {
        for ms in (from_s * 1_000..to_s * 1_000).step_by(100) {
            if ms % 1_000 == 0 {
                self.feed(ms, Input::Pps);
            }
            self.fix(ms);
        }
    }

    pub(super) fn found<T>(&self, pick: impl Fn(&Output) -> Option<T>) -> Vec<T> {
        self.decided.iter().filter_map(|(_, output)| pick(output)).collect()
    }
}

pub(super) fn call(output: &Output) -> Option<(Call, i64)> {
    if let Output::Call { call, margin, .. } = output { Some((*call, margin.as_micros())) } else { None }
}

fn counted(output: &Output) -> Option<Counted> {
    if let Output::Crossing { counted, .. } = output { Some(*counted) } else { None }
}

/// The round course as a lane: two bends whose middles are 2 m apart.
pub(super) fn with_run_in() -> Settings {
    let bend = |north: f64| Bend {
        centre: position(0.0, north),
        radius: Millimetres::from_mm((RADIUS_M * 1e3) as i64 - 1_000),
    };
    let lane = LaneSettings {
        bends: [bend(1.0), bend(-1.0)].into_iter().collect(),
        turns: Turns::Left,
        lane: 1,
        lane_width: Millimetres::from_mm(2_000),
        cut: None,
        entrance: None,
        tolerance: Millimetres::from_mm(20_000),
    };
    let boat = BoatModel { lag: Span::from_millis(1_300), ..BoatModel::demonstration() };
    let (response, sigma_most) = (Span::ZERO, Span::from_millis(500));
    Settings {
        run_in: Some(RunInSettings { lane, boat, risk_ppm: 10_000, response, sigma_most, speaks: true }),
        ..settings()
    }
}

/// A boat that keeps its 70 m/s will be 0.4 s late. Flat out it would be sooner, the more so the farther off it is:
/// at the line itself there is nothing left to gain, and the number has come down to what the call will be.
#[test]
#[cfg_attr(not(feature = "run-in"), ignore = "this program has no run-in")]
fn the_run_in_number_comes_down_to_the_call() {
    let settings = with_run_in();
    assert_eq!(settings.check(), Ok(()));
    let mut heat = Heat::new(&settings, 400);
    heat.run(-320, -300);
    let run_in = |heat: &Heat, ms: i64| heat.dash.view(t(ms)).run_in;
    assert_eq!(run_in(&heat, -300_001).map(|it| it.advice), Some(Advice::NoClock));
    heat.feed(-299_810, Input::Schedule { zero: ZERO_UTC });
    let mut margins = Vec::new();
    for second in [-12, -9, -6, -3, 0] {
        heat.run(second - 3, second);
        let view = run_in(&heat, second * 1_000).unwrap();
        margins.push(view.margin.unwrap().as_micros());
    }
    assert!(margins.windows(2).all(|pair| pair[0] < pair[1]), "{margins:?}");
    // The boat's equation in steps of a millisecond: 868 m from 70 m/s take 10.627 s, which is 1.373 s before zero.
    assert!((margins[0] + 1_373_000).abs() < 30_000, "{margins:?}");
    assert!((margins[4] - 400_000).abs() < 15_000, "{margins:?}");
    heat.run(0, 2);
    assert_eq!(heat.found(call).first().map(|call| call.0), Some(Call::Legal));
    assert_eq!(run_in(&heat, 2_000), None, "the start is made");
}

#[test]
#[cfg_attr(not(feature = "run-in"), ignore = "this program has no run-in")]
fn without_a_fresh_fix_the_run_in_says_so() {
    let mut heat = Heat::new(&with_run_in(), 400);
    heat.run(-320, -300);
    heat.feed(-299_810, Input::Schedule { zero: ZERO_UTC });
    heat.run(-299, -250);
    let advice = |ms: i64| heat.dash.view(t(ms)).run_in.map(|it| (it.advice, it.margin.is_some()));
    assert_eq!(advice(-250_000), Some((Advice::Hold, true)));
    assert_eq!(advice(-248_000), Some((Advice::NoFix, false)));
}

/// 2 pi 640 m = 4,021.239 m at 70 m/s is 57.446 s a lap: geometry.
#[test]
fn a_clean_heat_from_gun_to_flag() {
    let mut heat = Heat::new(&settings(), 400);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, -60);
    heat.press(-59_810, 120);
    heat.run(-59, 180);
    let calls = heat.found(call);
    assert_eq!(calls.len(), 1, "{calls:?}");
    assert_eq!(calls[0].0, Call::Legal);
    assert!((calls[0].1 - 400_000).abs() < 300, "{calls:?}");
    let laps = heat.found(|o| if let Output::Lap { lap, time, .. } = o { Some((*lap, *time)) } else { None });
    assert_eq!(laps.len(), 3);
    for (_, time) in &laps {
        assert!((time.as_micros() - 57_446_272).abs() < 400, "{laps:?}");
    }
    assert_eq!(heat.found(|o| matches!(o, Output::Finish { .. }).then_some(())).len(), 1);
    let milling = heat.found(counted).iter().filter(|c| **c == Counted::Milling).count();
    assert_eq!(milling, 5, "at -57, -114, -172, -229 and -287 s; they count for nothing");
    assert_eq!(heat.dash.view(t(180_000)).phase, Phase::Finished);
}

#[test]
fn a_jumped_gun_is_called_and_owes_a_lap() {
    let mut heat = Heat::new(&settings(), -500);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, 250);
    assert_eq!(heat.found(call).first().map(|c| c.0), Some(Call::Early));
    assert_eq!(heat.dash.view(t(100_000)).laps_owed, 4);
    let raised = |id: AlertId| {
        heat.found(|o| match o {
            Output::Alert { id: said, state: AlertState::Raised, .. } if *said == id => Some(()),
            _ => None,
        })
        .len()
    };
    assert_eq!(raised(AlertId::JumpedGun), 1);
    assert_eq!(raised(AlertId::LastLap), 1);
    assert_eq!(raised(AlertId::Finished), 1);
    assert_eq!(raised(AlertId::Approach), 4, "before each of four ends of laps");
}

#[test]
fn a_held_button_clears_the_heat_for_a_restart() {
    let mut heat = Heat::new(&settings(), 400);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, 100);
    assert_eq!(heat.dash.view(t(100_000)).phase, Phase::Racing);
    heat.feed(100_000, Input::Edge { line: Line::Button, active: true });
    assert_eq!(heat.dash.next_wake().map(|wake| wake <= t(102_000)), Some(true));
    heat.feed(102_000, Input::Tick);
    heat.feed(104_500, Input::Edge { line: Line::Button, active: false });
    assert_eq!(heat.found(|o| (*o == Output::Cleared).then_some(())).len(), 1, "once per hold");
    assert_eq!(heat.dash.view(t(105_000)).phase, Phase::Waiting);
    heat.press(110_000, 120);
    assert_eq!(heat.dash.view(t(111_000)).phase, Phase::Milling);
}

#[test]
fn seconds_are_counted_out_and_zero_sounds_once() {
    let mut heat = Heat::new(&settings(), 400);
    heat.press(-299_810, 120);
    while let Some(wake) = heat.dash.next_wake().filter(|wake| *wake < t(5_000)) {
        let ms = wake.since(t(0)).as_micros() / 1_000;
        let out = heat.dash.feed(wake, Input::Tick);
        heat.decided.extend(out.as_slice().iter().map(|output| (ms, *output)));
    }
    let cues = |tone: Tone| -> Vec<i64> {
        heat.decided.iter().filter(|(_, o)| *o == Output::Cue(tone)).map(|(ms, _)| *ms).collect()
    };
    assert_eq!(
        cues(Tone::Count),
        [-60_000, -30_000, -20_000, -10_000, -5_000, -4_000, -3_000, -2_000, -1_000]
    );
    assert_eq!(cues(Tone::Zero), [0]);
}

#[test]
fn a_schedule_given_before_any_fix_is_kept_until_utc_is_known() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-350_000, Input::Schedule { zero: ZERO_UTC });
    assert_eq!(heat.dash.view(t(-349_000)).phase, Phase::Waiting);
    heat.run(-320, 20);
    let view = heat.dash.view(t(-1_000));
    assert_eq!(view.race.map(|race| race.as_micros()), Some(-1_000_000));
    assert_eq!(heat.found(call).first().map(|c| c.0), Some(Call::Legal));
}

#[test]
fn refused_inputs_are_answered() {
    let mut heat = Heat::new(&settings(), 400);
    heat.run(-320, -310);
    heat.fix(-310_100);
    heat.feed(-400_000 + 1, Input::Tick);
    let refused = heat.found(|o| if let Output::Refused(why) = o { Some(*why) } else { None });
    assert!(refused.contains(&Refused::Repeated), "{refused:?}");
    assert!(refused.contains(&Refused::Late), "{refused:?}");
}

#[test]
fn clearing_forgets_a_schedule_that_still_waits_for_utc() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-350_000, Input::Schedule { zero: ZERO_UTC });
    heat.press(-340_000, 2_500);
    heat.run(-320, -310);
    assert_eq!(heat.dash.view(t(-310_000)).phase, Phase::Waiting);
}

#[test]
fn a_label_ahead_of_the_running_clock_is_from_the_future() {
    let mut heat = Heat::new(&settings(), 400);
    heat.run(-320, -310);
    let mut ahead = heat.dash.last_fix.map(|last| last.fix).unwrap();
    ahead.utc = ahead.utc.plus(Span::from_secs(5));
    heat.feed(-309_935, Input::Fix(ahead));
    assert_eq!(heat.decided.last().map(|d| d.1), Some(Output::Refused(Refused::FromTheFuture)));
}

/// The last leap second, in mid-countdown: labels 23:59:59, 23:59:60 (which counts like the 00 that follows), 00:00:00.
#[test]
fn a_leap_second_in_mid_countdown_moves_neither_zero_nor_the_call() {
    let calls = |leap_ms: Option<i64>| {
        let mut heat = Heat::new(&settings(), 400);
        heat.leap_ms = leap_ms;
        heat.run(-320, -300);
        heat.press(-299_810, 120);
        heat.run(-299, 20);
        heat.found(call)
    };
    let (plain, leapt) = (calls(None), calls(Some(-30_000)));
    assert_eq!(plain.len(), 1);
    assert_eq!(plain, leapt);
}

/// Heading past the right end by 30 m: nothing is said; between the ends the driver is told.
#[test]
fn nothing_is_said_of_a_line_that_will_be_passed_outside_its_ends() {
    for (radius_m, told) in [(RADIUS_M, 1), (RADIUS_M + 80.0, 0)] {
        let mut heat = Heat::new(&settings(), 400);
        heat.run(-320, -300);
        heat.press(-299_810, 120);
        heat.run(-299, 40);
        heat.radius_m = radius_m;
        heat.run(40, 57);
        let raised = |o: &Output| {
            let raised = matches!(o, Output::Alert { id: AlertId::Approach, state: AlertState::Raised, .. });
            raised.then_some(())
        };
        assert_eq!(heat.found(raised).len(), told, "at {radius_m} m");
    }
}

/// A floor above this boat's 70 m/s: it is too slow all the time, and owes the most there is.
pub(super) fn with_a_floor() -> Settings {
    let mut settings = settings();
    settings.floor = Some(crate::floor::FloorSettings {
        speed: MmPerSecond::from_mm_s(80_000),
        from: Span::from_secs(300),
        grace: Span::from_secs(5),
        penalty: Span::from_secs(15),
        units_max: 4,
    });
    settings
}

#[test]
fn the_finish_counts_in_what_the_speed_floor_cost() {
    let mut heat = Heat::new(&with_a_floor(), 400);
    heat.run(-320, -300);
    heat.press(-299_810, 120);
    heat.run(-299, 180);
    let penalties =
        heat.found(|o| if let Output::Finish { penalty, .. } = o { Some(*penalty) } else { None });
    assert_eq!(penalties, [Span::from_secs(60)]);
}

#[test]
fn no_fix_is_no_evidence_against_the_speed() {
    let mut heat = Heat::new(&with_a_floor(), 400);
    heat.press(-299_810, 120);
    (-280_000..-100_000).step_by(6_000).for_each(|ms| heat.fix(ms));
    assert_eq!(heat.found(|o| matches!(o, Output::Penalty { .. }).then_some(())), []);
}

/// What is shown at a race time of a heat in which the receiver falls silent 12 s before zero.
fn shown_when_fixes_stop(quiet: Span, ms: i64) -> Option<AlertId> {
    let mut settings = settings();
    settings.alerts.quiet_before_zero = quiet;
    let mut heat = Heat::new(&settings, 3_000);
    heat.feed(-299_810, Input::Edge { line: Line::Button, active: true });
    heat.feed(-299_700, Input::Edge { line: Line::Button, active: false });
    heat.fix(-13_000);
    heat.fix(-12_900);
    for at in (-12_000..=ms).step_by(100) {
        heat.feed(at, Input::Tick);
    }
    heat.dash.view(t(ms)).alert.map(|alert| alert.id)
}

#[test]
fn in_the_last_ten_seconds_only_warnings_are_shown_unless_the_owner_says_otherwise() {
    let ten = Span::from_secs(10);
    // Zero is where the press put it: some tens of milliseconds from the true one.
    for (quiet, ms, shown) in [
        (ten, -11_000, true),
        (ten, -9_500, false),
        (ten, -500, false),
        (ten, 500, true),
        (Span::ZERO, -9_500, true),
        (Span::ZERO, -500, true),
    ] {
        let expected = shown.then_some(AlertId::FixLost);
        assert_eq!(shown_when_fixes_stop(quiet, ms), expected, "{quiet:?} {ms}");
    }
}

/// Readings that jump about limits, bands and faults as no engine's do.
fn any_engine_input() -> impl Strategy<Value = Input> {
    let hot = prop_oneof![770_u32..790, 810_u32..860, 0_u32..1_300];
    let cold = prop_oneof![9 => Just(0x1900_u16), 1 => any::<u16>()];
    let faults = prop_oneof![8 => Just(0_u8), 1 => Just(1)];
    let chip = (0_u8..2, hot, cold, faults).prop_map(|(index, hot, cold, faults)| {
        let reading = ProbeReading::Max31856 { hot: hot << 12, cold, faults };
        Input::Probe { index, reading }
    });
    let speed = || prop_oneof![0_u16..2, 40_u16..50, 88_u16..92, 100_u16..115];
    let shafts = (speed(), speed()).prop_map(|(n1, n2)| Input::Shafts {
        n1: Pulses { count: n1 * 70, span: Span::from_secs(100) },
        n2: Pulses { count: n2 * 50, span: Span::from_secs(30) },
    });
    let turn = || (4_500_i64..9_000).prop_map(Span::from_micros);
    let turns = (turn(), turn(), turn()).prop_map(|(a, b, c)| Input::N2Turns { turns: [a, b, c] });
    let press = any::<bool>().prop_map(|active| Input::Edge { line: Line::Acknowledge, active });
    prop_oneof![6 => chip, 4 => shafts, 2 => turns, 1 => press, 1 => Just(Input::Tick)]
}

fn any_input() -> impl Strategy<Value = Input> {
    let line =
        prop_oneof![Just(Line::Button), Just(Line::GunContact), Just(Line::Acknowledge), Just(Line::Page)];
    let fix = (any::<i64>(), any::<i64>(), any::<i64>(), any::<i32>(), any::<i32>(), any::<bool>()).prop_map(
        |(utc, lat, lon, speed, course, valid)| {
            Input::Fix(Fix {
                utc: Utc::from_unix_micros(utc),
                position: Position { lat: NanoDegrees::from_nano(lat), lon: NanoDegrees::from_nano(lon) },
                speed: MmPerSecond::from_mm_s(speed),
                course: CentiDegrees::from_centi(course),
                position_sd: Some(Millimetres::from_mm(lat)),
                speed_sd: Some(MmPerSecond::from_mm_s(speed)),
                hdop_centi: Some(course as u16),
                valid,
            })
        },
    );
    let pulses =
        || (any::<u16>(), any::<i64>()).prop_map(|(count, us)| Pulses { count, span: Span::from_micros(us) });
    prop_oneof![
        Just(Input::Tick),
        Just(Input::Pps),
        (line, any::<bool>()).prop_map(|(line, active)| Input::Edge { line, active }),
        fix,
        any::<u32>().prop_map(|raw| Input::Probe { index: raw as u8, reading: ProbeReading::Max31855(raw) }),
        (pulses(), pulses()).prop_map(|(n1, n2)| Input::Shafts { n1, n2 }),
        any::<i64>().prop_map(|us| Input::Schedule { zero: Utc::from_unix_micros(us) }),
        crate::resume::tests::any_resume().prop_map(Input::Resume),
        proptest::array::uniform3(any::<i64>())
            .prop_map(|us| Input::N2Turns { turns: us.map(Span::from_micros) }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn the_next_wake_is_later_than_now_and_nothing_panics(
        inputs in proptest::collection::vec((any_input(), prop_oneof![0_i64..200_000, Just(0), any::<i64>()]), 0..120)
    ) {
        let mut dash = Dash::new(&settings());
        let mut at = Instant::BOOT;
        for (input, step) in inputs {
            at = at.plus(Span::from_micros(step));
            let _ = dash.feed(at, input);
            prop_assert!(dash.next_wake().is_none_or(|wake| wake > dash.now));
            let _ = crate::screen::draw(&dash.view(at), &dash.settings().screen);
        }
    }

    /// Each may come once at first, once every 2 s, and once for each time the driver acknowledged it.
    #[test]
    fn no_engine_alert_chatters_whatever_the_signal(
        inputs in proptest::collection::vec((any_engine_input(), 1_000_i64..150_000), 100..500)
    ) {
        let mut settings = settings();
        settings.engine.probes = 2;
        let mut dash = Dash::new(&settings);
        let mut at = Instant::BOOT;
        let mut counts = [(0_i64, 0_i64, 0_i64); crate::alerts::COUNT];
        for (input, step) in inputs {
            at = at.plus(Span::from_micros(step));
            for output in dash.feed(at, input).as_slice() {
                let Output::Alert { id, state, .. } = *output else { continue };
                let count = &mut counts[id as usize];
                match state {
                    AlertState::Raised => count.0 += 1,
                    AlertState::Cleared => count.1 += 1,
                    AlertState::Acknowledged => count.2 += 1,
                }
            }
        }
        let most = at.since(Instant::BOOT).as_micros() / 2_000_000 + 1;
        for (kind, (raised, cleared, acknowledged)) in crate::alerts::KINDS.iter().zip(counts) {
            let allowed = match kind.ends {
                crate::alerts::Ends::Acknowledged => acknowledged + 1,
                _ => most,
            };
            prop_assert!(raised <= allowed && cleared <= raised, "{:?}: {raised} of {allowed}", kind.id);
        }
    }

    #[test]
    fn race_time_never_runs_backwards_unless_a_decision_says_so(
        inputs in proptest::collection::vec((any_input(), 0_i64..3_000_000), 0..120)
    ) {
        let mut dash = Dash::new(&settings());
        let mut at = Instant::BOOT;
        let mut shown = None;
        for (input, step) in inputs {
            at = at.plus(Span::from_micros(step));
            let out = dash.feed(at, input);
            let announced = out.as_slice().iter().any(|o| matches!(o, Output::Zero { .. } | Output::Cleared));
            let race = dash.view(at).race;
            if let (Some(before), Some(now), false) = (shown, race, announced) {
                prop_assert!(now >= before);
            }
            shown = race;
        }
    }

    #[test]
    fn the_same_inputs_give_the_same_decisions(
        inputs in proptest::collection::vec((any_input(), 0_i64..1_000_000), 0..80)
    ) {
        let (mut one, mut two) = (Dash::new(&settings()), Dash::new(&settings()));
        let mut at = Instant::BOOT;
        for (input, step) in inputs {
            at = at.plus(Span::from_micros(step));
            prop_assert_eq!(one.feed(at, input), two.feed(at, input));
        }
    }

    #[test]
    fn no_press_sequence_makes_two_starts(presses in proptest::collection::vec((-310_000_i64..70_000, 20_i64..1_500), 0..25)) {
        let mut heat = Heat::new(&settings(), 300);
        let mut edges: Vec<(i64, bool)> = presses.iter().flat_map(|(at, held)| [(*at, true), (at + held, false)]).collect();
        edges.sort_unstable();
        let mut edges = edges.into_iter().peekable();
        for ms in (-320_000..75_000).step_by(100) {
            while let Some((at, active)) = edges.next_if(|(at, _)| *at <= ms) {
                heat.feed(at, Input::Edge { line: Line::Button, active });
            }
            heat.fix(ms);
        }
        // A button that overlapping presses keep down may clear the clock: then a new start is a new heat.
        let mut starts = 0;
        for (_, output) in &heat.decided {
            match output {
                Output::Cleared => starts = 0,
                Output::Crossing { counted: Counted::Start, .. } => starts += 1,
                _ => {}
            }
            prop_assert!(starts <= 1);
        }
    }

    #[test]
    fn a_tick_at_any_other_time_changes_no_decision(ticks in proptest::collection::vec(-320_000_i64..20_000, 0..30)) {
        let decisions = |ticks: &[i64]| {
            let mut heat = Heat::new(&settings(), 300);
            let mut ticks: Vec<i64> = ticks.to_vec();
            ticks.sort_unstable();
            let mut ticks = ticks.into_iter().peekable();
            for ms in (-320_000..20_000).step_by(100) {
                while let Some(tick) = ticks.next_if(|tick| *tick <= ms) {
                    heat.feed(tick.max(ms - 30), Input::Tick);
                }
                if ms % 1_000 == 0 {
                    heat.feed(ms, Input::Pps);
                }
                if ms == -299_800 {
                    heat.press(ms, 0);
                }
                heat.fix(ms);
            }
            heat.found(|o| (!matches!(o, Output::Cue(_))).then_some(*o))
        };
        prop_assert_eq!(decisions(&ticks), decisions(&[]));
    }
}
