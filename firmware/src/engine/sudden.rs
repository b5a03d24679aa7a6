//! N2 that rises as only a shaft without its load can: a lost blade, a lost propeller.
//!
//! The newest turn decides, if it is faster than the one before by the set rise or more, by more than a pickup is
//! unsteady, and by no more than any shaft can gain. A rise too small to be seen in one turn is seen in two. Turns
//! that a spurious or missing pulse has spoilt are not told, and the newest is told only when its last pulse may be
//! believed (`io::lookout`); so no alarm needs a second turn to be safe from them.
//!
//! Overspeed needs one turn that may be believed, unless it jumps there as no shaft can, or follows on none: then the
//! next one must agree.
//!
//! This file knows the units, the pickup and its settings. Turns in, a verdict out.

use super::settings::EngineSettings;
use super::tach::{TachSettings, UNSTEADY};
use crate::input::{Pulses, TURNS};
use crate::units::{CentiPercent, Instant, Span, mul_div};

/// So long an unloading counts as being there: the alert itself stays until it is acknowledged.
const LASTS: Span = Span::from_secs(2);

/// A measured speed and how long was measured.
#[derive(Clone, Copy, Debug)]
struct Speed {
    value: CentiPercent,
    span: Span,
}

/// Follows the power shaft.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sudden {
    tach: TachSettings,
    overspeed: CentiPercent,
    from: CentiPercent,
    rise_pct_s: i64,
    most_pct_s: i64,
    /// The regular reports before the newest, oldest first.
    before: [Option<Speed>; 2],
    until: Option<Instant>,
}

impl Sudden {
    /// Nothing seen yet.
    pub(super) const fn new(settings: &EngineSettings) -> Self {
        Self {
            tach: settings.n2_tach,
            overspeed: settings.n2_overspeed,
            from: settings.watch.unload_from,
            rise_pct_s: settings.watch.unload_rise_pct_s as i64,
            most_pct_s: settings.watch.rise_most_pct_s as i64,
            before: [None; 2],
            until: None,
        }
    }

    /// Three turns told one by one; gives the newest speed if it may be believed.
    pub(super) fn turns(&mut self, at: Instant, turns: [Span; TURNS]) -> Option<CentiPercent> {
        let count = self.tach.cycles_per_turn;
        let [first, second, third] =
            turns.map(|span| self.tach.percent(Pulses { count, span }).map(|value| Speed { value, span }));
        self.judge(at, [first, second, third]);
        self.at_once(at, [first, second, third]);
        let (before, newest) = (second?, third?);
        let agrees = before.value > self.overspeed && newest.value > self.overspeed;
        (agrees || self.rise(before, newest) <= self.most_pct_s).then_some(newest.value)
    }

    /// A regular report; slower, but it needs no lookout.
    pub(super) fn report(&mut self, at: Instant, value: Option<CentiPercent>, span: Span) {
        let [older, old] = self.before;
        let newest = value.map(|value| Speed { value, span });
        self.judge(at, [older, old, newest]);
        self.before = [old, newest];
    }

    /// One turn alone, after two that belong together.
    fn at_once(&mut self, at: Instant, speeds: [Option<Speed>; TURNS]) {
        let [Some(a), Some(b), Some(c)] = speeds else { return };
        let belongs = self.rise(a, b).abs() <= self.most_pct_s;
        let fell = (b.span.as_micros() - c.span.as_micros()).saturating_mul(i64::from(UNSTEADY));
        let step = self.rise(b, c);
        let steep = fell > b.span.as_micros() && step >= self.rise_pct_s && step <= self.most_pct_s;
        if b.value >= self.from && belongs && steep {
            self.until = Some(at.plus(LASTS));
        }
    }

    /// Three in a row, each faster than the one before.
    fn judge(&mut self, at: Instant, speeds: [Option<Speed>; 3]) {
        let [Some(a), Some(b), Some(c)] = speeds else { return };
        let steps = [self.rise(a, b), self.rise(b, c)];
        let whole = per_second(c.value - a.value, apart(a, b) + apart(b, c));
        let both = steps.iter().all(|step| *step * 2 >= self.rise_pct_s && *step <= self.most_pct_s);
        if a.value >= self.from && both && whole >= self.rise_pct_s {
            self.until = Some(at.plus(LASTS));
        }
    }

    /// Percent a second from the one to the other.
    fn rise(&self, from: Speed, to: Speed) -> i64 {
        per_second(to.value - from.value, apart(from, to))
    }

    /// True for a while after N2 rose like that.
    pub(super) fn is_unloaded(&self, at: Instant) -> bool {
        self.until.is_some_and(|until| at < until)
    }

    /// When that is over.
    pub(super) const fn due(&self) -> Option<Instant> {
        self.until
    }

    /// Lets go of what is over at `at`.
    pub(super) fn age(&mut self, at: Instant) {
        self.until = self.until.filter(|until| at < *until);
    }
}

/// From the middle of the one measurement to the middle of the other that follows it.
fn apart(one: Speed, other: Speed) -> Span {
    Span::from_micros((one.span + other.span).as_micros() / 2)
}

/// Percent a second; no time at all is no rise.
fn per_second(rise: CentiPercent, time: Span) -> i64 {
    let us = time.as_micros();
    if us <= 0 { 0 } else { mul_div(i64::from(rise.as_centi()), 10_000, us) }
}
