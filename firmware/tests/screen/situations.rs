//! One picture for each situation a driver can meet.

use firmware::output::{AlertId, Call, Gauges, Level, Quantity, Reading, StartStep, Tie};
use firmware::run_in::Advice;
use firmware::run_in::learn::Offer;
use firmware::screen::{CAUTION_PAGES, Frame, ScreenSettings, Units, draw, draw_bench, draw_cautions};
use firmware::units::{CentiPercent, MilliCelsius, Millimetres, MmPerSecond, Span};
use firmware::view::{
    Ahead, CallView, LapView, Phase, RunInView, StartAct, StartView, StarterView, SurveyStands, SurveyView,
    Trust, View,
};

use crate::art::{Canvas, assert_page_picture, assert_picture};
use crate::views::{alert, call, lap, run_in, running, waiting};

fn shows(name: &str, view: View) {
    assert_picture(name, &Canvas::from(&draw(&view, &ScreenSettings::default())));
}

/// A picture of the run-in, which `docs/driving.md` shows too.
fn shows_run_in(name: &str, title: &str, view: View) {
    let canvas = Canvas::from(&draw(&view, &ScreenSettings::default()));
    assert_picture(&format!("run-in-{name}"), &canvas);
    assert_page_picture(name, title, &canvas);
}

/// A picture of a start, which `docs/engine.md` shows too.
fn shows_start(name: &str, title: &str, view: View) {
    let canvas = Canvas::from(&draw(&view, &ScreenSettings::default()));
    assert_picture(&format!("start-{name}"), &canvas);
    assert_page_picture(&format!("start-{name}"), title, &canvas);
}

/// A picture of a survey, which `docs/survey.md` shows too.
fn shows_survey(name: &str, title: &str, stands: SurveyStands) {
    let survey = Some(SurveyView { number: 3, stands, accuracy: Millimetres::from_mm(700) });
    let speed = Some(MmPerSecond::from_mm_s(90));
    let canvas =
        Canvas::from(&draw(&View { survey, speed, tie: Tie::Pps, ..waiting() }, &ScreenSettings::default()));
    assert_picture(&format!("survey-{name}"), &canvas);
    assert_page_picture(&format!("survey-{name}"), title, &canvas);
}

#[test]
fn a_mark_is_averaged() {
    let stands =
        SurveyStands::Averaging { fixes: 3_120, time: Span::from_secs(312), sd: Millimetres::from_mm(878) };
    shows_survey("averaging", "A mark is averaged: 0.88 m so far, 0.70 m are asked", stands);
}

#[test]
fn a_mark_is_taken() {
    shows_survey("taken", "A mark is taken", SurveyStands::Marked { sd: Millimetres::from_mm(699) });
}

#[test]
fn a_moving_boat_makes_no_mark() {
    shows_survey("moving", "No mark: the boat moves", SurveyStands::Moving);
}

#[test]
fn an_armed_clock_has_no_survey_before_it() {
    let survey =
        Some(SurveyView { number: 1, stands: SurveyStands::Ready, accuracy: Millimetres::from_mm(700) });
    let armed = running(Phase::Milling, -200_000);
    let settings = ScreenSettings::default();
    assert!(draw(&View { survey, ..armed }, &settings) == draw(&armed, &settings));
}

/// A start at the dock, before the first gun.
fn starting(step: StartStep, in_step_s: i64, egt_c: i32, n1_centi: i32) -> (View, StartView) {
    let gauges = Gauges {
        egt: Reading::Good(MilliCelsius::from_milli(egt_c * 1_000)),
        n1: Reading::Good(CentiPercent::from_centi(n1_centi)),
        n2: Reading::Absent,
    };
    let start = StartView {
        step,
        in_step: Span::from_secs(in_step_s),
        to_limit: None,
        starter: StarterView::On { left: Span::from_secs(31) },
        act: None,
        demonstration: true,
    };
    (View { gauges, ..waiting() }, start)
}

#[test]
fn a_start_waits_for_its_light_off() {
    let (view, start) = starting(StartStep::FuelOn, 3, 31, 1_540);
    shows_start("fuel-on", "Fuel on: light-off is awaited", View { start: Some(start), ..view });
}

#[test]
fn a_start_has_lit_and_heats() {
    let (view, mut start) = starting(StartStep::Lit, 2, 486, 1_870);
    start.to_limit = Some(Span::from_millis(6_480));
    shows_start("lit", "Lit: EGT would be at its limit in 6.4 s", View { start: Some(start), ..view });
}

#[test]
fn a_hot_start_says_what_to_do() {
    let (view, mut start) = starting(StartStep::StarterHigh, 3, 741, 2_210);
    (start.to_limit, start.act) = (Some(Span::from_millis(1_390)), Some(StartAct::FuelOffKeepCranking));
    let view = View { start: Some(start), ..view };
    shows_start(
        "hot",
        "Hot start: fuel off, keep cranking",
        alert(view, AlertId::HotStart, Level::Warning, false, 0),
    );
}

#[test]
fn a_start_is_done_and_the_starter_rests() {
    let (view, mut start) = starting(StartStep::Ready, 4, 562, 6_200);
    start.starter = StarterView::Rests { left: Span::from_secs(41) };
    shows_start("ready", "Ready: it idles by itself", View { start: Some(start), ..view });
}

#[test]
fn a_start_with_the_clock_armed_takes_one_line_only() {
    let (_, start) = starting(StartStep::Accelerating, 7, 640, 3_410);
    let view = View { start: Some(start), ..running(Phase::Milling, -284_300) };
    shows_start("armed", "Armed: the start takes the line below the clock", view);
}

#[test]
fn before_the_first_gun_there_is_no_time_to_show() {
    shows("waiting", waiting());
}

#[test]
fn milling_with_five_minutes_to_go() {
    shows("milling", running(Phase::Milling, -299_700));
}

#[test]
fn zero_has_moved_by_more_than_chance_explains() {
    let moved = View { zero_moved: Some(Span::from_millis(-1_750)), ..running(Phase::Milling, -59_600) };
    shows("zero-moved", alert(moved, AlertId::ZeroMoved, Level::Caution, false, 0));
}

#[test]
fn the_dash_was_restarted_and_goes_on_with_less_certain_a_zero() {
    let zero_sigma = Some(Span::from_millis(143));
    shows("resumed", View { resumed: true, zero_sigma, ..running(Phase::Milling, -187_050) });
}

#[test]
fn the_dash_was_restarted_and_zero_cannot_be_found_until_utc_is_known() {
    shows("finding-zero", View { finding_zero: true, ..waiting() });
}

#[test]
fn without_a_course_the_dash_says_that_it_is_a_clock_alone() {
    shows("no-course", View { no_course: true, ..waiting() });
}

#[test]
fn inside_the_window_the_last_tenth_stays_until_zero_has_come() {
    let just_before = Some(Span::from_micros(-1));
    shows("window", View { race: just_before, tie: Tie::Holdover, ..running(Phase::Window, 0) });
}

#[test]
fn zero_is_past_and_the_bow_has_not_crossed() {
    shows("late", View { tie: Tie::Arrivals, ..running(Phase::Late, 0) });
}

#[test]
fn flat_out_now_would_jump_the_gun() {
    shows_run_in(
        "hold",
        "Hold: flat out now would cross 1.42 s early",
        View { run_in: run_in(Advice::Hold, -1_420), ..running(Phase::Window, -24_600) },
    );
}

#[test]
fn flat_out_now_is_right() {
    shows_run_in(
        "go",
        "Go: flat out now crosses 0.18 s after zero",
        View { run_in: run_in(Advice::Go, 180), ..running(Phase::Window, -13_200) },
    );
}

#[test]
fn flat_out_and_still_late() {
    shows_run_in(
        "late",
        "Late: flat out now crosses 2.95 s after zero",
        View { run_in: run_in(Advice::Late, 2_950), ..running(Phase::Window, -4_700) },
    );
}

#[test]
fn off_course_there_is_no_number() {
    let run_in = Some(RunInView::without(Advice::OffCourse, true));
    shows_run_in("off-course", "Off course: no number", View { run_in, ..running(Phase::Milling, -93_000) });
}

#[test]
fn without_a_fix_there_is_no_number() {
    let run_in = Some(RunInView::without(Advice::NoFix, true));
    let view = View { run_in, speed: None, ..running(Phase::Window, -31_000) };
    shows_run_in(
        "no-fix",
        "No fix: no number, and a caution",
        alert(view, AlertId::FixLost, Level::Caution, false, 0),
    );
}

#[test]
fn too_uncertain_for_advice_there_is_no_number() {
    let sigma = Some(Span::from_millis(640));
    let run_in = Some(RunInView { sigma, ..RunInView::without(Advice::TooUncertain, true) });
    shows_run_in("unsure", "Too uncertain: no number", View { run_in, ..running(Phase::Milling, -64_200) });
}

#[test]
fn zero_has_moved_in_the_run_in_and_an_alert_takes_the_scale_s_place() {
    let moved = Some(Span::from_millis(-1_750));
    let view =
        View { run_in: run_in(Advice::Late, 1_990), zero_moved: moved, ..running(Phase::Window, -9_600) };
    shows_run_in(
        "zero-moved",
        "Zero has moved by 1.75 s, and the margin with it",
        alert(view, AlertId::ZeroMoved, Level::Caution, false, 0),
    );
}

/// What four hot laps of an invented boat have taught.
fn learned() -> Option<Offer> {
    Some(Offer {
        pull_now_mm_s2: 4_120,
        pull_learned_mm_s2: 4_380,
        bend_now: MmPerSecond::from_mm_s(55_136),
        bend_learned: MmPerSecond::from_mm_s(54_200),
        forecasts: 3,
        bias_ms: -30,
        spread_ms: 41,
    })
}

#[test]
fn what_hot_laps_have_taught_is_offered() {
    let view =
        View { offer: learned(), tie: Tie::Pps, gauges: running(Phase::Milling, 0).gauges, ..waiting() };
    let canvas = Canvas::from(&draw(&view, &ScreenSettings::default()));
    assert_picture("learned", &canvas);
    assert_page_picture("learned", "What hot laps have taught, to be accepted", &canvas);
    let fresh = View { offer: learned().map(|offer| Offer { forecasts: 0, ..offer }), ..view };
    assert!(canvas != Canvas::from(&draw(&fresh, &ScreenSettings::default())));
}

#[test]
fn an_alert_takes_the_offer_s_place_altogether() {
    let plain = alert(waiting(), AlertId::PpsLost, Level::Caution, true, 0);
    let with = View { offer: learned(), ..plain };
    let settings = ScreenSettings::default();
    assert!(Canvas::from(&draw(&plain, &settings)) == Canvas::from(&draw(&with, &settings)));
}

#[test]
fn the_start_was_early() {
    let view = View { call: call(Call::Early, -132), laps_owed: 4, ..running(Phase::Racing, 1_900) };
    shows("early", alert(view, AlertId::JumpedGun, Level::Warning, false, 0));
}

#[test]
fn the_start_was_legal() {
    shows("legal", View { call: call(Call::Legal, 214), ..running(Phase::Racing, 12_345) });
}

#[test]
fn the_start_is_too_close_to_call() {
    shows("too-close", View { call: call(Call::TooClose, 13), ..running(Phase::Racing, 8_000) });
}

#[test]
fn a_lap_is_done_and_the_last_one_begins() {
    let view = View {
        call: call(Call::Legal, 214),
        laps_done: 2,
        last_lap: lap(),
        demo_limits: false,
        ..running(Phase::Racing, 105_400)
    };
    shows("lap", alert(view, AlertId::LastLap, Level::Advisory, false, 0));
}

#[test]
fn the_heat_is_run() {
    let view = View {
        call: call(Call::Legal, 214),
        laps_done: 3,
        last_lap: lap(),
        ..running(Phase::Finished, 158_200)
    };
    shows("finished", view);
}

#[test]
fn a_warning_with_two_more_behind_it() {
    let view = running(Phase::Window, -42_010);
    shows("warning", alert(view, AlertId::EgtLimit, Level::Warning, false, 2));
}

#[test]
fn a_caution_that_the_driver_has_acknowledged() {
    let view = View { tie: Tie::None, speed: None, ..running(Phase::Milling, -187_050) };
    shows("caution", alert(view, AlertId::FixLost, Level::Caution, true, 1));
}

/// A picture of the engine's affairs, which `docs/engine-running.md` shows too.
fn shows_engine(name: &str, title: &str, view: View) {
    let canvas = Canvas::from(&draw(&view, &ScreenSettings::default()));
    assert_picture(name, &canvas);
    assert_page_picture(name, title, &canvas);
}

fn hot(egt_milli: i32) -> Gauges {
    Gauges { egt: Reading::Good(MilliCelsius::from_milli(egt_milli)), ..running(Phase::Racing, 0).gauges }
}

#[test]
fn the_label_of_a_gauge_whose_limit_is_at_hand_makes_way_for_the_seconds_left() {
    let left = Span::from_millis(12_900);
    let ahead = Some(Ahead { quantity: Quantity::Egt, left, is_extrapolated: false });
    let view =
        View { ahead, gauges: hot(834_000), laps_done: 1, last_lap: lap(), ..running(Phase::Racing, 95_000) };
    let view = alert(view, AlertId::EgtHigh, Level::Caution, false, 0);
    shows_engine("engine-ahead", "EGT 834 degrees: 12 seconds until the limit is exceeded", view);
}

#[test]
fn two_probes_that_disagree_leave_a_mark_beside_the_figure() {
    let mut view =
        View { gauges: hot(741_000), laps_done: 1, last_lap: lap(), ..running(Phase::Racing, 95_000) };
    view.trust = [Trust::Doubtful, Trust::Doubtful, Trust::None, Trust::None];
    let view = alert(view, AlertId::ProbeSplit, Level::Caution, false, 0);
    shows_engine("engine-doubt", "EGT 741 degrees, in doubt: two probes disagree", view);
}

#[test]
fn a_broken_sensor_is_a_fault_and_never_a_number() {
    let gauges = Gauges { egt: Reading::Fault, n1: Reading::Absent, ..running(Phase::Milling, 0).gauges };
    let view = View { gauges, ..running(Phase::Milling, -65_000) };
    shows("fault", alert(view, AlertId::ProbeFault, Level::Caution, false, 0));
}

#[test]
fn every_text_at_its_longest() {
    let far = Span::from_secs(100_000);
    let view = View {
        call: Some(CallView { call: Call::TooClose, margin: Span::from_millis(-99_990), sigma: far }),
        laps_done: u16::MAX,
        laps_owed: u16::MAX,
        gauges: Gauges { egt: Reading::Fault, n1: Reading::Fault, n2: Reading::Fault },
        ..running(Phase::Finished, -5_999_900)
    };
    shows("longest", alert(view, AlertId::JumpedGun, Level::Caution, true, u8::MAX));
}

#[test]
fn kilometres_per_hour_at_their_longest() {
    let last_lap = lap().map(|lap| LapView { time: Span::from_millis(5_999_990), ..lap });
    let view = View { laps_done: 1, last_lap, ..running(Phase::Racing, 3_600_000 * 2) };
    let frame = draw(&view, &ScreenSettings { units: Units::KmPerHour });
    assert_picture("kilometres", &Canvas::from(&frame));
}

#[test]
fn cautions_before_anything_else() {
    for page in 0..CAUTION_PAGES {
        let mut frame = Frame::new();
        draw_cautions(&mut frame, page).unwrap();
        assert_picture(&format!("cautions-{}", page + 1), &Canvas::from(&frame));
    }
}

#[test]
fn a_larger_display_gets_larger_digits() {
    let view = alert(running(Phase::Milling, -187_050), AlertId::SpeedFloor, Level::Caution, false, 0);
    assert_picture("wide", &Canvas::of(&view, 256, 64));
    assert_picture("square", &Canvas::of(&view, 128, 128));
}

/// Rule B6. The clock, and all else below the line, is what it is without the bench.
#[test]
fn on_the_bench_the_top_line_says_so_and_everything_below_it_is_as_ever() {
    for view in [
        waiting(),
        running(Phase::Milling, -299_700),
        running(Phase::Window, -4_400),
        running(Phase::Racing, 61_300),
    ] {
        let plain = draw(&view, &ScreenSettings::default());
        let mut frame = plain.clone();
        let Ok(()) = draw_bench(&mut frame);
        // Six rows of eight in a page's bytes, the uppermost the lowest bit.
        for (place, (bench, plain)) in frame.bytes().iter().zip(plain.bytes()).enumerate() {
            let below = if place < 128 { 0b1100_0000 } else { 0xFF };
            assert_eq!(bench & below, plain & below, "{place}");
        }
        let dark: u32 = frame.bytes()[..128].iter().map(|column| (!column & 0x3F).count_ones()).sum();
        assert!((100..300).contains(&dark), "letters, and light around them: {dark} dots");
    }
    let mut frame = draw(&running(Phase::Milling, -83_400), &ScreenSettings::default());
    let Ok(()) = draw_bench(&mut frame);
    let canvas = Canvas::from(&frame);
    assert_picture("bench", &canvas);
    assert_page_picture("bench", "On the bench: nothing here is a start", &canvas);
}
