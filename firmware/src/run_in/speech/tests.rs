//! A view at a time; what is settled, and what is said.

use super::*;
use proptest::prelude::*;
use std::vec::Vec;

fn ms(ms: i64) -> Span {
    Span::from_millis(ms)
}

fn at(after: i64) -> Instant {
    Instant::BOOT.plus(Span::from_secs(100) + ms(after))
}

/// The margin to hold is 0.12 s throughout.
fn number(advice: Advice, margin_ms: i64) -> RunInView {
    RunInView {
        margin: Some(ms(margin_ms)),
        sigma: Some(ms(50)),
        hold: ms(120),
        ..RunInView::without(advice, false)
    }
}

fn blind(advice: Advice) -> RunInView {
    RunInView::without(advice, false)
}

/// A view every tenth of a second, and what was said by when; spoken at the moment it is due.
fn told(views: &[RunInView]) -> Vec<(i64, Tone)> {
    let mut speech = Speech::default();
    let mut told = Vec::new();
    for (view, now) in views.iter().zip((0_i64..).step_by(100)) {
        speech.hear(at(now), view);
        while let Some(due) = speech.due().filter(|due| *due < at(now + 100)) {
            let Some(tone) = speech.say(due.max(at(now))) else { break };
            told.push((due.max(at(now)).since(at(0)).as_micros() / 1_000, tone));
        }
    }
    told
}

fn many(view: RunInView, count: usize) -> Vec<RunInView> {
    std::vec![view; count]
}

#[test]
fn a_hold_counts_the_half_seconds_that_are_missing() {
    // 0.12 s is to be held: 0.40, 0.90 and 1.90 s are missing.
    for (margin, tone) in [(-280, Tone::HoldOne), (-780, Tone::HoldTwo), (-1_780, Tone::HoldThree)] {
        let told = told(&many(number(Advice::Hold, margin), 50));
        // The word stands for 0.3 s first; then every 2 s.
        assert_eq!(told, [(300, tone), (2_300, tone), (4_300, tone)]);
    }
    assert_eq!(told(&many(number(Advice::Hold, -1_890), 50)), [], "more than 2 s: he mills");
}

#[test]
fn go_is_said_at_once_and_again_for_as_long_as_it_stands() {
    let views = [many(number(Advice::Hold, -2_000), 20), many(number(Advice::Go, 160), 45)].concat();
    assert_eq!(told(&views), [(2_000, Tone::Go), (4_000, Tone::Go), (6_000, Tone::Go)]);
    // Hardly beyond the margin to hold it must stand for 0.3 s.
    let views = [many(number(Advice::Hold, -2_000), 20), many(number(Advice::Go, 130), 10)].concat();
    assert_eq!(told(&views), [(2_300, Tone::Go)]);
}

#[test]
fn that_go_stands_no_longer_is_said_at_once_from_however_far() {
    let go = [many(number(Advice::Hold, -2_000), 20), many(number(Advice::Go, 160), 12)].concat();
    for (then, tone) in [
        (number(Advice::Hold, 110), Tone::HoldOne),
        (number(Advice::Hold, -60_000), Tone::HoldThree),
        (blind(Advice::NoFix), Tone::NumberGone),
        (blind(Advice::OffCourse), Tone::NumberGone),
        (blind(Advice::TooUncertain), Tone::NumberGone),
    ] {
        let told = told(&[go.clone(), many(then, 15)].concat());
        assert_eq!(told, [(2_000, Tone::Go), (3_200, tone)]);
    }
}

#[test]
fn a_number_that_goes_away_says_so_once_and_one_that_never_spoke_does_not() {
    let spoken = [many(number(Advice::Hold, -500), 10), many(blind(Advice::OffCourse), 60)].concat();
    // The hold's 520 ms and a pause of 300 ms come first.
    assert_eq!(told(&spoken), [(300, Tone::HoldTwo), (1_120, Tone::NumberGone)]);
    let far = [many(number(Advice::Hold, -9_000), 10), many(blind(Advice::OffCourse), 60)].concat();
    assert_eq!(told(&far), []);
}

#[test]
fn a_hold_is_left_out_when_go_would_come_in_the_middle_of_it() {
    let soon = |wait| many(RunInView { wait: Some(ms(wait)), ..number(Advice::Hold, -100) }, 10);
    assert_eq!(told(&soon(680)), []);
    assert_eq!(told(&soon(690)).len(), 1);
}

fn any_view() -> impl Strategy<Value = RunInView> {
    let numbers = (-3_000_i64..3_000).prop_map(|margin| {
        // The words as the screen has them: the margin to hold, and a second more.
        let word = match margin {
            ..120 => Advice::Hold,
            120..=1_120 => Advice::Go,
            _ => Advice::Late,
        };
        number(word, margin)
    });
    let near =
        (90_i64..150).prop_map(|margin| number(if margin < 120 { Advice::Hold } else { Advice::Go }, margin));
    let none = prop_oneof![Just(Advice::NoFix), Just(Advice::OffCourse), Just(Advice::TooUncertain)];
    prop_oneof![numbers, near, none.prop_map(blind)]
}

proptest! {
    #[test]
    fn the_settled_word_changes_at_most_four_times_within_a_second(
        views in proptest::collection::vec(any_view(), 1..300),
    ) {
        let mut speech = Speech::default();
        let changes: Vec<_> = (0_i64..)
            .step_by(100)
            .zip(&views)
            .filter_map(|(now, view)| speech.hear(at(now), view).then_some((now, speech.word())))
            .collect();
        // Bolder words are a second apart; each may be taken back in three steps: hold, no number, no fix.
        for (place, (from, _)) in changes.iter().enumerate() {
            prop_assert!(changes[place..].iter().filter(|(now, _)| now - from < 1_000).count() <= 4);
        }
        let bold: Vec<_> = changes.iter().filter(|(_, word)| boldness(*word) == 2).collect();
        prop_assert!(bold.windows(2).all(|pair| pair[1].0 - pair[0].0 >= 1_000), "{bold:?}");
    }

    #[test]
    fn no_word_is_bolder_than_the_screen_s(views in proptest::collection::vec(any_view(), 1..300)) {
        let mut speech = Speech::default();
        for (now, view) in (0_i64..).step_by(100).zip(&views) {
            speech.hear(at(now), view);
            prop_assert!(boldness(speech.word()) <= boldness(view.advice), "{:?} {view:?}", speech.word());
        }
    }

    #[test]
    fn two_rhythms_never_run_into_each_other(views in proptest::collection::vec(any_view(), 1..300)) {
        let told = told(&views);
        for pair in told.windows(2) {
            let length = cues::sounding(pair[0].1).as_micros() / 1_000;
            prop_assert!(pair[1].0 - pair[0].0 >= length + 300, "{pair:?}");
        }
    }

    #[test]
    fn a_rhythm_between_counts_touches_none_and_ends_before_zero(
        before_ms in 0_i64..70_000,
        tone in proptest::sample::select(&[Tone::HoldOne, Tone::HoldThree, Tone::Go, Tone::Late, Tone::NumberGone][..]),
        every in any::<bool>(),
    ) {
        let counts: &[u16] = if every { &[16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1] } else { &[60, 30, 20, 10, 5, 4, 3, 2, 1] };
        let zero = at(0);
        let from = between_counts(at(-before_ms), tone, zero, counts);
        prop_assert!(from.is_some() || before_ms < 1_200);
        if let Some(from) = from {
            let (from, length) = (from.since(zero).as_micros() / 1_000, cues::sounding(tone).as_micros() / 1_000);
            prop_assert!((-before_ms..=1_000 - before_ms).contains(&from));
            for count in counts.iter().map(|s| -1_000 * i64::from(*s)).chain([0]) {
                prop_assert!(from >= count + 160 || from + length + 100 <= count, "{from} {count}");
            }
        }
    }
}
