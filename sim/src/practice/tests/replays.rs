//! A start that was driven by hand and the heat file that it leaves.

use firmware::input::Line;
use firmware::units::Span;
use proptest::prelude::*;

use crate::play;
use crate::practice::plan::{Length, Mode, Plan, REACH};
use crate::practice::review::Start;
use crate::practice::session::Session;
use crate::replay;
use crate::world::craft::Hands;
use crate::world::maths::seconds;

/// Drives a start: at 100 ms from its beginning, and so on, something is done.
fn driven(plan: Plan, frame_us: i64, mut does: impl FnMut(&mut Session, Span)) -> Session {
    let mut session = Session::new(plan, REACH).unwrap();
    while !session.is_over() {
        let now = session.now();
        does(&mut session, now);
        session.advance(now + Span::from_micros(frame_us));
    }
    session
}

/// He presses a quarter of a second after each gun, wastes time so that he leaves the last turn at a moment, and goes
/// flat out from there.
fn usual(leaves_s: f64) -> impl FnMut(&mut Session, Span) {
    let mut down = false;
    move |session, now| {
        let late = Span::from_millis(250);
        let at_a_gun =
            session.shots().iter().any(|shot| (shot.fired + late..shot.fired + late + late).contains(&now));
        if at_a_gun != down {
            down = at_a_gun;
            session.button(Line::Button, down);
        }
        let craft = session.live().craft();
        let (pose, (_, speed), boat) = (craft.pose(), craft.motion(), craft.parts().0);
        let (s, _) = session.course().nearest(pose.east_m, pose.north_m);
        let way = session.course().lap_m() - s - session.course().turn_to_line_m();
        let wanted = (way / (leaves_s - seconds(now)).max(0.1)).clamp(15.0, 52.0);
        let milling = boat.power_to_hold(wanted) + 0.05 * (wanted - speed);
        session.hands(if way <= 0.0 { 1_000 } else { Hands::of(milling, 0.0).throttle }, 0);
    }
}

#[test]
fn a_driven_start_replays_to_the_same_digest_and_the_same_journal() {
    for (length, mode, seed) in [
        (Length::HalfMinute, Mode::Dash, 1),
        (Length::OneMinute, Mode::Faults, 3),
        (Length::OneMinute, Mode::Faults, 4),
        (Length::OneMinute, Mode::Faults, 5),
    ] {
        let plan = Plan { length, mode, steered: true, seed };
        // Frames of a screen never fall on the model's steps.
        let session = driven(plan, 16_667, usual(-12.6));
        let start = Start::of(session.finish()).unwrap();
        let review = &start.review;
        assert!(review.replays, "{plan:?}");
        assert!(review.call.is_some(), "{plan:?}: {:?}", start.files.heat);
        let journal = replay::replay(&start.journal).unwrap();
        assert!(journal.agrees(), "{plan:?}: {journal:?}");
    }
}

#[test]
fn a_legal_start_is_reviewed_as_the_replay_has_it() {
    let plan = Plan { length: Length::OneMinute, mode: Mode::Dash, steered: true, seed: 7 };
    let session = driven(plan, 10_000, usual(-12.4));
    let finished = session.finish();
    let heat = finished.files.load().unwrap();
    let start = Start::of(finished).unwrap();
    let review = start.review;
    let log = play::play(&heat);
    let crossing = log.true_crossings.iter().find(|it| it.forward && it.t > Span::from_secs(-20)).unwrap();
    assert_eq!(review.margin_us, Some(crossing.t.as_micros()));
    let call = review.call.unwrap();
    // The dash's own error bar covers the truth within five of its deviations.
    assert!((call.margin_us - crossing.t.as_micros()).abs() < 5 * call.sigma_us, "{call:?} {crossing:?}");
    assert_eq!(review.reactions.len(), 1);
    assert!((250_000..270_000).contains(&review.reactions[0].late_us), "{:?}", review.reactions);
    assert!((review.went_us.unwrap() + 12_400_000).abs() <= 1_000_000, "{:?}", review.went_us);
    assert!(crossing.t > Span::ZERO && review.lost.unwrap().metres > 0.0, "{:?}", review.lost);
    // Flat out from the moment he went: what the coach says of that moment is what came of it, but for the
    // speed that she loses while she comes straight.
    let went_ms = review.went_us.unwrap() / 1_000;
    let sample = review.trace.t_ms.iter().position(|t| *t >= went_ms).unwrap();
    let told = review.trace.true_ms[sample].unwrap();
    assert!((told * 1_000 - crossing.t.as_micros()).abs() < 700_000, "{told} ms, and it was {crossing:?}");
}

#[test]
fn without_a_press_there_is_no_call_and_without_a_crossing_no_margin() {
    let plan = Plan { length: Length::HalfMinute, seed: 3, ..Plan::default() };
    let session = driven(plan, 20_000, |session, _| session.hands(0, 0));
    let start = Start::of(session.finish()).unwrap();
    assert_eq!((start.review.call, start.review.margin_us), (None, None));
    assert!(start.review.replays);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    /// Whatever the hands do and whenever the clock is looked at.
    #[test]
    fn any_drive_replays_bit_for_bit(
        seed in 0_u64..1_000,
        steered: bool,
        mode in proptest::sample::select(&[Mode::Dash, Mode::Faults, Mode::Hidden][..]),
        does in proptest::collection::vec((1_i64..1_500_000, 0_u16..=1_000, -1_000_i16..=1_000, 0_u8..8), 40..80),
    ) {
        let plan = Plan { length: Length::HalfMinute, mode, steered, seed };
        let mut session = Session::new(plan, REACH).unwrap();
        for (after, throttle, helm, button) in does {
            session.advance(session.now() + Span::from_micros(after));
            session.hands(throttle, helm);
            let line = if button < 5 { Line::Button } else { Line::Acknowledge };
            session.button(line, button % 2 == 0);
        }
        let start = Start::of(session.finish()).unwrap();
        prop_assert!(start.review.replays, "{}", start.files.heat);
    }
}
