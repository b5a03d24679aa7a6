//! A host's words to the dash: UTC, and the engine's account set to nothing.

use crate::dash::tests::{Heat, ZERO_UTC, settings, t};
use crate::engine::suffered::{Account, Accounts};
use crate::input::Input;
use crate::output::{Output, Refused, Suffering, Tie, ZeroSource};
use crate::units::{Instant, Span};

/// What a host tells at a race time about `age_ms` before, with its clock ahead by `ahead_ms`.
fn told(ms: i64, age_ms: i64, ahead_ms: i64, sd: Span) -> Input {
    Input::Utc { at: t(ms - age_ms), utc: ZERO_UTC.plus(Span::from_millis(ms - age_ms + ahead_ms)), sd }
}

fn zeros(heat: &Heat) -> std::vec::Vec<(ZeroSource, Instant, Span)> {
    heat.found(|output| match *output {
        Output::Zero { source, at, sigma, .. } => Some((source, at, sigma)),
        _ => None,
    })
}

const SD: Span = Span::from_millis(200);

#[test]
fn a_schedule_runs_by_a_told_utc_with_its_deviation_and_by_the_receiver_as_soon_as_it_speaks() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-300_000, Input::Schedule { zero: ZERO_UTC });
    assert_eq!(heat.decided.last().map(|(_, output)| *output), Some(Output::Refused(Refused::NoUtcYet)));
    // The host's clock is 150 ms ahead, so zero comes 150 ms early.
    heat.feed(-290_000, told(-290_000, 20, 150, SD));
    let [(source, at, sigma)] = zeros(&heat)[..] else { panic!("{:?}", heat.decided) };
    assert_eq!((source, at), (ZeroSource::Utc, t(-150)));
    // 30 ppm of the 290 s to come are 9 ms beside the 200 told.
    assert!((SD..SD + Span::from_millis(2)).contains(&sigma), "{sigma:?}");
    assert_eq!(heat.dash.view(t(-290_000)).tie, Tie::Told);
    heat.run(-280, -270);
    let (_, at, sigma) = zeros(&heat).pop().unwrap();
    assert!(
        at.since(t(0)).abs() < Span::from_millis(10) && sigma < Span::from_millis(20),
        "{at:?} {sigma:?}"
    );
    assert_eq!(heat.dash.view(t(-270_100)).tie, Tie::Pps);
}

#[test]
fn what_is_told_while_the_receiver_speaks_or_for_no_moment_just_past_changes_nothing() {
    let mut heat = Heat::new(&settings(), 400);
    for unusable in [
        told(-300_000, -1, 0, SD),
        told(-300_000, 60_001, 0, SD),
        told(-300_000, 0, 0, Span::ZERO),
        told(-300_000, 0, 0, Span::from_secs(6)),
    ] {
        heat.feed(-300_000, unusable);
        let last = heat.decided.last().map(|(_, output)| *output);
        assert_eq!(last, Some(Output::Refused(Refused::UtcUnusable)), "{unusable:?}");
        assert_eq!(heat.dash.view(t(-300_000)).tie, Tie::None);
    }
    heat.run(-290, -280);
    let (before, dash) = (heat.decided.len(), heat.dash.view(t(-279_990)));
    heat.feed(-279_990, told(-279_990, 0, 5_000, SD));
    assert_eq!(heat.decided[before..], [(-279_990, Output::Refused(Refused::UtcKnown))]);
    assert_eq!(heat.dash.view(t(-279_990)), dash);
}

#[test]
fn a_later_word_replaces_an_earlier_one_and_a_zero_by_utc_follows_it() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-300_000, told(-300_000, 0, 900, Span::from_secs(1)));
    heat.feed(-299_000, Input::Schedule { zero: ZERO_UTC });
    heat.feed(-298_000, told(-298_000, 0, 0, SD));
    let at: std::vec::Vec<_> = zeros(&heat).iter().map(|(_, at, _)| at.since(t(0)).as_micros()).collect();
    assert_eq!(at, [-900_000, 0]);
}

fn suffered() -> Accounts {
    let account = Account { run_ms: 3_600_000, starts: 12, hot_starts: 1, ..Account::default() };
    Accounts { heat: Account::default(), total: account }
}

#[test]
fn the_engines_account_is_set_to_nothing_and_said_so_but_never_while_a_clock_runs() {
    let mut heat = Heat::new(&settings(), 400);
    heat.feed(-390_000, Input::Suffered(suffered()));
    assert_eq!(heat.decided, []);
    heat.press(-300_000, 40);
    let before = heat.decided.len();
    heat.feed(-290_000, Input::Suffered(Accounts::default()));
    assert_eq!(heat.decided[before..], [(-290_000, Output::Refused(Refused::ClockRuns))]);
    assert_eq!(heat.dash.accounts(), Some(&suffered()));
    // The clock is cleared.
    heat.press(-280_000, 2_500);
    let before = heat.decided.len();
    heat.feed(-270_000, Input::Suffered(Accounts::default()));
    let nothing = |what| (-270_000, Output::Suffered { what, heat: 0, total: 0 });
    assert_eq!(heat.decided[before..], [nothing(Suffering::RunSeconds), nothing(Suffering::Starts)]);
    assert_eq!(heat.dash.accounts(), None);
}
