//! The draft of a course checked: does the line cross the lane, square and the right way, and is a lap as long as it should be?
//!
//! Knows the draft and the lane. A draft in, a laid-out course and findings out.

use super::Asked;
use super::course::{Draft, Turn};
use super::finding::{Finding, good, note, wrong};
use super::ground::Point;
use super::lane::{Lane, Meets, Pulley, lay};

/// A line shorter than this leaves no room for a field of boats; one longer is seldom seen (common practice, no source).
const USUAL_LINE_M: (f64, f64) = (30.0, 500.0);

/// What the dash takes for a line.
const LINE_M: (f64, f64) = (5.0, 5_000.0);

/// The speed at which it is said what the line's error means: 160 mph.
pub const SPEED_M_S: f64 = 71.525_6;

/// The direction in which the race turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Hand {
    /// Counter-clockwise seen from above.
    Left,
    /// Clockwise.
    Right,
}

impl Hand {
    /// In a word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    const fn sign(self) -> f64 {
        match self {
            Self::Left => 1.0,
            Self::Right => -1.0,
        }
    }

    const fn of(turn: f64) -> Self {
        if turn >= 0.0 { Self::Left } else { Self::Right }
    }
}

/// The lane, and what is measured on it.
#[derive(Debug)]
pub struct Laid {
    /// The middle of the lane.
    pub lane: Lane,
    /// Along the buoys.
    pub buoys: Lane,
    /// Where the lane meets the line.
    pub meets: Option<Meets>,
}

/// What the line is.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    /// Its left end.
    pub left: Point,
    /// Its right end.
    pub right: Point,
    /// Its length, metres.
    pub length_m: f64,
    /// Which way boats cross it, of length one.
    pub ahead: Point,
    /// One standard deviation across it, metres: that of the worse end.
    pub sd_m: f64,
    /// True where that was assumed, because nothing says how well the ends are known.
    pub assumed: bool,
}

/// The line of a draft.
#[must_use]
pub fn line(draft: &Draft, asked: &Asked) -> Option<Line> {
    let (left, right) = draft.line?;
    let along = left.at.to(right.at);
    let ahead = along.left().unit()?;
    let sds = [left, right].map(|end| end.spread.map(|spread| spread.sd_along(ahead)));
    let known = match sds {
        [Some(a), Some(b)] => Some(a.max(b)),
        _ => None,
    };
    Some(Line {
        left: left.at,
        right: right.at,
        length_m: along.length(),
        ahead,
        sd_m: known.unwrap_or(asked.sd_m),
        assumed: known.is_none(),
    })
}

/// Checks the line by itself.
pub fn check_line(line: &Line, findings: &mut Vec<Finding>) {
    let says = format!("the line is {:.2} m long", line.length_m);
    let mark = Some("line right".to_owned());
    if !(LINE_M.0..=LINE_M.1).contains(&line.length_m) {
        findings.push(wrong(
            mark,
            says,
            "a line is 5 m to 5 km long: are both ends marked, and the right ones?",
        ));
    } else if !(USUAL_LINE_M.0..=USUAL_LINE_M.1).contains(&line.length_m) {
        findings.push(note(mark, says, "lines are 30 to 500 m long as a rule: are these its ends?"));
    } else {
        findings.push(good(says));
    }
}

/// Which way the race turns, by the line and by the order of the turns; nothing where they contradict each other.
pub fn hand(draft: &Draft, line: &Line, asked: &Asked, findings: &mut Vec<Finding>) -> Option<Hand> {
    let turns = &draft.turns;
    let by_line = by_line(line, turns);
    let order = by_order(line, turns);
    let mark = || Some("line left".to_owned());
    let asked_for = asked.turns.unwrap_or(by_line);
    let number = |hand: Hand| match hand {
        Hand::Left => "left",
        Hand::Right => "right",
    };
    if order == by_line && asked_for == by_line {
        findings.push(good(format!(
            "boats cross the line towards {} and turn {}",
            compass(line.ahead),
            number(by_line)
        )));
        return Some(by_line);
    }
    if order != by_line && asked.turns != Some(by_line) {
        let what = format!(
            "the line's ends are changed about: as marked, boats would cross towards {}, away from turn 1",
            compass(line.ahead)
        );
        let right = "change `line left` with `line right`: left and right are as seen by a boat that crosses in racing direction. \
                     Or, if the ends are right, the turns are counted the wrong way: turn 1 is the first after the line";
        findings.push(wrong(mark(), what, right));
    } else if order != by_line {
        let what = format!(
            "the turns are counted against the racing direction: boats cross towards {} and turn {}",
            compass(line.ahead),
            number(by_line)
        );
        findings.push(wrong(
            Some("turn 1".to_owned()),
            what,
            "turn 1 is the first after the line; count on from there as boats race",
        ));
    } else {
        let what = format!(
            "by line and turns this race turns {}, but --turns says {}",
            number(by_line),
            number(asked_for)
        );
        let right = "is --turns right? Then both the line's ends are changed about and the turns counted the wrong way";
        findings.push(wrong(mark(), what, right));
    }
    None
}

/// The turns lie to the left of a boat that crosses the line in a race that turns left.
fn by_line(line: &Line, turns: &[Turn]) -> Hand {
    let middle = line.left.plus(line.left.to(line.right), 0.5);
    let side: f64 = turns.iter().map(|turn| line.ahead.cross(middle.to(turn.centre))).sum();
    Hand::of(side)
}

/// Three turns or more in racing order run round their middle to the left or to the right. Of two, the first lies ahead of
/// the line: if it does not, a boat that keeps to this order crosses the other way, and turns the other way.
fn by_order(line: &Line, turns: &[Turn]) -> Hand {
    let next = turns.iter().cycle().skip(1);
    let area: f64 = turns.iter().zip(next).map(|(a, b)| a.centre.cross(b.centre)).sum();
    let size = turns.iter().map(|turn| turn.centre.length()).fold(0.0, f64::max);
    if turns.len() > 2 && area.abs() > 1e-6 * size * size {
        return Hand::of(area);
    }
    let by_line = by_line(line, turns);
    let ahead = |turn: &Turn| line.left.to(turn.centre).dot(line.ahead);
    match turns {
        [first, .., last] if ahead(first) < ahead(last) => Hand::of(-by_line.sign()),
        _ => by_line,
    }
}

/// Lays the lane out.
pub fn lay_out(
    draft: &Draft,
    line: &Line,
    hand: Hand,
    asked: &Asked,
    findings: &mut Vec<Finding>,
) -> Option<Laid> {
    let outside = asked.lane_width_m * (f64::from(asked.lane) - 0.5);
    let pulleys = |wider: f64| {
        let pulley =
            |turn: &Turn| Pulley { centre: turn.centre, radius_m: hand.sign() * (turn.radius_m + wider) };
        draft.turns.iter().map(pulley).collect::<Vec<_>>()
    };
    let (lane, buoys) = match (lay(&pulleys(outside)), lay(&pulleys(0.0))) {
        (Ok(lane), Ok(buoys)) => (lane, buoys),
        (Err(pair), _) | (_, Err(pair)) => {
            findings.push(within(draft, pair));
            return None;
        }
    };
    overlap(draft, findings);
    let meetings = lane.meetings(line.left, line.right);
    let between = meetings.iter().find(|meets| (0.0..=line.length_m).contains(&meets.along_m));
    if between.is_none() {
        misses(line, &meetings, findings);
    }
    Some(Laid { meets: between.copied(), lane, buoys })
}

fn within(draft: &Draft, (a, b): (usize, usize)) -> Finding {
    let [a, b] = [a, b].map(|place| draft.turns.get(place).map_or(0, |turn| turn.number));
    let what =
        format!("turn {a} and turn {b} overlap so that one lies within the other: no straight touches both");
    wrong(Some(format!("turn {b}")), what, "see their middles and radii; were buoys given to the wrong turn?")
}

/// Circles that cut each other make one long bend of two radii, which may be meant.
fn overlap(draft: &Draft, findings: &mut Vec<Finding>) {
    for (place, a) in draft.turns.iter().enumerate() {
        for b in draft.turns.iter().skip(place + 1) {
            let apart = a.centre.to(b.centre).length();
            if apart < a.radius_m + b.radius_m {
                let what = format!(
                    "turn {} and turn {} overlap: their middles are {apart:.0} m apart, their radii {:.0} m and {:.0} m",
                    a.number, b.number, a.radius_m, b.radius_m
                );
                findings.push(note(
                    Some(format!("turn {}", b.number)),
                    what,
                    "if they are one bend, mark it as one turn",
                ));
            }
        }
    }
}

fn misses(line: &Line, meetings: &[Meets], findings: &mut Vec<Finding>) {
    let beyond = |meets: &Meets| (-meets.along_m).max(meets.along_m - line.length_m);
    let nearest = meetings.iter().min_by(|a, b| beyond(a).total_cmp(&beyond(b)));
    let (mark, what) = match nearest {
        Some(meets) if meets.along_m < 0.0 => {
            ("line left", format!("the lane passes {:.1} m outside the line's left end", -meets.along_m))
        }
        Some(meets) => (
            "line right",
            format!("the lane passes {:.1} m outside the line's right end", meets.along_m - line.length_m),
        ),
        None => ("line left", "the lane does not pass the line in racing direction".to_owned()),
    };
    let right =
        "the line must lie across the lane: see the line's ends, the turns' radii, --lane and --lane-width";
    findings.push(wrong(Some(mark.to_owned()), what, right));
}

/// Is the line square to the lane?
pub fn check_square(line: &Line, meets: &Meets, within_deg: f64, findings: &mut Vec<Finding>) -> f64 {
    let skew = line.ahead.cross(meets.direction).atan2(line.ahead.dot(meets.direction)).to_degrees();
    let off = skew.abs();
    if off <= within_deg {
        findings.push(good(format!("the line is square to the lane within {off:.2} degrees")));
    } else {
        // The right end to be moved so that the line is square: the lane bears to the left of the line's square.
        let moves = line.length_m * skew.to_radians().tan();
        let way = if moves > 0.0 { "onwards in racing direction" } else { "backwards" };
        let what = format!("the line is {off:.2} degrees off the lane's square; {within_deg:.2} are allowed");
        let right = format!(
            "move the right end {:.1} m {way}, or the left end as far the other way; or allow more by --square-within",
            moves.abs()
        );
        findings.push(wrong(Some("line right".to_owned()), what, right));
    }
    skew
}

/// Is a lap as long as the sanctioned figure?
pub fn check_lap(laid: &Laid, asked: &Asked, findings: &mut Vec<Finding>) {
    let (measured, called) = if asked.lap_along_buoys {
        (laid.buoys.length_m, "along the buoys")
    } else {
        (laid.lane.length_m, "along the middle of the lane")
    };
    let Some(official) = asked.lap_m else {
        let what = format!("a lap is {measured:.2} m {called}");
        findings.push(note(
            None,
            what,
            "give the sanctioned figure by --lap, such as --lap 2.5mi, to have it checked",
        ));
        return;
    };
    // Nothing less than half a hundredth is shown, also not as its sign.
    let off = ((measured - official) * 100.0).round() / 100.0 + 0.0;
    let percent = off / official * 100.0;
    let what = format!(
        "a lap is {measured:.2} m {called}: {off:+.2} m, {percent:+.3} % of the sanctioned {official:.2} m"
    );
    if percent.abs() <= asked.lap_within_pct {
        findings.push(good(what));
    } else {
        let straight = off.abs() / 2.0;
        let way = if off > 0.0 { "shorten" } else { "lengthen" };
        let right = format!(
            "{way} both straights by {straight:.1} m, or allow more than {} % by --lap-within; the other way of measuring gives {:.2} m",
            asked.lap_within_pct,
            if asked.lap_along_buoys { laid.lane.length_m } else { laid.buoys.length_m }
        );
        findings.push(wrong(None, what, right));
    }
}

/// Does the entrance mark lie before the line, near the lane?
pub fn check_entrance(draft: &Draft, laid: &Laid, findings: &mut Vec<Finding>) {
    let (Some(entrance), Some(meets)) = (draft.entrance, laid.meets.as_ref()) else { return };
    let (way, aside) = laid.lane.way_to_line(entrance, meets);
    let mark = Some("entrance".to_owned());
    if way > laid.lane.length_m / 2.0 {
        let what =
            format!("the entrance mark lies {:.0} m after the line, not before it", laid.lane.length_m - way);
        let right = "lanes are fixed from the entrance mark to the line: it stands on the last half lap before the line";
        findings.push(wrong(mark, what, right));
    } else if aside > 1_000.0 {
        let what = format!("the entrance mark lies {aside:.0} m from the lane");
        findings.push(wrong(mark, what, "it stands beside the lane, less than a kilometre from it"));
    } else {
        findings.push(good(format!(
            "the entrance mark lies {way:.0} m before the line, {aside:.0} m from the lane's middle"
        )));
    }
}

/// What the line's error does to a start call.
pub fn say_sd(line: &Line, findings: &mut Vec<Finding>) {
    let ms = line.sd_m / SPEED_M_S * 1_000.0;
    let what = format!(
        "the line is known to {:.2} m across it: at 160 mph a start call errs by {ms:.0} ms for that alone, one standard deviation",
        line.sd_m
    );
    if line.assumed {
        let what = format!(
            "nothing says how well both ends are known; taken to be --sd. {}{}",
            what[..1].to_uppercase(),
            &what[1..]
        );
        findings.push(note(
            Some("line left".to_owned()),
            what,
            "mark the ends with a board at rest, or give their sd",
        ));
    } else {
        findings.push(good(what));
    }
}

/// One of eight winds.
fn compass(direction: Point) -> &'static str {
    const WINDS: [&str; 8] =
        ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    let bearing = direction.east.atan2(direction.north).to_degrees().rem_euclid(360.0);
    WINDS.get(((bearing / 45.0).round() as usize) % WINDS.len()).copied().unwrap_or("north")
}
