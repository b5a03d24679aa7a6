//! What holds for any view at all.

use std::collections::HashSet;

use firmware::output::{AlertId, Level, StartStep};
use firmware::screen::{Frame, ScreenSettings, alert_text, draw, draw_cautions, step_text};
use firmware::view::{Phase, View};
use proptest::prelude::*;

use crate::art::Canvas;
use crate::views::{alert, alerts, any_alert, any_view, running, start_steps};

/// Rows of the race time on 128x64.
const CLOCK: std::ops::Range<usize> = 7..35;
/// Rows of the alert on 128x64.
const ALERT: std::ops::Range<usize> = 46..57;

fn drawn(view: &View) -> Frame {
    draw(view, &ScreenSettings::default())
}

/// The lit pixels of the rows that `wanted` picks.
fn pixels(frame: &Frame, wanted: impl Fn(usize) -> bool) -> Vec<(usize, usize)> {
    let rows = (0..Frame::HEIGHT).filter(|y| wanted(*y));
    let places = rows.flat_map(|y| (0..Frame::WIDTH).map(move |x| (x, y)));
    places.filter(|(x, y)| frame.pixel(*x, *y)).collect()
}

proptest! {
    #[test]
    fn an_alert_changes_nothing_outside_its_own_band(
        view in any_view(),
        shown in proptest::option::of(any_alert()),
        alerts_waiting: u8,
    ) {
        let other = View { alert: shown, alerts_waiting, ..view };
        let outside = |y| !ALERT.contains(&y);
        prop_assert_eq!(pixels(&drawn(&view), outside), pixels(&drawn(&other), outside));
    }

    #[test]
    fn an_alert_is_drawn_whatever_the_run_in_has_to_say(view in any_view(), alert in any_alert()) {
        let (view, plain) = (View { alert: Some(alert), ..view }, View { alert: Some(alert), run_in: None, ..view });
        let band = |y| ALERT.contains(&y);
        prop_assert_eq!(pixels(&drawn(&view), band), pixels(&drawn(&plain), band));
    }

    #[test]
    fn the_clock_is_drawn_from_the_race_time_alone(view in any_view(), other in any_view()) {
        let (race, start) = (Some(view.race.unwrap_or_default()), other.start);
        let (view, other) = (View { race, ..view }, View { race, start, ..other });
        let clock = |y| CLOCK.contains(&y);
        prop_assert_eq!(pixels(&drawn(&view), clock), pixels(&drawn(&other), clock));
    }

    #[test]
    fn without_a_race_time_or_a_start_the_clock_is_dashes(view in any_view(), other in any_view()) {
        let bare = |view| View { race: None, start: None, ..view };
        let clock = |y| CLOCK.contains(&y);
        prop_assert_eq!(pixels(&drawn(&bare(view)), clock), pixels(&drawn(&bare(other)), clock));
    }

    #[test]
    fn no_pixel_is_drawn_outside_a_target_of_128x64_or_more(view in any_view()) {
        for (width, height) in [(128, 64), (256, 64), (128, 128), (160, 80), (1_000, 700)] {
            prop_assert_eq!(Canvas::of(&view, width, height).outside, 0, "{}x{}", width, height);
        }
    }

    #[test]
    fn a_target_too_small_is_no_reason_to_panic(view in any_view(), width in 0_u32..130, height in 0_u32..66) {
        let _ = Canvas::of(&view, width, height);
    }

    #[test]
    fn a_frame_holds_what_a_plain_target_shows(view in any_view()) {
        prop_assert!(Canvas::from(&drawn(&view)) == Canvas::of(&view, 128, 64));
    }

    #[test]
    fn nothing_of_an_earlier_view_shines_through(earlier in any_view(), view in any_view()) {
        let mut canvas = Canvas::of(&earlier, 128, 64);
        firmware::screen::draw_on(&mut canvas, &view, &ScreenSettings::default()).unwrap();
        prop_assert!(canvas == Canvas::of(&view, 128, 64));
    }

    #[test]
    fn any_page_of_cautions_stays_on_the_target(page: u8) {
        let mut canvas = Canvas::new(128, 64);
        draw_cautions(&mut canvas, page).unwrap();
        prop_assert_eq!(canvas.outside, 0);
    }
}

#[test]
fn every_alert_has_words_of_its_own_that_fit_the_band() {
    let texts: HashSet<_> = alerts().into_iter().map(alert_text).collect();
    assert_eq!(texts.len(), AlertId::ColdJunction as usize + 1);
    assert!(texts.iter().all(|text| (1..=14).contains(&text.len())));
}

#[test]
fn every_step_of_a_start_has_words_of_its_own_that_fit_the_line() {
    let texts: HashSet<_> = start_steps().into_iter().map(step_text).collect();
    assert_eq!(texts.len(), StartStep::Cooling as usize + 1);
    assert!(texts.iter().all(|text| (1..=12).contains(&text.len())));
}

#[test]
fn every_level_acknowledged_or_not_is_told_apart_by_shape() {
    let mut seen = HashSet::new();
    for level in [Level::Advisory, Level::Caution, Level::Warning] {
        for acknowledged in [false, true] {
            let view = alert(running(Phase::Milling, -1), AlertId::EgtHigh, level, acknowledged, 0);
            assert!(seen.insert(pixels(&drawn(&view), |y| ALERT.contains(&y))), "{level:?} {acknowledged}");
        }
    }
}

#[test]
fn without_an_alert_the_band_is_dark_whatever_waits() {
    let view = View { alerts_waiting: 9, ..running(Phase::Racing, 1) };
    assert_eq!(pixels(&drawn(&view), |y| ALERT.contains(&y)), []);
}

#[test]
fn four_digits_of_egt_stay_on_every_target() {
    let start = firmware::view::StartView {
        step: StartStep::Lit,
        in_step: firmware::units::Span::from_secs(3),
        to_limit: None,
        starter: firmware::view::StarterView::Free,
        act: None,
        demonstration: false,
    };
    for milli in [999_400, 1_000_000, 1_372_000, 1_999_500, 9_999_000] {
        for (width, height) in [(128, 64), (256, 64), (128, 128), (160, 80), (1_000, 700)] {
            let mut view = View { race: None, start: Some(start), ..running(Phase::Waiting, 0) };
            view.gauges.egt =
                firmware::output::Reading::Good(firmware::units::MilliCelsius::from_milli(milli));
            assert_eq!(Canvas::of(&view, width, height).outside, 0, "{milli} on {width}x{height}");
        }
    }
}
