//! Starts as dated scripts: a line per event, a line per expectation. Times are seconds before true zero.

use super::*;
use proptest::prelude::*;

/// Where the true zero lies on the board's clock in these scripts.
const TRUE_ZERO_S: i64 = 1_000;

const STILL: Crystal = Crystal { drift: PartsPerBillion::ZERO, drift_sd: PartsPerBillion::ZERO };

fn settings(signals: &[u16]) -> GunSettings {
    GunSettings {
        signals_s: Vec::from_slice(signals).unwrap(),
        reaction_mean: Span::from_millis(250),
        reaction_sd: Span::from_millis(60),
        reaction_mean_sd: Span::from_millis(15),
        contact_delay: Span::from_millis(2),
        contact_sd: Span::from_millis(1),
        heard: None,
        gate_sigmas: 4,
        gate_least: Span::from_millis(100),
        replace_within: Span::from_secs(5),
        debounce: Span::from_millis(25),
        hold_to_clear: Span::from_secs(2),
    }
}

/// Race time in milliseconds to the board's clock.
fn t(ms: i64) -> Instant {
    Instant::BOOT.plus(Span::from_secs(TRUE_ZERO_S) + Span::from_millis(ms))
}

struct Script {
    clock: StartClock,
    crystal: Crystal,
}

impl Script {
    fn new(signals: &[u16]) -> Self {
        Self { clock: StartClock::new(&settings(signals)), crystal: STILL }
    }

    fn hears(&mut self, hand: Hand, ms: i64) -> Outputs {
        let mut out = Outputs::default();
        self.clock.signal(t(ms), hand, self.crystal, &mut out);
        out
    }

    fn press(&mut self, ms: i64) -> Outputs {
        self.hears(Hand::Thumb, ms)
    }

    fn contact(&mut self, ms: i64) -> Outputs {
        self.hears(Hand::Contact, ms)
    }

    /// How far the clock's zero is from the true one, in milliseconds.
    fn off_ms(&self) -> f64 {
        self.clock.zero().unwrap().at.since(t(0)).as_micros() as f64 / 1e3
    }

    fn sigma_ms(&self) -> f64 {
        self.clock.zero().unwrap().sigma.as_micros() as f64 / 1e3
    }
}

fn stray(out: &Outputs) -> Option<Stray> {
    out.as_slice().iter().find_map(|o| if let Output::Stray { why, .. } = o { Some(*why) } else { None })
}

fn moved_ms(out: &Outputs) -> Option<Option<i64>> {
    out.as_slice().iter().find_map(|o| match o {
        Output::Zero { moved, .. } => Some(moved.map(|m| m.as_micros() / 1_000)),
        _ => None,
    })
}

/// Common practice, no source: zero is 300 s after the first gun and 60 s after the second.
#[test]
fn five_minute_press_then_one_minute_press() {
    let mut heat = Script::new(&[300, 60, 0]);
    let armed = heat.press(-299_730);
    assert_eq!(moved_ms(&armed), Some(None), "armed, not moved");
    assert!((heat.off_ms() - 20.0).abs() < 0.01, "0.27 s late less the mean of 0.25 s");
    assert!((heat.sigma_ms() - 61.8).abs() < 0.1, "60 and 15 ms by root sum square");
    let sharpened = heat.press(-59_790);
    assert_eq!(moved_ms(&sharpened), Some(Some(-30)), "half way to the second, which says -40 ms");
    assert!((heat.off_ms() + 10.0).abs() < 0.01);
    assert!((heat.sigma_ms() - (1_800.0_f64 + 225.0).sqrt()).abs() < 0.1, "the shared 15 ms stays");
}

/// World Sailing racing rule 26: warning 5, preparatory 4, one-minute 1, start 0 minutes before.
#[test]
fn rule_26_is_a_list_of_numbers() {
    let mut heat = Script::new(&[300, 240, 60, 0]);
    heat.press(-299_750);
    assert_eq!(moved_ms(&heat.press(-239_750)), Some(Some(0)));
    assert_eq!(moved_ms(&heat.press(-59_750)), Some(Some(0)));
    assert_eq!(moved_ms(&heat.press(250)), Some(Some(0)));
    assert!((heat.sigma_ms() - (900.0_f64 + 225.0).sqrt()).abs() < 0.1, "four presses");
}

#[test]
fn a_contact_outweighs_a_thumb() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.press(-299_700);
    heat.contact(-59_998);
    assert!(heat.off_ms().abs() < 0.05, "{}", heat.off_ms());
    assert!(heat.sigma_ms() < 1.1);
}

#[test]
fn a_press_far_from_any_signal_is_a_stray() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.press(-299_750);
    assert_eq!(stray(&heat.press(-150_000)), Some(Stray::NoSignalDue));
    assert_eq!(stray(&heat.press(-299_000)), Some(Stray::AlreadyTaken));
    assert_eq!(stray(&heat.press(20_000)), Some(Stray::RaceOn));
    assert!(heat.off_ms().abs() < 0.01, "zero has not moved");
}

#[test]
fn a_second_signal_beyond_the_gate_replaces_the_first_and_says_by_how_much() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.press(-298_000);
    let out = heat.press(-59_750);
    assert_eq!(moved_ms(&out), Some(Some(-1_750)));
    assert!(heat.off_ms().abs() < 0.01);
    assert!((heat.sigma_ms() - 61.8).abs() < 0.1, "the first press no longer counts");
}

#[test]
fn only_the_one_minute_gun_was_seen() {
    let mut heat = Script::new(&[300, 60, 0]);
    let mut out = Outputs::default();
    assert!(heat.clock.next_signal(t(-70_000), STILL, &mut out), "page before the press");
    heat.press(-59_750);
    assert!(heat.off_ms().abs() < 0.01);
    assert_eq!(heat.clock.zero().unwrap().source, ZeroSource::Press { before_s: 60 });

    let mut heat = Script::new(&[300, 60, 0]);
    heat.press(-59_750);
    assert!(heat.clock.next_signal(t(-57_000), STILL, &mut out), "page after the press");
    assert!(heat.off_ms().abs() < 0.01);
    assert!(!heat.clock.next_signal(t(-20_000), STILL, &mut out), "too late to be a correction");
}

#[test]
fn cleared_and_armed_again_without_a_power_cycle() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.press(-600_000);
    let mut out = Outputs::default();
    heat.clock.clear(&mut out);
    assert_eq!(out.as_slice(), [Output::Cleared]);
    assert_eq!(heat.clock.zero(), None);
    assert_eq!(moved_ms(&heat.press(-299_750)), Some(None));
    assert!(heat.off_ms().abs() < 0.01);
}

#[test]
fn a_schedule_needs_no_press_and_a_gun_that_disagrees_replaces_it() {
    let mut heat = Script::new(&[300, 60, 0]);
    let mut out = Outputs::default();
    let zero = Utc::from_unix_micros(2_000_000_000_000_000);
    heat.clock.schedule(zero, t(0), Span::from_micros(5), STILL, &mut out);
    assert_eq!(heat.clock.zero().unwrap().scheduled, Some(zero));
    assert_eq!(heat.clock.zero().unwrap().source, ZeroSource::Utc);
    heat.contact(-57_998);
    assert!((heat.off_ms() - 2_000.0).abs() < 0.01, "the gun fired 2 s late");
    assert_eq!(heat.clock.zero().unwrap().scheduled, None);
}

#[test]
fn a_thumb_does_not_overrule_a_contact_or_a_schedule() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.contact(-299_998);
    assert_eq!(stray(&heat.press(3_000)), Some(Stray::Overruled));
    assert!(heat.off_ms().abs() < 0.01);

    let mut heat = Script::new(&[300, 60, 0]);
    let mut out = Outputs::default();
    let zero = Utc::from_unix_micros(2_000_000_000_000_000);
    heat.clock.schedule(zero, t(0), Span::from_millis(20), STILL, &mut out);
    assert_eq!(stray(&heat.press(-58_000)), Some(Stray::Overruled));
    let confirmed = heat.press(-59_800);
    assert_eq!(confirmed.as_slice(), [Output::Cue(Tone::Taken)], "an agreeing press changes nothing");
    assert_eq!(heat.clock.zero().unwrap().scheduled, Some(zero));
}

#[test]
fn a_schedule_replaces_a_press_and_is_not_averaged_with_it() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.press(-297_750);
    let mut out = Outputs::default();
    heat.clock.schedule(
        Utc::from_unix_micros(2_000_000_000_000_000),
        t(0),
        Span::from_millis(20),
        STILL,
        &mut out,
    );
    assert_eq!(moved_ms(&out), Some(Some(-2_000)));
    assert!((heat.sigma_ms() - 20.0).abs() < 0.01);
}

/// 30 ppm over 300 s is 9 ms; a crystal measured after the first gun moves zero by that, and says so.
#[test]
fn a_better_known_crystal_moves_zero_and_says_so() {
    let mut heat = Script::new(&[300, 60, 0]);
    heat.crystal = Crystal { drift: PartsPerBillion::ZERO, drift_sd: PartsPerBillion::from_ppb(30_000) };
    heat.press(-299_750);
    let known =
        Crystal { drift: PartsPerBillion::from_ppb(30_000), drift_sd: PartsPerBillion::from_ppb(100) };
    let mut out = Outputs::default();
    heat.clock.retime(known, None, &mut out);
    assert_eq!(moved_ms(&out), Some(Some(9)));
    let mut again = Outputs::default();
    heat.clock.retime(known, None, &mut again);
    assert!(again.as_slice().is_empty());
}

#[test]
fn a_gun_armed_by_ear_is_corrected_for_its_distance() {
    let mut by_ear = settings(&[300, 60, 0]);
    by_ear.heard = Some(HeardGun {
        distance: crate::units::Millimetres::from_mm(800_000),
        distance_sd: crate::units::Millimetres::from_mm(50_000),
        air: crate::units::MilliCelsius::from_milli(20_000),
    });
    let mut heat = Script { clock: StartClock::new(&by_ear), crystal: STILL };
    // 0.25 s of thumb and 2.331 s of sound late.
    heat.press(-300_000 + 250 + 2_331);
    assert!(heat.off_ms().abs() < 0.2, "{}", heat.off_ms());
    assert!((heat.sigma_ms() - (3_600.0_f64 + 225.0 + 145.68 * 145.68).sqrt()).abs() < 0.5);
}

proptest! {
    #[test]
    fn zero_moves_only_by_an_announced_decision(
        presses in proptest::collection::vec((any::<bool>(), 0_i64..40_000), 1..40)
    ) {
        let mut heat = Script::new(&[300, 60, 0]);
        let mut now = -310_000;
        for (contact, step) in presses {
            now += step;
            let before = heat.clock.zero().copied();
            let out = heat.hears(if contact { Hand::Contact } else { Hand::Thumb }, now);
            let after = heat.clock.zero().copied();
            let announced = out.as_slice().iter().find_map(|o| match o {
                Output::Zero { at, moved, .. } => Some((*at, *moved)),
                _ => None,
            });
            match (before, announced) {
                (_, None) => prop_assert_eq!(before.map(|z| z.at), after.map(|z| z.at)),
                (None, Some((at, moved))) => {
                    prop_assert_eq!(moved, None);
                    prop_assert_eq!(Some(at), after.map(|z| z.at));
                }
                (Some(old), Some((at, moved))) => {
                    prop_assert_eq!(moved, Some(at.since(old.at)));
                    prop_assert_eq!(Some(at), after.map(|z| z.at));
                }
            }
        }
    }

    #[test]
    fn a_press_never_moves_zero_by_more_than_the_replacement_window(first in -400_000_i64..-250_000, second in -400_000_i64..20_000) {
        let mut heat = Script::new(&[300, 60, 0]);
        heat.press(first);
        let out = heat.press(second.max(first));
        if let Some(Some(moved)) = moved_ms(&out) {
            prop_assert!(moved.abs() <= 5_000);
        }
    }
}
