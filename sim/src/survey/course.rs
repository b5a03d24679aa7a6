//! Marks put together: a line, turns with middle and radius, an entrance mark.
//!
//! Knows marks, circles and the ground. Marks in, a draft of the course out, and what is wrong with it.

use firmware::gnss::Position;

use super::Asked;
use super::circle::{self, Fitted};
use super::finding::{Finding, note, wrong};
use super::ground::{Ground, Point, distance};
use super::mark::{Mark, Spread};
use super::role::Role;

/// A turn.
#[derive(Clone, Debug)]
pub struct Turn {
    /// Counted from 1 in racing order.
    pub number: u8,
    /// Its middle.
    pub centre: Point,
    /// From there to its buoys, metres.
    pub radius_m: f64,
    /// Its circle, where it was found from buoys.
    pub fitted: Option<Fitted>,
    /// One standard deviation of the middle along its worst direction; metres.
    pub centre_sd_m: f64,
}

/// An end of the line.
#[derive(Clone, Copy, Debug)]
pub struct End {
    /// Where it is in the plane.
    pub at: Point,
    /// Where it is.
    pub position: Position,
    /// How well that is known.
    pub spread: Option<Spread>,
}

/// What the marks come to.
#[derive(Debug)]
pub struct Draft {
    /// The plane in which everything else is told.
    pub ground: Ground,
    /// The marks.
    pub marks: Vec<Mark>,
    /// The line's left end and its right one.
    pub line: Option<(End, End)>,
    /// The turns in racing order.
    pub turns: Vec<Turn>,
    /// The entrance mark.
    pub entrance: Option<Point>,
}

/// No course is wider than this.
const FARTHEST_M: f64 = 20_000.0;

/// Two marks this near to each other are one.
const SAME_M: f64 = 2.0;

/// Buoys on less of a circle than this say little about it (common practice, no source).
const SPAN_LEAST_DEG: f64 = 60.0;

/// Puts marks together.
#[must_use]
pub fn draft(marks: Vec<Mark>, asked: &Asked, findings: &mut Vec<Finding>) -> Draft {
    let ground = Ground::about(middle(&marks));
    too_far(&marks, findings);
    on_each_other(&marks, findings);
    let mut draft = Draft { ground, marks, line: None, turns: Vec::new(), entrance: None };
    let (left, right) = (draft.one(Role::LineLeft, findings), draft.one(Role::LineRight, findings));
    draft.line = left.zip(right);
    for (role, end) in [(Role::LineLeft, left), (Role::LineRight, right)] {
        if end.is_none() {
            let right =
                format!("mark it and call it `{role}`, as seen by a boat that crosses in racing direction");
            findings.push(wrong(None, format!("`{role}` is missing"), right));
        }
    }
    draft.entrance = draft.one(Role::Entrance, findings).map(|end| end.at);
    draft.turns(asked, findings);
    draft
}

impl Draft {
    fn of(&self, role: Role) -> impl Iterator<Item = &Mark> {
        self.marks.iter().filter(move |mark| mark.role == role)
    }

    /// The one mark of a role; a second one is told.
    fn one(&self, role: Role, findings: &mut Vec<Finding>) -> Option<End> {
        let mut all = self.of(role);
        let first = all.next()?;
        if let Some(second) = all.next() {
            let apart = distance(first.at, second.at);
            let what =
                format!("`{role}` is there twice, {apart:.1} m apart ({}, {})", first.file, second.file);
            findings.push(wrong(
                Some(role.to_string()),
                what,
                "leave one of them; call the other `note ...`",
            ));
        }
        Some(End { at: self.ground.point(first.at), position: first.at, spread: first.spread })
    }

    fn turns(&mut self, asked: &Asked, findings: &mut Vec<Finding>) {
        let number = |mark: &Mark| match mark.role {
            Role::Centre(turn) | Role::Buoy(turn) => Some(turn),
            _ => None,
        };
        let last = self.marks.iter().filter_map(number).max().unwrap_or(0);
        for turn in 1..=last {
            if self.of(Role::Centre(turn)).next().is_none() && self.of(Role::Buoy(turn)).next().is_none() {
                let right =
                    format!("turns are counted from 1 without a gap in racing order; there is a turn {last}");
                findings.push(wrong(Some(format!("turn {turn}")), format!("turn {turn} is missing"), right));
            } else if let Some(turn) = self.turn(turn, asked, findings) {
                self.turns.push(turn);
            }
        }
        if last < 2 {
            let right =
                "mark three buoys or more on each turn, or its centre with its radius; at least two turns";
            let what = if last == 0 { "there is no turn" } else { "there is only one turn" };
            findings.push(wrong(None, what, right));
        }
    }

    fn turn(&self, number: u8, asked: &Asked, findings: &mut Vec<Finding>) -> Option<Turn> {
        let name = format!("turn {number}");
        let buoys: Vec<_> = self.of(Role::Buoy(number)).collect();
        if let Some(centre) = self.one(Role::Centre(number), findings) {
            let radius_m = self.of(Role::Centre(number)).find_map(|mark| mark.radius_m);
            if !buoys.is_empty() {
                let right = "give the buoys, or the centre with its radius; call the others `note ...`";
                findings.push(wrong(Some(name.clone()), "both a centre and buoys", right));
            }
            let Some(radius_m) = radius_m else {
                let right =
                    format!("write it into its name or description: `turn {number} centre, radius 190 m`");
                findings.push(wrong(Some(name), "its centre has no radius", right));
                return None;
            };
            let centre_sd_m = centre.spread.map_or(asked.sd_m, |spread| spread.ellipse().0);
            return Some(Turn { number, centre: centre.at, radius_m, fitted: None, centre_sd_m });
        }
        let points: Vec<_> = buoys.iter().map(|mark| self.ground.point(mark.at)).collect();
        let Some(fitted) = circle::fit(&points) else {
            let what = match buoys.len() {
                count @ (1 | 2) => format!("{count} of its buoys make no circle"),
                count => format!("its {count} buoys stand in a straight line, and make no circle"),
            };
            let right =
                format!("mark three buoys or more on the bend, or `turn {number} centre` with its radius");
            findings.push(wrong(Some(name), what, right));
            return None;
        };
        judge(&name, &fitted, &buoys, asked.fit_within_m, findings);
        Some(Turn {
            number,
            centre: fitted.centre,
            radius_m: fitted.radius_m,
            centre_sd_m: centre_sd(&fitted, &buoys, asked.sd_m),
            fitted: Some(fitted),
        })
    }
}

/// How well the buoys agree on their circle.
fn judge(name: &str, fitted: &Fitted, buoys: &[&Mark], within_m: f64, findings: &mut Vec<Finding>) {
    let (worst, off) = fitted.worst;
    if off > within_m {
        let called = buoys.get(worst).map_or("", |mark| mark.name.as_str());
        let what = format!(
            "its buoys do not stand on a circle: `{called}` is {off:.1} m off the best one, of radius {:.1} m",
            fitted.radius_m
        );
        let right = format!(
            "see whether it belongs to another turn, or was marked badly; {within_m:.1} m are allowed (--fit-within)"
        );
        findings.push(wrong(Some(name.to_owned()), what, right));
    }
    if fitted.span_deg < SPAN_LEAST_DEG {
        let what = format!(
            "its buoys stand on {:.0} degrees of the circle alone: an error of 1 m in them is {:.1} m in its radius",
            fitted.span_deg, fitted.radius_gain
        );
        findings.push(note(
            Some(name.to_owned()),
            what,
            "mark buoys farther apart on the bend, or give its centre and radius",
        ));
    }
}

/// From the errors of the buoys; where their circle shows larger ones, from those.
fn centre_sd(fitted: &Fitted, buoys: &[&Mark], sd_m: f64) -> f64 {
    let free = buoys.len().saturating_sub(3) as f64;
    let seen = if free > 0.0 { fitted.residual_m * (buoys.len() as f64 / free).sqrt() } else { 0.0 };
    let stated = buoys.iter().map(|mark| mark.spread.map_or(sd_m, |spread| spread.ellipse().0));
    stated.fold(seen, f64::max) * fitted.centre_gain
}

/// The mark that is nearest to all others: a stray one far away does not move it.
fn middle(marks: &[Mark]) -> Position {
    let sum = |mark: &Mark| marks.iter().map(|other| distance(mark.at, other.at)).sum::<f64>();
    marks.iter().min_by(|a, b| sum(a).total_cmp(&sum(b))).map(|mark| mark.at).unwrap_or_default()
}

fn too_far(marks: &[Mark], findings: &mut Vec<Finding>) {
    let middle = middle(marks);
    for mark in marks {
        let away = distance(middle, mark.at);
        if away > FARTHEST_M {
            let what =
                format!("`{}` is {:.0} km from the other marks ({})", mark.name, away / 1_000.0, mark.file);
            let right = "marks of a course lie within 20 km; is its latitude or longitude mistyped, or are they changed about?";
            findings.push(wrong(Some(mark.role.to_string()), what, right));
        }
    }
}

fn on_each_other(marks: &[Mark], findings: &mut Vec<Finding>) {
    for (place, mark) in marks.iter().enumerate() {
        for other in marks.iter().skip(place + 1) {
            let twice = mark.role == other.role && !matches!(mark.role, Role::Buoy(_));
            let apart = distance(mark.at, other.at);
            if apart < SAME_M && !twice {
                let what =
                    format!("`{}` and `{}` lie on each other, {apart:.1} m apart", mark.name, other.name);
                let right = "each mark is its own buoy: was one marked twice, or the wrong one?";
                findings.push(wrong(Some(other.role.to_string()), what, right));
            }
        }
    }
}
