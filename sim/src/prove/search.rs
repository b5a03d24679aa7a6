//! Breadth first through every stage that can be reached, until there is none left.
//!
//! A layer is all stages that so many happenings lead to and fewer do not, so the first breach of a rule that is found
//! is a shortest one. Layers are worked through in blocks on all threads and entered in order: the result does not
//! depend on the number of threads.

use std::collections::{BTreeMap, HashSet};

use indicatif::ProgressBar;
use rayon::prelude::*;

use super::moments::{key, next};
use super::stage::{Breach, Event, Findings, Scene, Stage};

/// Stages worked on at once: enough for all threads. Each holds a dash of 22 KB, so a block is let go as soon as it is
/// worked through.
const BLOCK: usize = 512;

/// Some of a layer's stages, by their names.
type Block = Vec<(u32, Stage)>;

/// One happening on the way to a breach.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// When, microseconds on the board's clock.
    pub at: i64,
    /// What.
    pub event: Event,
}

/// How a rule can be broken.
#[derive(Clone, Debug)]
pub struct Counter {
    /// The rule, what was demanded and what was decided.
    pub breach: Breach,
    /// Whether the board was told a schedule at the beginning.
    pub scheduled: bool,
    /// What happened, first to last.
    pub steps: Vec<Step>,
}

/// What the search came to.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// Different stages.
    pub states: u64,
    /// Ways from one to another.
    pub transitions: u64,
    /// Happenings to the farthest stage.
    pub depth: u32,
    /// True when no stage was left; false when the search was cut short.
    pub closed: bool,
    /// How often each rule demanded something.
    pub demanded: BTreeMap<&'static str, u64>,
    /// A shortest way to break each rule that can be broken.
    pub broken: BTreeMap<&'static str, Counter>,
}

/// How far to go.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Layers at most.
    pub depth: u32,
    /// Stop at the first breach.
    pub first: bool,
}

/// Where a stage came from.
#[derive(Clone, Copy)]
struct Origin {
    from: u32,
    event: Event,
}

struct Candidate {
    key: u128,
    origin: Origin,
    stage: Stage,
}

/// What one block of stages leads to.
#[derive(Default)]
struct Yield {
    transitions: u64,
    candidates: Vec<Candidate>,
    breaches: Vec<(Origin, Breach)>,
    demanded: BTreeMap<&'static str, u64>,
}

struct Search<'a> {
    scene: &'a Scene,
    seen: HashSet<u128>,
    origins: Vec<Origin>,
    found: Found,
}

/// Explores until closed, or to the bounds.
#[must_use]
pub fn search(scene: &Scene, bounds: Bounds, progress: &ProgressBar) -> Found {
    let mut search = Search { scene, seen: HashSet::new(), origins: Vec::new(), found: Found::default() };
    let mut layer = vec![search.begin()];
    while !layer.is_empty() && search.found.depth < bounds.depth {
        let mut following = Vec::new();
        for block in layer {
            let yielded = search.work(&block);
            drop(block);
            search.enter(yielded, &mut following);
            progress.set_position(search.found.transitions);
            progress.set_message(format!("{} states, depth {}", search.found.states, search.found.depth));
        }
        search.found.depth += u32::from(!following.is_empty());
        layer = following;
        if bounds.first && !search.found.broken.is_empty() {
            break;
        }
    }
    search.found.closed = layer.is_empty();
    search.found
}

impl Search<'_> {
    fn begin(&mut self) -> Block {
        let mut layer = Vec::new();
        for stage in self.scene.beginnings() {
            let id = self.name(Origin { from: u32::MAX, event: Event::Quiet });
            self.seen.insert(key(&stage, &self.scene.figures));
            layer.push((id, stage));
        }
        layer
    }

    fn name(&mut self, origin: Origin) -> u32 {
        let id = u32::try_from(self.origins.len()).unwrap_or(u32::MAX);
        self.origins.push(origin);
        self.found.states += 1;
        id
    }

    /// Everything that can happen to the stages of a block.
    fn work(&self, block: &[(u32, Stage)]) -> Vec<Yield> {
        let of = |(from, stage): &(u32, Stage)| {
            let mut yielded = Yield::default();
            let (moment, events) = next(stage, &self.scene.figures);
            yielded.transitions = events.len() as u64;
            for event in events.iter().copied() {
                let origin = Origin { from: *from, event };
                let (stage, Findings { breaches, demanded }) = stage.after(self.scene, moment, event);
                demanded.into_iter().for_each(|rule| *yielded.demanded.entry(rule).or_default() += 1);
                if let Some(breach) = breaches.into_iter().next() {
                    yielded.breaches.push((origin, breach));
                    continue;
                }
                let key = key(&stage, &self.scene.figures);
                if !self.seen.contains(&key) {
                    yielded.candidates.push(Candidate { key, origin, stage });
                }
            }
            yielded
        };
        block.par_iter().map(of).collect()
    }

    fn enter(&mut self, yielded: Vec<Yield>, following: &mut Vec<Block>) {
        for Yield { transitions, candidates, breaches, demanded } in yielded {
            self.found.transitions += transitions;
            demanded.into_iter().for_each(|(rule, n)| *self.found.demanded.entry(rule).or_default() += n);
            for (origin, breach) in breaches {
                if !self.found.broken.contains_key(breach.rule) {
                    let counter = self.way(origin, breach);
                    self.found.broken.insert(counter.breach.rule, counter);
                }
            }
            for Candidate { key, origin, stage } in candidates {
                if self.seen.insert(key) {
                    let id = self.name(origin);
                    match following.last_mut().filter(|block| block.len() < BLOCK) {
                        Some(block) => block.push((id, stage)),
                        None => following.push(vec![(id, stage)]),
                    }
                }
            }
        }
    }

    /// The happenings that led here, with their moments: walked again from the beginning.
    fn way(&self, last: Origin, breach: Breach) -> Counter {
        let mut events = vec![last.event];
        let mut id = last.from;
        while let Some(origin) = self.origins.get(id as usize).filter(|origin| origin.from != u32::MAX) {
            events.push(origin.event);
            id = origin.from;
        }
        events.reverse();
        let scheduled = id == 1;
        let [bare, told] = self.scene.beginnings();
        let mut stage = if scheduled { told } else { bare };
        let mut steps = Vec::new();
        for event in events {
            let (at, _) = next(&stage, &self.scene.figures);
            steps.push(Step { at, event });
            stage = stage.after(self.scene, at, event).0;
        }
        Counter { breach, scheduled, steps }
    }
}
