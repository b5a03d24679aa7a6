//! What many starts come to: shares with exact intervals.

use firmware::output::AlertId;

use super::drawn::Cause;
use super::{AHEAD_S, Kind, Outcome, Starts};
use crate::sweep::tally::{Interval, quantile, share};

/// The alerts that a start may raise.
pub const ALERTS: [AlertId; 8] = [
    AlertId::HotStart,
    AlertId::HungStart,
    AlertId::NoLightOff,
    AlertId::FuelTooSoon,
    AlertId::StarterLong,
    AlertId::FlameOut,
    AlertId::EgtHigh,
    AlertId::EgtLimit,
];

/// All starts, counted.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Of the hot ones: said at least a second before the limit.
    pub in_time: Interval,
    /// Of the hot ones whose fire was felt at least two seconds before the limit: the same.
    pub in_time_where_possible: Interval,
    /// How many hot ones there were, and in how many the fire was felt less than two seconds before the limit.
    pub hot: usize,
    /// See above.
    pub sudden: usize,
    /// Of the hot ones: said before the limit at all.
    pub before: Interval,
    /// Of those that used up a row's time: said a second before.
    pub long_in_time: Interval,
    /// Of the good ones: called hot.
    pub false_on_good: Interval,
    /// Of the warm ones: called hot.
    pub called_warm: Interval,
    /// Leads of the hot starts that were said, in order, s.
    pub leads_s: Vec<f64>,
    /// Hot starts by how long before the limit the fire was felt, up to each of [`FELT_S`]: how many, said at all before
    /// the limit, said a second before.
    pub by_time: [(usize, usize, usize); FELT_S.len()],
    /// For each kind: how many, and in how many each of [`ALERTS`] was raised.
    pub kinds: Vec<(Kind, usize, [usize; ALERTS.len()])>,
    /// For each cause: how many, how many were hot, and how many of those were said in time.
    pub causes: Vec<(Cause, usize, usize, usize)>,
}

/// Ends of the classes in [`Tally::by_time`], s.
pub const FELT_S: [f64; 6] = [1.0, 1.5, 2.0, 3.0, 5.0, f64::INFINITY];

/// The dash needs to have seen the fire for so long before anyone can ask for a warning, s: a second of watching and a
/// second ahead.
const POSSIBLE_S: f64 = 2.0;

impl Tally {
    /// A quantile of the leads.
    #[must_use]
    pub fn lead_s(&self, part: f64) -> Option<f64> {
        quantile(&self.leads_s, part)
    }
}

/// Was a hot start said early enough?
#[must_use]
pub fn in_time(outcome: &Outcome) -> bool {
    outcome.lead_s().is_some_and(|lead| lead >= AHEAD_S)
}

/// Counts.
#[must_use]
pub fn tally(starts: &Starts) -> Tally {
    let of = |kind: Kind| starts.outcomes.iter().filter(move |outcome| outcome.kind == kind);
    let part = |kind: Kind, holds: &dyn Fn(&Outcome) -> bool| {
        share(of(kind).filter(|outcome| holds(outcome)).count(), of(kind).count())
    };
    let called_hot = |outcome: &Outcome| outcome.raised_s(AlertId::HotStart).is_some();
    let sudden = |outcome: &Outcome| {
        outcome.limit_s.zip(outcome.fire_s).is_some_and(|(limit, fire)| limit - fire < POSSIBLE_S)
    };
    let possible: Vec<&Outcome> = of(Kind::Hot).filter(|outcome| !sudden(outcome)).collect();
    let mut leads_s: Vec<f64> = of(Kind::Hot).filter_map(Outcome::lead_s).collect();
    leads_s.sort_by(f64::total_cmp);
    let raised =
        |kind: Kind| ALERTS.map(|alert| of(kind).filter(|outcome| outcome.raised_s(alert).is_some()).count());
    Tally {
        in_time: part(Kind::Hot, &in_time),
        in_time_where_possible: share(possible.iter().filter(|hot| in_time(hot)).count(), possible.len()),
        hot: of(Kind::Hot).count(),
        sudden: of(Kind::Hot).filter(|outcome| sudden(outcome)).count(),
        before: part(Kind::Hot, &|outcome| outcome.lead_s().is_some_and(|lead| lead > 0.0)),
        long_in_time: part(Kind::Long, &in_time),
        false_on_good: part(Kind::Good, &called_hot),
        called_warm: part(Kind::Warm, &called_hot),
        leads_s,
        by_time: by_time(starts),
        kinds: Kind::ALL.map(|kind| (kind, of(kind).count(), raised(kind))).to_vec(),
        causes: Cause::ALL.map(|(cause, _)| by_cause(starts, cause)).to_vec(),
    }
}

/// Hot starts by the time that anybody had.
fn by_time(starts: &Starts) -> [(usize, usize, usize); FELT_S.len()] {
    let mut classes = [(0, 0, 0); FELT_S.len()];
    for hot in starts.outcomes.iter().filter(|outcome| outcome.kind == Kind::Hot) {
        let had_s = hot.limit_s.zip(hot.fire_s).map_or(0.0, |(limit, fire)| limit - fire);
        let class = FELT_S.iter().zip(&mut classes).find(|(end, _)| had_s < **end);
        if let Some((_, (all, before, ahead))) = class {
            *all += 1;
            *before += usize::from(hot.lead_s().is_some_and(|lead| lead > 0.0));
            *ahead += usize::from(in_time(hot));
        }
    }
    classes
}

fn by_cause(starts: &Starts, cause: Cause) -> (Cause, usize, usize, usize) {
    let his: Vec<&Outcome> = starts.outcomes.iter().filter(|outcome| outcome.cause == cause).collect();
    let hot: Vec<&&Outcome> = his.iter().filter(|outcome| outcome.kind == Kind::Hot).collect();
    (cause, his.len(), hot.len(), hot.iter().filter(|outcome| in_time(outcome)).count())
}
