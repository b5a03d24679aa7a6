//! The `[run_in]` table of a settings file: the lane, the boat, and the risk that its driver accepts.
//!
//! The boat is the invented one, figure by figure, until the file says otherwise. It counts as measured once both
//! lists of its pull are given: all else follows from that, and a file that changes a lag has measured no boat.
//!
//! Knows the keys, the reader and the core's run-in. Checked values in, run-in settings out.

use firmware::run_in::boat::{BoatFault, BoatModel, Pull};
use firmware::run_in::lane::{BENDS_MAX, Bend, Cut, LaneFault, LaneSettings, Turns};
use firmware::run_in::stations::RingFault;
use firmware::run_in::{RunInFault, RunInSettings};
use firmware::units::{Millimetres, MmPerSecond, Span};

use super::fields::{Fields, Writing};
use super::number::Decimal;
use super::reader::Reading;
use super::value::Value;

/// The lists that make a boat a measured one.
const PULLS: [&str; 2] = ["run_in.boat.speeds_m_s", "run_in.boat.pulls_m_s2"];

/// What makes a cut.
const CUT: [&str; 3] = ["run_in.cut_first", "run_in.cut_last", "run_in.cut_bends"];

/// Puts the file's figures into the run-in's settings.
pub fn read(reading: &Reading) -> RunInSettings {
    let mut run_in = RunInSettings {
        lane: lane(reading),
        boat: boat(reading),
        risk_ppm: 10_000,
        response: Span::from_millis(250),
        sigma_most: Span::from_millis(500),
        speaks: true,
    };
    fields(reading, &mut run_in);
    run_in
}

/// What is a field for each key.
fn fields(reading: &impl Fields, run_in: &mut RunInSettings) {
    reading.scaled("run_in.risk_pct", 4, &mut run_in.risk_ppm);
    reading.set("run_in.response_s", &mut run_in.response);
    reading.set("run_in.sigma_most_s", &mut run_in.sigma_most);
    reading.set("run_in.speaks", &mut run_in.speaks);
    let lane = &mut run_in.lane;
    reading.set("run_in.bends", &mut lane.bends);
    reading.set("run_in.lane", &mut lane.lane);
    reading.set("run_in.lane_width_m", &mut lane.lane_width);
    reading.set("run_in.entrance", &mut lane.entrance);
    reading.set("run_in.tolerance_m", &mut lane.tolerance);
    let boat = &mut run_in.boat;
    reading.set("run_in.boat.lag_s", &mut boat.lag);
    reading.set("run_in.boat.lag_sd_s", &mut boat.lag_sd);
    reading.scaled("run_in.boat.bend_m_s2", 3, &mut boat.bend_mm_s2);
    reading.scaled("run_in.boat.coasting_pct_per_m", 4, &mut boat.coasting_ppm_per_m);
    reading.scaled("run_in.boat.pull_sd_pct", 1, &mut boat.pull_sd_permille);
    reading.scaled("run_in.boat.bend_sd_pct", 1, &mut boat.bend_sd_permille);
}

/// The run-in's settings as a file writes them; the boat's pull only when it was measured.
pub fn write(writing: &Writing, run_in: &RunInSettings) {
    fields(writing, &mut run_in.clone());
    let right = run_in.lane.turns == Turns::Right;
    writing.put("run_in.turns", Value::Text(if right { "right" } else { "left" }.to_owned()));
    if let Some(cut) = &run_in.lane.cut {
        let place = |place: u8| Value::Number(Decimal::whole(i64::from(place) + 1));
        let [first, last, bends] = CUT;
        writing.put(first, place(cut.first));
        writing.put(last, place(cut.last));
        writing.set(bends, &mut cut.bends.clone());
    }
    if !run_in.boat.demonstration {
        let [speeds, pulls] = PULLS;
        let list = |of: fn(&Pull) -> i32| {
            let milli = run_in.boat.pulls.iter().map(|pull| Decimal::of_units(of(pull).into(), 3));
            Value::List(milli.collect())
        };
        writing.put(speeds, list(|pull| pull.speed.as_mm_s()));
        writing.put(pulls, list(|pull| pull.acceleration_mm_s2));
    }
}

fn lane(reading: &Reading) -> LaneSettings {
    let right = reading.get("run_in.turns") == Some("right".to_owned());
    LaneSettings {
        bends: heapless::Vec::new(),
        turns: if right { Turns::Right } else { Turns::Left },
        lane: 1,
        lane_width: Millimetres::from_mm(20_000),
        cut: cut(reading),
        entrance: None,
        tolerance: Millimetres::from_mm(30_000),
    }
}

/// The file counts bends from 1, the core from 0.
fn cut(reading: &Reading) -> Option<Cut> {
    let [first, last, bends] = CUT;
    let place = |path: &str| reading.get::<u8>(path).map(|place| place.saturating_sub(1));
    Some(Cut { first: place(first)?, last: place(last)?, bends: reading.get(bends)? })
}

fn boat(reading: &Reading) -> BoatModel {
    let mut boat = BoatModel::demonstration();
    let lists = PULLS.map(|path| reading.get::<Vec<Decimal>>(path));
    if let [Some(speeds), Some(pulls)] = lists {
        let pull = |(speed, pull): (&Decimal, &Decimal)| Pull {
            speed: MmPerSecond::from_mm_s(i32::try_from(speed.in_units(3)).unwrap_or(i32::MAX)),
            acceleration_mm_s2: i32::try_from(pull.in_units(3)).unwrap_or(i32::MAX),
        };
        boat.pulls = speeds.iter().zip(&pulls).map(pull).collect();
        boat.demonstration = false;
    }
    boat
}

/// What belongs together must be there together.
pub fn check_together(reading: &mut Reading) {
    let whole = |paths: &[&'static str]| {
        let given = *paths.iter().find(|path| reading.has(path))?;
        let gone = *paths.iter().find(|path| !reading.has(path))?;
        Some((given, gone))
    };
    let lacking = [
        whole(&PULLS).map(|lack| (lack, "give both lists, from measurement, or neither")),
        whole(&CUT)
            .map(|lack| (lack, "a cut needs cut_first, cut_last and cut_bends; without a cut take all out")),
    ];
    for ((given, gone), right) in lacking.into_iter().flatten() {
        reading.blame(given, format!("`{given}` is given, but `{gone}` is missing"), right);
    }
    check_lengths(reading);
    check_cut(reading);
}

fn check_lengths(reading: &mut Reading) {
    let lengths = PULLS.map(|path| reading.get::<Vec<Decimal>>(path).map(|list| list.len()));
    if let [Some(speeds), Some(pulls)] = lengths
        && speeds != pulls
    {
        let [of, path] = PULLS;
        let what = format!("`{path}` has {pulls} entries, and `{of}` has {speeds}");
        reading.blame(path, what, "write one pull for each speed");
    }
}

fn check_cut(reading: &mut Reading) {
    let bends = reading.get::<heapless::Vec<Bend, BENDS_MAX>>("run_in.bends").map(|bends| bends.len());
    let [first, last, _] = CUT;
    let (Some(bends), Some(from), Some(to)) = (bends, reading.get::<u8>(first), reading.get::<u8>(last))
    else {
        return;
    };
    if usize::from(to) > bends {
        let what = format!("`{last}` is {to}, but there are {bends} bends");
        reading.blame(last, what, "bends are counted from 1 in the order of `bends`");
    } else if from > to {
        reading.blame(
            last,
            format!("`{last}` is {to}, before `{first}` = {from}"),
            "the last bend is not before the first",
        );
    }
}

/// A fault of the core's as a path, what is wrong there, and what would be right.
pub fn told(fault: RunInFault) -> (String, String, String) {
    const BENDS: &str = "run_in.bends";
    const SPEEDS: &str = "run_in.boat.speeds_m_s";
    let (path, what, right) = match fault {
        RunInFault::Lane(LaneFault::Bends) => (
            BENDS,
            "has fewer than two bends",
            "a lane needs at least two bends, also where a cut replaces some",
        ),
        RunInFault::Lane(LaneFault::Radius) => (
            BENDS,
            "has a bend that this lane cannot run round",
            "in the lane a bend's radius is 5 m to 5 km, and its middle lies within 16 km of the line; a bend \
             the other way must be wider than the lane is far out",
        ),
        RunInFault::Lane(LaneFault::TooClose) => (
            BENDS,
            "has two bends of which one lies within the other",
            "no straight touches both: see their middles and radii",
        ),
        RunInFault::Lane(LaneFault::Ring(RingFault::MissesTheLine)) => (
            BENDS,
            "makes a lane that does not cross the start line in racing direction",
            "check the line's ends, `turns`, `lane`, `lane_width_m` and the order of the bends: that of a boat with \
             left-hand turns",
        ),
        RunInFault::Lane(LaneFault::Ring(_)) => {
            (BENDS, "makes a lane that is too long or has too many bends", "a lane is at most 100 km long")
        }
        RunInFault::Boat(BoatFault::Speeds) => (
            SPEEDS,
            "is not a list of rising speeds",
            "write at least one speed, the lowest first, no two alike",
        ),
        RunInFault::Boat(BoatFault::Pull) => (
            "run_in.boat.pulls_m_s2",
            "has a pull below 0.1 m/s2 before its last",
            "only the last may be less: there the boat gains nothing",
        ),
        other => {
            return (
                "run_in".to_owned(),
                format!("is refused by the dash: {other:?}"),
                "see docs/settings.md".to_owned(),
            );
        }
    };
    (path.to_owned(), what.to_owned(), right.to_owned())
}
