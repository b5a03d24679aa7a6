//! A power blip does not lose the race: heats cut short at any moment, softly and coldly, against the same heats left
//! alone and against the truth.
//!
//! The simulator's board does at a restart what a board does: it asks its scratch words and its journal. How long a
//! soft restart really takes is drawn; the board only knows its mean.

use std::path::Path;

use firmware::output::{Call, Output, Refused, ZeroSource};
use firmware::units::{MmPerSecond, Span};
use gunline::log::{Decided, Log};
use gunline::play::play;
use gunline::replay::replay;
use gunline::scenario::{self, Heat};
use gunline::world::faults::{Fault, FaultKind};
use proptest::prelude::*;
use rayon::prelude::*;

/// Heats for each kind of restart and of gun.
const HEATS: u64 = if cfg!(debug_assertions) { 40 } else { 200 };

/// 97.5 % quantile of the normal distribution (NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.1).
const Z95: f64 = 1.959_964;

/// The least share of 95 % intervals that must cover: four counting errors of so many heats below it.
fn least_share() -> f64 {
    0.95 - 4.0 * (0.95 * 0.05 / HEATS as f64).sqrt()
}

fn heat(name: &str, seed: u64, faults: &[Fault]) -> Heat {
    let path = format!("{}/../sim/heats/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let mut heat = scenario::load(Path::new(&path)).unwrap();
    heat.seed = seed;
    heat.world.faults.extend_from_slice(faults);
    heat
}

/// Zero comes by a contact whose delay the dash has been told.
fn wire_the_gun(heat: &mut Heat) {
    heat.world.thumb.presses_at_s.clear();
    heat.world.guns.contact = true;
    heat.world.guns.cable_delay_ms = 2.0;
}

const SOFT: FaultKind = FaultKind::WatchdogReset;
const COLD: FaultKind = FaultKind::PowerBlip;

/// A number from 0 up to 1, another for each seed and purpose (the finaliser of SplitMix64).
fn share(seed: u64, purpose: u64) -> f64 {
    let mut x = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(purpose << 32);
    x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    (x ^ (x >> 31)) as f64 / u64::MAX as f64
}

fn span(seconds: f64) -> Span {
    Span::from_micros((seconds * 1e6) as i64)
}

fn seconds(span: Span) -> f64 {
    span.as_micros() as f64 / 1e6
}

/// A restart at a moment of the seed's between two race times; a cold one keeps the power off for up to three seconds.
fn restart(kind: FaultKind, seed: u64, (from_s, to_s): (f64, f64)) -> Fault {
    let at = span(from_s + (to_s - from_s) * share(seed, 1));
    Fault { at, kind, lasts: span(0.05 + 3.0 * share(seed, 2)) }
}

/// Zero by each decision from the last restart on: how late it truly was, and the deviation that the dash gave.
fn zeros_since_the_restart(log: &Log) -> Vec<(f64, f64)> {
    let back =
        |d: &Decided| matches!(d.output, Output::Zero { source: ZeroSource::Resumed, moved: None, .. });
    let Some(from) = log.decisions.iter().rposition(back) else { return Vec::new() };
    // Up to the next restart, if there is one: from there the board's clock goes its own way.
    let began = log.decisions[from];
    let on_its_clock = |d: &&Decided| (d.at.since(began.at) - (d.t - began.t)).abs() < Span::from_millis(100);
    let since: Vec<_> = log.decisions[from..].iter().take_while(on_its_clock).collect();
    // The board's clock and the truth side by side, as near to zero as a decision fell.
    let near = *since.iter().min_by_key(|decided| decided.t.abs()).unwrap();
    let zero = |decided: &Decided| match decided.output {
        Output::Zero { at, sigma, .. } => Some((seconds(near.t + at.since(near.at)), seconds(sigma))),
        _ => None,
    };
    since.into_iter().filter_map(zero).collect()
}

/// Plays heats with one restart each in the countdown; every zero after it must lie within four of its deviations.
fn resumed_zeros(kind: FaultKind, change: impl Fn(&mut Heat) + Sync) -> Vec<(f64, f64)> {
    let firsts = (0..HEATS).into_par_iter().map(|seed| {
        let mut heat = heat("first", seed, &[restart(kind, seed, (-290.0, -5.0))]);
        heat.world.ends_s = Some(1.0);
        change(&mut heat);
        let zeros = zeros_since_the_restart(&play(&heat));
        for (error_s, sigma_s) in &zeros {
            assert!(error_s.abs() <= 4.0 * sigma_s, "seed {seed}: {error_s} s, stated {sigma_s} s");
        }
        *zeros.first().unwrap_or_else(|| panic!("seed {seed}: zero did not come back"))
    });
    firsts.collect()
}

fn check_coverage(name: &str, zeros: &[(f64, f64)]) {
    let covered = zeros.iter().filter(|(error_s, sigma_s)| error_s.abs() <= Z95 * sigma_s).count();
    let share = covered as f64 / zeros.len() as f64;
    let rms_ms = |of: &dyn Fn(&(f64, f64)) -> f64| {
        (zeros.iter().map(|z| of(z).powi(2)).sum::<f64>() / zeros.len() as f64).sqrt() * 1e3
    };
    println!(
        "{name}: {} restarts; 95 % intervals cover zero in {:.1} %; {:.1} ms RMS, {:.1} ms stated",
        zeros.len(),
        share * 100.0,
        rms_ms(&|z| z.0),
        rms_ms(&|z| z.1)
    );
    assert!(share >= least_share(), "{name}: covered in {:.1} %", share * 100.0);
}

#[test]
fn zero_is_within_its_stated_error_after_a_soft_restart_at_any_moment() {
    check_coverage("thumb, soft", &resumed_zeros(SOFT, |_| {}));
    let wired = resumed_zeros(SOFT, wire_the_gun);
    check_coverage("contact, soft", &wired);
    // The bar is no longer than it need be: 1 ms of the contact and 3 ms of the restart.
    assert!(wired.iter().all(|(_, sigma_s)| *sigma_s < 0.010), "{wired:?}");
}

#[test]
fn zero_is_within_its_stated_error_after_a_cold_start_at_any_moment() {
    check_coverage("thumb, cold", &resumed_zeros(COLD, |_| {}));
    check_coverage("contact, cold", &resumed_zeros(COLD, wire_the_gun));
}

fn calls(log: &Log) -> Vec<(Call, Span, Span)> {
    let call = |d: &Decided| match d.output {
        Output::Call { call, margin, sigma, .. } => Some((call, margin, sigma)),
        _ => None,
    };
    log.decisions.iter().filter_map(call).collect()
}

fn laps(log: &Log) -> Vec<(u16, Span, MmPerSecond, Span)> {
    let lap = |d: &Decided| match d.output {
        Output::Lap { lap, time, speed, sigma } => Some((lap, time, speed, sigma)),
        _ => None,
    };
    log.decisions.iter().filter_map(lap).collect()
}

fn finish(log: &Log) -> (u16, Span, Span) {
    let end = |d: &Decided| match d.output {
        Output::Finish { laps, time, penalty } => Some((laps, time, penalty)),
        _ => None,
    };
    log.decisions.iter().find_map(end).unwrap()
}

/// True when the bow crossed while the board was off, or too near for the fixes on both sides to be seen.
fn a_crossing_falls_into(log: &Log, cut: &Fault) -> bool {
    let (from, to) = (cut.at - span(0.5), cut.at + cut.lasts.max(span(0.4)) + span(1.0));
    log.true_crossings.iter().any(|crossing| from <= crossing.t && crossing.t <= to)
}

/// Calls, laps and penalties to the last bit; the time from zero to what is left once UTC has put zero back, which
/// moves by whole milliseconds.
#[test]
fn call_and_laps_are_unchanged_by_a_restart_in_mid_race() {
    let kept = (0..HEATS).into_par_iter().filter(|seed| {
        let name = if seed % 2 == 0 { "first" } else { "jumped" };
        let alone = play(&heat(name, *seed, &[]));
        let cut = restart(if seed % 4 < 2 { SOFT } else { COLD }, *seed, (2.0, 150.0));
        if a_crossing_falls_into(&alone, &cut) {
            return false;
        }
        let cut_short = play(&heat(name, *seed, &[cut]));
        assert_eq!(calls(&cut_short), calls(&alone), "seed {seed}");
        assert_eq!(laps(&cut_short), laps(&alone), "seed {seed}");
        let ((laps, time, penalty), whole) = (finish(&cut_short), finish(&alone));
        assert_eq!((laps, penalty), (whole.0, whole.2), "seed {seed}");
        assert!((time - whole.1).abs() <= Span::from_millis(2), "seed {seed}: {time:?}, alone {whole:?}");
        true
    });
    let kept = kept.count();
    assert!(kept as f64 > 0.7 * HEATS as f64, "only {kept} restarts fell between crossings");
}

/// No receiver: after a cold start nothing can tell where zero was, and nothing says so until a gun is heard again.
#[test]
fn without_utc_a_cold_start_invents_no_zero() {
    for seed in 0..10 {
        let mut cut = heat("first", seed, &[restart(COLD, seed, (-290.0, -70.0))]);
        (cut.world.feeds.receiver, cut.world.feeds.pps) = (false, false);
        cut.world.thumb.presses_at_s.retain(|s| *s == 300.0);
        let log = play(&cut);
        let zeros = log.decisions.iter().filter(|d| matches!(d.output, Output::Zero { .. })).count();
        let lost = log.decisions.iter().filter(|d| d.output == Output::Refused(Refused::ZeroLost)).count();
        assert_eq!((zeros, lost), (1, 1), "seed {seed}");
        assert_eq!(log.samples.last().unwrap().view.race, None);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(if cfg!(debug_assertions) { 12 } else { 100 }))]

    /// What the journal holds on both sides of each restart leads to its decisions, bit for bit, and to what was
    /// carried from one to the other.
    #[test]
    fn a_journal_replays_across_any_restarts(
        seed in 0_u64..1_000,
        cuts in prop::collection::vec((any::<bool>(), -300_000_i64..180_000, 10_i64..20_000), 0..6),
    ) {
        let faults: Vec<Fault> = cuts.into_iter().map(|(soft, at_ms, off_ms)| Fault {
            at: Span::from_millis(at_ms),
            kind: if soft { SOFT } else { COLD },
            lasts: Span::from_millis(off_ms),
        }).collect();
        let log = play(&heat("first", seed, &faults));
        let replayed = replay(&log.journal).unwrap();
        prop_assert!(replayed.agrees(), "{:?}", replayed.first_difference);
        prop_assert_eq!(replayed.digest, log.digest);
        for (error_s, sigma_s) in zeros_since_the_restart(&log) {
            prop_assert!(error_s.abs() <= 4.0 * sigma_s, "{} s, stated {} s", error_s, sigma_s);
        }
    }
}
