//! A rescue boat beside a buoy, a hand on the acknowledge button, and a clock that comes first.

use proptest::prelude::*;
use std::vec::Vec;

use crate::course::Plane;
use crate::dash::Dash;
use crate::dash::tests::{Heat, ZERO_UTC, position, settings, t};
use crate::gnss::{Fix, Position};
use crate::input::{Input, Line};
use crate::output::{Output, Tone, ZeroSource};
use crate::units::{CentiDegrees, Instant, Millimetres, MmPerSecond, Span};
use crate::view::SurveyStands;

/// Five minutes before anything happens, at rest 10 m north of the middle.
fn boat(heat: &mut Heat, from_ms: i64, to_ms: i64, mm_s: i32) {
    for ms in (from_ms..to_ms).step_by(100) {
        if ms % 1_000 == 0 {
            heat.feed(ms, Input::Pps);
        }
        let fix = Fix {
            utc: ZERO_UTC.plus(Span::from_millis(ms)),
            position: buoy(),
            speed: MmPerSecond::from_mm_s(mm_s),
            course: CentiDegrees::from_centi(0),
            position_sd: None,
            speed_sd: None,
            hdop_centi: None,
            valid: true,
        };
        heat.feed(ms + 65, Input::Fix(fix));
    }
}

fn buoy() -> Position {
    position(640.0, 10.0)
}

fn acknowledge(heat: &mut Heat, ms: i64, active: bool) {
    heat.feed(ms, Input::Edge { line: Line::Acknowledge, active });
}

fn stands(heat: &Heat, ms: i64) -> Option<SurveyStands> {
    heat.dash.view(t(ms)).survey.map(|survey| survey.stands)
}

type Marked = (u8, Position, i64, u16, u16);

fn marks(heat: &Heat) -> Vec<Marked> {
    heat.found(|output| match *output {
        Output::Marked { number, position, sd, fixes, seconds } => {
            Some((number, position, sd.as_mm(), fixes, seconds))
        }
        _ => None,
    })
}

/// Fixes since -390 s, and a hold of 3 s at -380 s.
fn in_survey() -> Heat {
    let mut heat = Heat::new(&settings(), 400);
    boat(&mut heat, -390_000, -380_000, 100);
    acknowledge(&mut heat, -380_000, true);
    boat(&mut heat, -379_900, -376_000, 100);
    acknowledge(&mut heat, -375_990, false);
    assert_eq!(stands(&heat, -375_990), Some(SurveyStands::Ready));
    heat
}

fn pressed(heat: &mut Heat, ms: i64) {
    acknowledge(heat, ms, true);
    acknowledge(heat, ms + 200, false);
}

#[test]
fn a_hold_begins_a_survey_a_press_begins_a_mark_and_its_accuracy_ends_it() {
    let mut heat = in_survey();
    pressed(&mut heat, -375_950);
    boat(&mut heat, -375_700, -300_000, 100);
    let Some(SurveyStands::Averaging { fixes, sd, .. }) = stands(&heat, -300_000) else { panic!() };
    assert!(fixes > 700 && sd == Millimetres::from_mm(1_000), "{fixes} {sd:?}");
    boat(&mut heat, -300_000, 200_000, 100);
    // One metre a fix and 0.7 m asked: 240 s / 0.49 are 489.8 s, ten fixes a second.
    let marked = marks(&heat);
    assert_eq!(marked.len(), 1);
    let (number, position, sd, fixes, seconds) = marked[0];
    assert_eq!((number, position), (1, buoy()));
    assert!((690..=700).contains(&sd) && (489..=493).contains(&seconds), "{sd} {seconds}");
    assert!((4_890..=4_940).contains(&fixes), "{fixes}");
    assert_eq!(stands(&heat, 200_000), Some(SurveyStands::Marked { sd: Millimetres::from_mm(sd) }));
    assert_eq!(heat.dash.view(t(200_000)).survey.map(|survey| survey.number), Some(1));
    // A second hold ends it.
    acknowledge(&mut heat, 200_100, true);
    heat.feed(203_100, Input::Tick);
    assert_eq!(stands(&heat, 203_100), None);
}

#[test]
fn a_second_press_takes_the_mark_with_what_it_has_come_to() {
    let mut heat = in_survey();
    pressed(&mut heat, -375_950);
    boat(&mut heat, -375_700, -335_000, 100);
    pressed(&mut heat, -334_990);
    let (number, position, sd, _, seconds) = marks(&heat)[0];
    assert_eq!(
        (number, position, sd, seconds),
        (1, buoy(), 1_000, 40),
        "no better than one fix after so short a time"
    );
    assert_eq!(heat.decided.last(), Some(&(-334_790, Output::Cue(Tone::Taken))));
}

#[test]
fn a_mark_given_up_at_once_a_moving_boat_and_missing_fixes_make_no_mark() {
    let mut heat = in_survey();
    pressed(&mut heat, -375_950);
    boat(&mut heat, -375_700, -365_000, 100);
    pressed(&mut heat, -364_990);
    assert_eq!(stands(&heat, -364_000), Some(SurveyStands::TooShort));
    pressed(&mut heat, -364_500);
    boat(&mut heat, -364_200, -364_000, 1_500);
    assert_eq!(stands(&heat, -364_000), Some(SurveyStands::Moving));
    heat.feed(-350_000, Input::Tick);
    pressed(&mut heat, -349_000);
    // That press silences the alert about missing fixes; the next one is the survey's.
    assert_eq!(stands(&heat, -348_000), Some(SurveyStands::Moving));
    pressed(&mut heat, -348_000);
    assert_eq!(stands(&heat, -347_000), Some(SurveyStands::NoFix));
    assert_eq!(marks(&heat), []);
    assert_eq!(heat.decided.last(), Some(&(-347_800, Output::Cue(Tone::NotTaken))));
}

#[test]
fn the_start_button_stays_the_start_button_and_ends_the_survey() {
    let mut heat = in_survey();
    pressed(&mut heat, -375_950);
    boat(&mut heat, -375_700, -310_000, 100);
    // The page button chooses the signal in a survey as ever.
    heat.feed(-309_000, Input::Edge { line: Line::Page, active: true });
    heat.feed(-308_900, Input::Edge { line: Line::Page, active: false });
    heat.press(-300_000, 100);
    assert_eq!(stands(&heat, -299_900), None);
    let zero = heat.found(|output| match output {
        Output::Zero { source, .. } => Some(*source),
        _ => None,
    });
    assert_eq!(zero, [ZeroSource::Press { before_s: 60 }]);
    boat(&mut heat, -299_800, -200_000, 100);
    acknowledge(&mut heat, -200_000, true);
    heat.feed(-190_000, Input::Tick);
    assert_eq!((stands(&heat, -190_000), marks(&heat)), (None, Vec::new()), "and none begins beside a clock");
}

#[test]
fn a_hand_that_silences_an_alert_begins_no_survey() {
    let mut heat = Heat::new(&settings(), 400);
    boat(&mut heat, -390_000, -385_000, 100);
    heat.feed(-380_000, Input::Tick);
    assert!(heat.dash.view(t(-380_000)).alert.is_some(), "fixes are missing");
    acknowledge(&mut heat, -380_000, true);
    heat.feed(-375_000, Input::Tick);
    assert_eq!(stands(&heat, -375_000), None);
}

fn any_hand() -> impl Strategy<Value = (Input, i64)> {
    let line = prop_oneof![
        4 => Just(Line::Acknowledge), 1 => Just(Line::Button), 1 => Just(Line::GunContact), 1 => Just(Line::Page)
    ];
    let edge = (line, any::<bool>()).prop_map(|(line, active)| Input::Edge { line, active });
    let fix = (-5_i64..5).prop_map(|aside| {
        Input::Fix(Fix {
            utc: ZERO_UTC,
            position: position(640.0, aside as f64),
            speed: MmPerSecond::from_mm_s(100),
            course: CentiDegrees::from_centi(0),
            position_sd: None,
            speed_sd: None,
            hdop_centi: None,
            valid: true,
        })
    });
    let zero = (0_i64..400_000).prop_map(|ms| Input::Schedule { zero: ZERO_UTC.plus(Span::from_millis(ms)) });
    let what = prop_oneof![6 => edge, 8 => fix, 1 => zero, 2 => Just(Input::Tick)];
    (what, prop_oneof![Just(100_i64), Just(1_000), Just(3_100), 30_i64..5_000])
}

proptest! {
    #[test]
    fn a_survey_is_never_active_with_a_running_clock(inputs in proptest::collection::vec(any_hand(), 1..150)) {
        let mut dash = Dash::new(&settings());
        let mut ms = 0;
        for (input, step) in inputs {
            ms += step;
            let at = Instant::BOOT.plus(Span::from_millis(ms));
            let input = match input {
                Input::Fix(fix) => Input::Fix(Fix { utc: ZERO_UTC.plus(Span::from_millis(ms - 400_000 - 65)), ..fix }),
                other => other,
            };
            let armed = dash.clock().zero().is_some();
            let out = dash.feed(at, input);
            let marked = out.as_slice().iter().any(|output| matches!(output, Output::Marked { .. }));
            prop_assert!(!(marked && armed));
            prop_assert!(dash.clock().zero().is_none() || dash.view(at).survey.is_none());
            prop_assert!(dash.next_wake().is_none_or(|wake| wake > at));
        }
    }

    /// A survey changes nothing about the clock: the same presses of the start button arm it alike with and without one.
    #[test]
    fn a_survey_changes_nothing_about_the_clock(held in proptest::collection::vec(0_i64..300_000, 0..12), press in 30_000_i64..300_000) {
        let zeros = |surveyed: bool| {
            let mut dash = Dash::new(&settings());
            let mut edges: Vec<_> = if surveyed { held.iter().flat_map(|ms| [(*ms, Line::Acknowledge, true), (*ms + 3_500, Line::Acknowledge, false)]).collect() } else { Vec::new() };
            edges.extend([(press, Line::Button, true), (press + 150, Line::Button, false)]);
            edges.sort_by_key(|edge| edge.0);
            for (ms, line, active) in edges {
                let _ = dash.feed(Instant::BOOT.plus(Span::from_millis(ms)), Input::Edge { line, active });
            }
            dash.clock().zero().copied().map(|zero| (zero.at, zero.sigma))
        };
        prop_assert_eq!(zeros(true), zeros(false));
    }
}

/// The plane agrees: what is marked is the buoy to a tenth of a millimetre.
#[test]
fn a_mark_of_equal_fixes_is_their_place() {
    let mut heat = in_survey();
    pressed(&mut heat, -375_950);
    boat(&mut heat, -375_700, -335_000, 100);
    pressed(&mut heat, -334_990);
    let (_, position, ..) = marks(&heat)[0];
    assert_eq!(Plane::at(buoy()).place(position).distance(), Millimetres::ZERO);
}
