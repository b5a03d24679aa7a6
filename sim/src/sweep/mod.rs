//! The sweep: thousands of seeded starts, each driven twice: once by the dash, once by stopwatch and landmarks.
//!
//! Both drivers have the same boat, the same water, the same reflexes and the same gun presses; they differ in one
//! thing only, where the number comes from that says how early they would be. Every draw of a start comes from the
//! sweep's seed and the start's own number, so the result is the same for any number of threads, and a sweep cut
//! into shards and put together again is the sweep that was not cut.
//!
//! `drill` holds what all starts share, `start` drives one of them, `mind` is the driver's number, `sensors` is what
//! the dash gets to see; `tally` counts, `table`, `lines` and `picture` show.

mod by_heart;
pub mod command;
pub(crate) mod drill;
mod lane;
pub mod lines;
mod mind;
mod picture;
mod sensors;
mod start;
pub mod table;
pub mod tally;

use std::ops::Range;

use indicatif::{ParallelProgressIterator, ProgressBar};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::scenario::Heat;

use drill::Drill;
pub use picture::histogram;
pub(crate) use start::mixed;

/// Which part of a sweep to run: the `part`-th of `of` equal ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    /// From 1 on.
    pub part: u64,
    /// How many there are.
    pub of: u64,
}

impl Shard {
    /// All of it.
    pub const WHOLE: Self = Self { part: 1, of: 1 };

    /// The numbers of the starts in this part.
    #[must_use]
    pub fn starts(self, all: u64) -> Range<u64> {
        let edge = |part: u64| (u128::from(all) * u128::from(part) / u128::from(self.of.max(1))) as u64;
        edge(self.part.saturating_sub(1))..edge(self.part)
    }
}

impl std::str::FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text.split_once('/').and_then(|(part, of)| Some((part.parse().ok()?, of.parse().ok()?)));
        match parts {
            Some((part, of)) if (1..=of).contains(&part) => Ok(Self { part, of }),
            _ => Err(format!("'{text}' is no part of a sweep; write 2/8 for the second of eight")),
        }
    }
}

/// Who drove a start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Who {
    /// He follows the dash's number.
    Dash,
    /// He has a stopwatch and landmarks.
    Stopwatch,
}

/// How one start came out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// Which start of the sweep.
    pub start: u64,
    /// Who drove it.
    pub who: Who,
    /// True crossing less true zero: negative is early. None: he did not reach the line in time to matter.
    pub margin_s: Option<f64>,
    /// Speed of the bow over the line.
    pub speed_m_s: f64,
    /// How far he is behind a boat that crossed at zero flat out, once both have run past the line.
    pub behind_m: f64,
    /// What the dash foretold at 20, 10 and 5 s before zero, against what a flat-out run from there brings.
    pub foretold: [Option<Foretold>; 3],
}

/// A margin as the dash foretold it, and as it would have been.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Foretold {
    /// The dash's margin.
    pub margin_s: f64,
    /// Its one standard deviation.
    pub sigma_s: f64,
    /// The margin that the true boat would have had, flat out from that moment.
    pub true_s: f64,
    /// True when he had opened the throttle less than a second before: the dash may not have seen it.
    pub opening: bool,
}

/// The moments at which foretold margins are held against the truth: seconds before zero.
pub const ASKED_AT_S: [f64; 3] = [20.0, 10.0, 5.0];

/// What came of a sweep or a part of one.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// What makes two parts belong together.
    pub plan: Plan,
    /// The outcomes, in the order of their starts; the dash's before the stopwatch's.
    pub outcomes: Vec<Outcome>,
}

/// What was asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The heat's title.
    pub heat: String,
    /// Every draw comes from it.
    pub seed: u64,
    /// Starts in the whole sweep.
    pub starts: u64,
    /// The share of early starts that both drivers accept.
    pub risk: f64,
    /// The margin that the stopwatch's driver aims at, so that he is early as often as that.
    pub stopwatch_aim_s: f64,
}

/// Why a sweep cannot be run.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoSweep {
    /// The dash has no course, or its lane cannot be laid out on it.
    #[error(
        "these settings leave the dash without a number to follow: they need a [course] whose line the boat crosses"
    )]
    NoRunIn,
    /// The track is a recording: nobody can drive it otherwise.
    #[error("this heat plays a recording, which nobody can drive otherwise; a sweep needs [boat.drive]")]
    Recorded,
}

/// Runs the starts of one part of a sweep on all cores.
///
/// # Errors
/// [`NoSweep`] when the heat leaves nothing to compare.
pub fn sweep(
    heat: &Heat,
    seed: u64,
    starts: u64,
    shard: Shard,
    progress: ProgressBar,
) -> Result<Sweep, NoSweep> {
    let mut settings = heat.settings.clone();
    settings.run_in.get_or_insert_with(|| lane::of_the_world(&heat.world.course));
    let drill = Drill::new(heat, &settings, seed)?;
    let plan = Plan {
        heat: heat.title.clone(),
        seed,
        starts,
        risk: drill.risk,
        stopwatch_aim_s: drill.stopwatch_aim_s(),
    };
    let numbers = shard.starts(starts);
    progress.set_length(numbers.end - numbers.start);
    let outcomes = numbers
        .into_par_iter()
        .progress_with(progress)
        .flat_map_iter(|number| [Who::Dash, Who::Stopwatch].map(|who| start::run(&drill, number, who, &plan)))
        .collect();
    Ok(Sweep { plan, outcomes })
}

/// Puts the parts of a sweep together; the order in which they are given does not matter.
///
/// # Errors
/// In words: parts of different sweeps, or a start that is missing or there twice.
pub fn merge(parts: Vec<Sweep>) -> Result<Sweep, String> {
    let mut parts = parts.into_iter();
    let mut whole = parts.next().ok_or("nothing to merge")?;
    for part in parts {
        if part.plan != whole.plan {
            return Err(format!("these are parts of different sweeps: {:?} and {:?}", whole.plan, part.plan));
        }
        whole.outcomes.extend(part.outcomes);
    }
    whole.outcomes.sort_by_key(|outcome| (outcome.start, outcome.who == Who::Stopwatch));
    let due = (0..whole.plan.starts).flat_map(|start| [(start, Who::Dash), (start, Who::Stopwatch)]);
    let there = whole.outcomes.iter().map(|outcome| (outcome.start, outcome.who));
    match due.map(Some).chain([None]).zip(there.map(Some).chain([None])).find(|(due, there)| due != there) {
        Some((due, there)) => {
            let name = |what: Option<(u64, Who)>| {
                what.map_or("the end".into(), |(start, _)| format!("start {start}"))
            };
            Err(format!(
                "the parts do not make a whole sweep: where {} should be there is {}",
                name(due),
                name(there)
            ))
        }
        None => Ok(whole),
    }
}
