//! What a heat came to: the call, the laps, the finish, and how far the dash was from the truth.
//!
//! Made once from a log; the timeline's last lines, the pictures and the page all read it here, so that they
//! cannot disagree. A clock cleared by the driver begins a new start: what was called before it is dropped.
//!
//! Knows the log. Decisions in, facts out; it judges nothing anew.

use firmware::output::{AlertId, AlertState, Call, Cause, Counted, Level, Output, Quantity, ZeroSource};
use firmware::units::{Instant, MmPerSecond, Span};

use crate::log::{BoatState, Decided, Log};

/// Where a log's times count from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// From the true zero: a simulated heat.
    #[default]
    TrueZero,
    /// From the dash's own zero: a record, of which nobody knows the truth.
    DashZero,
}

/// What a heat came to.
#[derive(Clone, Debug, Default)]
pub struct Summary {
    /// Where times count from.
    pub scale: Scale,
    /// What zero last rested on, and its standard deviation; the crystal's trims keep the source.
    pub zero: Option<(ZeroSource, Span)>,
    /// How long after the true zero the dash's own came, as shown at the true zero; `None` when not known.
    pub zero_error: Option<Span>,
    /// The last start call.
    pub call: Option<Called>,
    /// When the bow truly started: by the same rule, on the true times. `None` when not known.
    pub true_start: Option<Span>,
    /// Crossings as the dash saw them.
    pub crossings: Vec<Seen>,
    /// Laps completed.
    pub laps: Vec<Lap>,
    /// The finish, once the last lap owed was run.
    pub finish: Option<Finish>,
    /// What is owed: the last word for each cause.
    pub penalties: Vec<Penalty>,
    /// Engine limits exceeded.
    pub exceedances: Vec<Exceedance>,
    /// Alerts raised.
    pub alerts: Vec<Raised>,
}

/// A start call.
#[derive(Clone, Copy, Debug)]
pub struct Called {
    /// The answer.
    pub call: Call,
    /// Crossing time less zero.
    pub margin: Span,
    /// One standard deviation of the margin.
    pub sigma: Span,
}

/// A crossing as the dash saw it.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// The log's time of the crossing itself, not of the decision.
    pub t: Span,
    /// What it counted as.
    pub counted: Counted,
}

/// A lap completed.
#[derive(Clone, Copy, Debug)]
pub struct Lap {
    /// 1 for the first after the start.
    pub lap: u16,
    /// From crossing to crossing.
    pub time: Span,
    /// The official lap length over the time.
    pub speed: MmPerSecond,
    /// One standard deviation of the time.
    pub sigma: Span,
}

/// The finish.
#[derive(Clone, Copy, Debug)]
pub struct Finish {
    /// Laps run.
    pub laps: u16,
    /// From zero to the finish, without time penalties.
    pub time: Span,
    /// Time penalties owed on top.
    pub penalty: Span,
}

/// Something owed.
#[derive(Clone, Copy, Debug)]
pub struct Penalty {
    /// For what.
    pub cause: Cause,
    /// Laps, in all.
    pub laps: u16,
    /// Time, in all.
    pub time: Span,
}

/// An engine limit exceeded.
#[derive(Clone, Copy, Debug)]
pub struct Exceedance {
    /// The log's time at which it was called.
    pub t: Span,
    /// What was too high.
    pub quantity: Quantity,
    /// The limit, in the quantity's own unit.
    pub threshold: i32,
    /// The highest value, in the quantity's own unit.
    pub peak: i32,
    /// How long it was above.
    pub above: Span,
    /// True when it came back down before the log ended.
    pub over: bool,
}

/// An alert raised.
#[derive(Clone, Copy, Debug)]
pub struct Raised {
    /// Which one.
    pub id: AlertId,
    /// How urgent.
    pub level: Level,
    /// When.
    pub t: Span,
    /// When it was cleared, if it was.
    pub cleared: Option<Span>,
    /// True when the driver acknowledged it.
    pub acknowledged: bool,
}

impl Summary {
    /// Reads a log through.
    #[must_use]
    pub fn of(log: &Log, scale: Scale) -> Self {
        let mut summary = Self { scale, ..Self::default() };
        for decided in &log.decisions {
            summary.take(decided);
        }
        if scale == Scale::TrueZero {
            summary.zero_error = zero_error(log);
            summary.true_start = true_start(log);
        }
        summary
    }

    fn take(&mut self, decided: &Decided) {
        let t = decided.t;
        match decided.output {
            Output::Zero { source, sigma, .. } => self.zero_is(source, sigma),
            Output::Cleared => self.forget_start(),
            Output::Crossing { at, counted, .. } => {
                self.crossings.push(Seen { t: t + at.since(decided.at), counted });
            }
            Output::Call { call, margin, sigma, .. } => self.call = Some(Called { call, margin, sigma }),
            Output::Lap { lap, time, speed, sigma } => self.laps.push(Lap { lap, time, speed, sigma }),
            Output::Finish { laps, time, penalty } => self.finish = Some(Finish { laps, time, penalty }),
            Output::Penalty { cause, laps, time } => self.owe(Penalty { cause, laps, time }),
            Output::Exceedance { quantity, threshold, peak, above, over } => {
                self.exceed(Exceedance { t, quantity, threshold, peak, above, over });
            }
            Output::Alert { id, level, state } => self.alert(t, id, level, state),
            _ => {}
        }
    }

    fn zero_is(&mut self, source: ZeroSource, sigma: Span) {
        let kept = self.zero.filter(|_| source == ZeroSource::Drift).map_or(source, |(kept, _)| kept);
        self.zero = Some((kept, sigma));
    }

    fn forget_start(&mut self) {
        (self.zero, self.call, self.finish) = (None, None, None);
        self.laps.clear();
        self.penalties.clear();
    }

    fn owe(&mut self, penalty: Penalty) {
        self.penalties.retain(|owed| owed.cause != penalty.cause);
        if penalty.laps > 0 || penalty.time > Span::ZERO {
            self.penalties.push(penalty);
        }
    }

    /// The report that ends an exceedance replaces the one that began it.
    fn exceed(&mut self, new: Exceedance) {
        let same = |old: &&mut Exceedance| {
            !old.over && (old.quantity, old.threshold) == (new.quantity, new.threshold)
        };
        match self.exceedances.iter_mut().rev().find(same) {
            Some(old) => *old = Exceedance { t: old.t, ..new },
            None => self.exceedances.push(new),
        }
    }

    fn alert(&mut self, t: Span, id: AlertId, level: Level, state: AlertState) {
        if state == AlertState::Raised {
            return self.alerts.push(Raised { id, level, t, cleared: None, acknowledged: false });
        }
        let open = self.alerts.iter_mut().rev().find(|alert| alert.id == id && alert.cleared.is_none());
        match (open, state) {
            (Some(alert), AlertState::Cleared) => alert.cleared = Some(t),
            (Some(alert), _) => alert.acknowledged = true,
            (None, _) => {}
        }
    }

    /// How far the margin of the call was from the truth.
    #[must_use]
    pub fn call_error(&self) -> Option<Span> {
        Some(self.call?.margin - self.true_start?)
    }
}

impl Decided {
    /// What the dash believed the race time to be at another moment of its clock.
    #[must_use]
    pub fn race_at(&self, at: Instant) -> Option<Span> {
        self.race.map(|race| race + at.since(self.at))
    }
}

impl Log {
    /// The times of the first and the last thing in it; both zero when it is empty.
    #[must_use]
    pub fn extent(&self) -> (Span, Span) {
        let first = [
            self.samples.first().map(|sample| sample.t),
            self.decisions.first().map(|decided| decided.t),
            self.edges.first().map(|edge| edge.t),
        ];
        let last = [
            self.samples.last().map(|sample| sample.t),
            self.decisions.last().map(|decided| decided.t),
            self.edges.last().map(|edge| edge.t),
        ];
        let (first, last) = (first.into_iter().flatten().min(), last.into_iter().flatten().max());
        (first.unwrap_or_default(), last.unwrap_or_default())
    }

    /// The boat at a moment, on the straight line between the samples beside it.
    #[must_use]
    pub fn boat_at(&self, t: Span) -> Option<BoatState> {
        let after = self.samples.partition_point(|sample| sample.t <= t);
        let before = self.samples.get(after.checked_sub(1)?)?;
        let a = before.boat?;
        let Some(next) = self.samples.get(after) else { return (before.t == t).then_some(a) };
        let b = next.boat?;
        let share = micros(t - before.t) / micros(next.t - before.t);
        let mix = |from: f64, to: f64| from + share * (to - from);
        Some(BoatState {
            position: if share < 0.5 { a.position } else { b.position },
            bow_past_m: mix(a.bow_past_m, b.bow_past_m),
            bow_along_m: mix(a.bow_along_m, b.bow_along_m),
            speed_m_s: mix(a.speed_m_s, b.speed_m_s),
            run_m: mix(a.run_m, b.run_m),
        })
    }
}

/// Seconds, for a picture.
#[must_use]
pub fn secs(span: Span) -> f64 {
    micros(span) / 1e6
}

fn micros(span: Span) -> f64 {
    span.as_micros() as f64
}

/// At the sample nearest the true zero, and no further than a second from it.
fn zero_error(log: &Log) -> Option<Span> {
    let near = log.samples.iter().filter(|sample| sample.view.race.is_some());
    let sample = near.min_by_key(|sample| sample.t.abs())?;
    (sample.t.abs() <= Span::from_secs(1)).then_some(())?;
    Some(sample.t - sample.view.race?)
}

/// The first true crossing in racing direction that lies inside the window or after zero.
fn true_start(log: &Log) -> Option<Span> {
    let window = -log.settings.race.early_window;
    log.true_crossings
        .iter()
        .find(|crossing| crossing.forward && crossing.t >= window)
        .map(|crossing| crossing.t)
}
