//! What the driver sees and hears, as dated scripts and as rules that hold for any script.

use std::vec::Vec;

use proptest::prelude::*;

use super::*;
use crate::output::Tone;

fn s(seconds: u64) -> Instant {
    Instant::from_micros(seconds * 1_000_000)
}

/// What one call decided.
fn decided(call: impl FnOnce(&mut Outputs)) -> Vec<Output> {
    let mut out = Outputs::default();
    call(&mut out);
    out.as_slice().to_vec()
}

fn alert(id: AlertId, state: AlertState) -> Output {
    Output::Alert { id, level: KINDS[id as usize].level, state }
}

fn shown(alerts: &Alerts) -> Option<(AlertId, bool)> {
    alerts.shown().map(|view| (view.id, view.acknowledged))
}

use AlertId::{
    Approach, EgtHigh, EgtLimit, FixLost, JumpedGun, LapMissed, N1Limit, PpsLost, ProbeStale, ZeroMoved,
};
use AlertState::{Acknowledged, Cleared, Raised};

#[test]
fn every_alert_is_found_by_its_place() {
    assert!(KINDS.iter().enumerate().all(|(place, kind)| kind.id as usize == place));
}

#[test]
fn a_condition_raises_once_and_sounds_once() {
    let mut alerts = Alerts::new();
    let raised = [alert(EgtHigh, Raised), Output::Cue(Tone::Caution)];
    assert_eq!(decided(|out| alerts.set(s(1), EgtHigh, true, out)), raised);
    assert_eq!(decided(|out| alerts.set(s(2), EgtHigh, true, out)), []);
    assert_eq!(decided(|out| alerts.set(s(3), EgtHigh, false, out)), [alert(EgtHigh, Cleared)]);
    assert_eq!(decided(|out| alerts.set(s(4), EgtHigh, false, out)), []);
    assert_eq!(alerts.shown(), None);
}

#[test]
fn a_warning_stays_until_acknowledged_and_gone_in_either_order() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), EgtLimit, true, &mut out);
    alerts.set(s(2), EgtLimit, false, &mut out);
    assert_eq!(shown(&alerts), Some((EgtLimit, false)));
    let end = [alert(EgtLimit, Acknowledged), alert(EgtLimit, Cleared)];
    assert_eq!(decided(|out| alerts.acknowledge(s(3), out)), end);

    alerts.set(s(4), EgtLimit, true, &mut out);
    assert_eq!(decided(|out| alerts.acknowledge(s(5), out)), [alert(EgtLimit, Acknowledged)]);
    assert_eq!(shown(&alerts), Some((EgtLimit, true)));
    assert_eq!(decided(|out| alerts.set(s(6), EgtLimit, false, out)), [alert(EgtLimit, Cleared)]);
}

#[test]
fn a_warning_that_comes_back_before_the_driver_saw_it_is_the_same_warning() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), EgtLimit, true, &mut out);
    alerts.set(s(2), EgtLimit, false, &mut out);
    assert_eq!(decided(|out| alerts.set(s(3), EgtLimit, true, out)), []);
    assert_eq!(decided(|out| alerts.acknowledge(s(4), out)), [alert(EgtLimit, Acknowledged)]);
}

#[test]
fn the_newest_of_a_level_is_shown_and_the_acknowledged_steps_behind_it() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    for (second, id) in [(1, PpsLost), (2, FixLost), (3, ProbeStale)] {
        alerts.set(s(second), id, true, &mut out);
    }
    assert_eq!((shown(&alerts), alerts.waiting()), (Some((ProbeStale, false)), 2));
    alerts.acknowledge(s(4), &mut out);
    assert_eq!(shown(&alerts), Some((FixLost, false)));
    alerts.acknowledge(s(5), &mut out);
    assert_eq!(shown(&alerts), Some((ProbeStale, true)), "the advisory stays behind both cautions");
    assert_eq!(decided(|out| alerts.acknowledge(s(6), out)), [], "one press, one acknowledgement");
}

#[test]
fn a_momentary_alert_clears_by_itself_at_its_wake() {
    let mut alerts = Alerts::new();
    let raised = [alert(Approach, Raised), Output::Cue(Tone::Advisory)];
    assert_eq!(decided(|out| alerts.pulse(s(10), Approach, out)), raised);
    assert_eq!(alerts.next_wake(), Some(s(14)));
    assert_eq!(decided(|out| alerts.tick(Instant::from_micros(13_999_999), out)), []);
    assert_eq!(decided(|out| alerts.tick(s(14), out)), [alert(Approach, Cleared)]);
    assert_eq!(alerts.next_wake(), None);
}

#[test]
fn acknowledging_a_momentary_alert_ends_it() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.pulse(s(1), ZeroMoved, &mut out);
    let end = [alert(ZeroMoved, Acknowledged), alert(ZeroMoved, Cleared)];
    assert_eq!(decided(|out| alerts.acknowledge(s(2), out)), end);
    assert_eq!(alerts.next_wake(), None);
}

#[test]
fn a_missed_lap_is_said_until_the_driver_has_seen_it() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.pulse(s(1), LapMissed, &mut out);
    alerts.tick(s(1_000), &mut out);
    assert_eq!(shown(&alerts), Some((LapMissed, false)));
    alerts.acknowledge(s(1_001), &mut out);
    assert_eq!(alerts.shown(), None);
}

#[test]
fn a_limit_exceeded_further_after_acknowledgement_warns_again() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), EgtLimit, true, &mut out);
    assert_eq!(decided(|out| alerts.pulse(s(2), EgtLimit, out)), [], "it waits for the driver already");
    alerts.acknowledge(s(3), &mut out);
    let again = [alert(EgtLimit, Raised), Output::Cue(Tone::Warning)];
    assert_eq!(decided(|out| alerts.pulse(s(4), EgtLimit, out)), again);
    assert_eq!(shown(&alerts), Some((EgtLimit, false)));
}

#[test]
fn a_lesser_alert_makes_no_sound_while_a_warning_waits() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), N1Limit, true, &mut out);
    assert_eq!(decided(|out| alerts.set(s(2), FixLost, true, out)), [alert(FixLost, Raised)]);
    alerts.acknowledge(s(3), &mut out);
    let heard = [alert(EgtHigh, Raised), Output::Cue(Tone::Caution)];
    assert_eq!(decided(|out| alerts.set(s(4), EgtHigh, true, out)), heard);
    assert_eq!(shown(&alerts), Some((N1Limit, true)), "the warning is not hidden, though acknowledged");
}

#[test]
fn a_chattering_caution_is_heard_once_and_a_chattering_warning_always() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), FixLost, true, &mut out);
    alerts.set(s(2), FixLost, false, &mut out);
    assert_eq!(decided(|out| alerts.set(s(3), FixLost, true, out)), [alert(FixLost, Raised)]);
    alerts.set(s(4), FixLost, false, &mut out);
    let heard = [alert(FixLost, Raised), Output::Cue(Tone::Caution)];
    assert_eq!(decided(|out| alerts.set(s(7), FixLost, true, out)), heard);

    for second in [20, 21] {
        let heard = [alert(EgtLimit, Raised), Output::Cue(Tone::Warning)];
        assert_eq!(decided(|out| alerts.set(s(second), EgtLimit, true, out)), heard);
        alerts.acknowledge(s(second), &mut out);
        alerts.set(s(second), EgtLimit, false, &mut out);
    }
}

#[test]
fn a_restart_clears_the_race_and_keeps_the_engine() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), JumpedGun, true, &mut out);
    alerts.pulse(s(1), LapMissed, &mut out);
    alerts.pulse(s(1), Approach, &mut out);
    alerts.set(s(1), EgtLimit, true, &mut out);
    alerts.set(s(1), FixLost, true, &mut out);
    let cleared = [JumpedGun, LapMissed, Approach].map(|id| alert(id, Cleared));
    assert_eq!(decided(|out| alerts.clear_race(s(2), out)), cleared);
    assert_eq!((shown(&alerts), alerts.waiting()), (Some((EgtLimit, false)), 1));
    assert_eq!(decided(|out| alerts.clear_race(s(3), out)), []);
    alerts.set(s(9), JumpedGun, true, &mut out);
    assert_eq!(alerts.waiting(), 2, "the next heat can be started early, too");
}

/// Something that can happen to the alert room.
#[derive(Clone, Copy, Debug)]
enum Step {
    Set(AlertId, bool),
    Pulse(AlertId),
    Acknowledge,
    Tick,
    ClearRace,
}

fn steps() -> impl Strategy<Value = Vec<(u64, Step)>> {
    let id = || (0..COUNT).prop_map(|place| KINDS[place].id);
    let step = prop_oneof![
        6 => (id(), any::<bool>()).prop_map(|(id, holds)| Step::Set(id, holds)),
        2 => id().prop_map(Step::Pulse),
        3 => Just(Step::Acknowledge),
        2 => Just(Step::Tick),
        1 => Just(Step::ClearRace),
    ];
    prop::collection::vec((0_u64..8_000_000, step), 1..80)
}

/// Plays steps and hands each step's decisions to `look`, after the step.
fn play(steps: &[(u64, Step)], mut look: impl FnMut(Instant, &Alerts, &[Output])) {
    let (mut alerts, mut now) = (Alerts::new(), 0);
    for &(later, step) in steps {
        now += later;
        let at = Instant::from_micros(now);
        let mut out = Outputs::default();
        match step {
            Step::Set(id, holds) => alerts.set(at, id, holds, &mut out),
            Step::Pulse(id) => alerts.pulse(at, id, &mut out),
            Step::Acknowledge => alerts.acknowledge(at, &mut out),
            Step::Tick => alerts.tick(at, &mut out),
            Step::ClearRace => alerts.clear_race(at, &mut out),
        }
        look(at, &alerts, out.as_slice());
    }
}

/// The alerts that are on, by what was decided alone.
fn follow(on: &mut Vec<(AlertId, Level, bool)>, outputs: &[Output]) {
    for output in outputs {
        let &Output::Alert { id, level, state } = output else { continue };
        on.retain(|&(other, ..)| other != id);
        if state != Cleared {
            on.push((id, level, state == Acknowledged));
        }
    }
}

#[test]
fn while_hushed_only_warnings_are_shown_and_what_still_holds_comes_afterwards() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), FixLost, true, &mut out);
    alerts.hush(s(10), true, &mut out);
    assert_eq!((shown(&alerts), alerts.waiting(), alerts.caution()), (None, 0, None), "it waits");
    assert_eq!(decided(|out| alerts.set(s(11), JumpedGun, true, out)), []);
    assert_eq!(decided(|out| alerts.set(s(11), EgtHigh, true, out)), []);
    assert_eq!(decided(|out| alerts.set(s(12), EgtHigh, false, out)), [], "it came and went");
    assert_eq!(decided(|out| alerts.pulse(s(12), ZeroMoved, out)), []);
    let warning = [alert(EgtLimit, Raised), Output::Cue(Tone::Warning)];
    assert_eq!(decided(|out| alerts.set(s(13), EgtLimit, true, out)), warning);
    assert_eq!((shown(&alerts), alerts.waiting()), (Some((EgtLimit, false)), 0));
    let after = decided(|out| alerts.hush(s(20), false, out));
    // The beeper has one voice, and the warning is not acknowledged.
    assert_eq!(after, [alert(JumpedGun, Raised), alert(ZeroMoved, Raised)]);
    assert_eq!(alerts.waiting(), 3);
    assert_eq!(alerts.caution().map(|view| view.id), Some(ZeroMoved), "the newest, for the amber lamp");
}

#[test]
fn an_engines_caution_stays_for_a_glance_though_its_condition_goes_at_once() {
    let mut alerts = Alerts::new();
    let mut out = Outputs::default();
    alerts.set(s(1), EgtHigh, true, &mut out);
    assert_eq!(decided(|out| alerts.set(s(2), EgtHigh, false, out)), []);
    assert_eq!(alerts.next_wake(), Some(s(3)));
    assert_eq!(decided(|out| alerts.set(s(2), EgtHigh, true, out)), [], "back again: nothing flickers");
    assert_eq!(decided(|out| alerts.set(s(2), EgtHigh, false, out)), []);
    assert_eq!(decided(|out| alerts.tick(s(3), out)), [alert(EgtHigh, Cleared)]);
}

proptest! {
    #[test]
    fn nothing_lesser_ever_hides_a_more_urgent_alert(steps in steps()) {
        let mut on = Vec::new();
        play(&steps, |_, alerts, outputs| {
            follow(&mut on, outputs);
            let view = alerts.shown();
            assert_eq!(view.map(|view| view.level), on.iter().map(|&(_, level, _)| level).max());
            assert_eq!(usize::from(alerts.waiting()), on.len().saturating_sub(1));
            if let Some(view) = view {
                assert!(on.contains(&(view.id, view.level, view.acknowledged)));
            }
        });
    }

    /// But for those of the dock, which end with what they warn of.
    #[test]
    fn a_warning_never_clears_unacknowledged(steps in steps()) {
        let mut on = Vec::new();
        play(&steps, |_, _, outputs| {
            for &output in outputs {
                if let Output::Alert { id, level: Level::Warning, state: Cleared } = output {
                    let latches = KINDS[id as usize].ends == Ends::Acknowledged;
                    assert!(!latches || on.contains(&(id, Level::Warning, true)), "{id:?}");
                }
                follow(&mut on, &[output]);
            }
        });
    }

    #[test]
    fn the_next_wake_is_later_than_now_after_a_tick(steps in steps()) {
        play(&steps, |at, alerts, _| {
            let mut alerts = alerts.clone();
            alerts.tick(at, &mut Outputs::default());
            assert!(alerts.next_wake().is_none_or(|due| due > at));
        });
    }

    #[test]
    fn saying_the_same_condition_twice_decides_nothing(steps in steps(), place in 0..COUNT, holds: bool) {
        play(&steps, |at, alerts, _| {
            let mut alerts = alerts.clone();
            alerts.tick(at, &mut Outputs::default());
            alerts.set(at, KINDS[place].id, holds, &mut Outputs::default());
            assert_eq!(decided(|out| alerts.set(at, KINDS[place].id, holds, out)), []);
        });
    }
}
