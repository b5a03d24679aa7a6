//! `gunline survey`: marks become a course, checked and drawn. See docs/survey.md.
//!
//! [`read`] knows the files; [`course`] puts marks together, with [`circle`] for turns that are told by their buoys;
//! [`checks`] lays the [`lane`] and holds it against the line; [`paste`] writes the settings, [`drawing`] and [`map`] draw.
//!
//! A survey with a small receiver is no sanctioned survey: the officials' rules for courses hold.

pub mod checks;
pub mod circle;
pub mod command;
pub mod course;
pub mod drawing;
pub mod finding;
pub mod ground;
pub mod lane;
pub mod length;
pub mod map;
pub mod mark;
pub mod paste;
pub mod read;
pub mod role;
#[cfg(test)]
mod tests;
pub mod words;

use checks::{Hand, Laid, Line};
use course::Draft;
use finding::{Finding, Standing, good, wrong};
use mark::{Mark, Spread};

/// What is asked of a survey.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The line may be so far off the lane's square, degrees.
    pub square_within_deg: f64,
    /// The sanctioned length of a lap, metres.
    pub lap_m: Option<f64>,
    /// How far a lap may be off that, percent.
    pub lap_within_pct: f64,
    /// A lap is measured along the buoys, not along the middle of the lane.
    pub lap_along_buoys: bool,
    /// The lane, 1 next to the buoys.
    pub lane: u8,
    /// How wide a lane is, metres.
    pub lane_width_m: f64,
    /// Which way the race turns, where that is told.
    pub turns: Option<Hand>,
    /// How far a buoy may be off its turn's circle, metres.
    pub fit_within_m: f64,
    /// How well a mark is known where nothing says so: one standard deviation, metres.
    pub sd_m: f64,
}

impl Default for Asked {
    fn default() -> Self {
        Self {
            square_within_deg: 5.0,
            lap_m: None,
            lap_within_pct: 0.5,
            lap_along_buoys: false,
            lane: 1,
            lane_width_m: 20.0,
            turns: None,
            fit_within_m: 5.0,
            sd_m: 3.0,
        }
    }
}

/// A course, as far as the marks make one, and everything that was found.
#[derive(Debug)]
pub struct Survey {
    /// The marks put together.
    pub draft: Draft,
    /// The line.
    pub line: Option<Line>,
    /// Which way the race turns.
    pub hand: Option<Hand>,
    /// The lane.
    pub laid: Option<Laid>,
    /// How far the lane bears to the left of the line's square, degrees.
    pub skew_deg: Option<f64>,
    /// The settings, where the course stands.
    pub settings: Option<String>,
    /// Everything that was found, in the order of the checks.
    pub findings: Vec<Finding>,
}

impl Survey {
    /// True when nothing is wrong.
    #[must_use]
    pub fn stands(&self) -> bool {
        self.findings.iter().all(|finding| finding.standing != Standing::Wrong)
    }
}

/// Marks become a course.
#[must_use]
pub fn survey(marks: Vec<Mark>, asked: &Asked) -> Survey {
    let mut findings = Vec::new();
    let draft = course::draft(marks, asked, &mut findings);
    let line = checks::line(&draft, asked);
    let mut survey =
        Survey { draft, line, hand: None, laid: None, skew_deg: None, settings: None, findings: Vec::new() };
    if let Some(line) = &line {
        checks::check_line(line, &mut findings);
        checks::say_sd(line, &mut findings);
    }
    if let (Some(line), true) = (&line, survey.draft.turns.len() > 1) {
        survey.hand = checks::hand(&survey.draft, line, asked, &mut findings);
    }
    if let (Some(line), Some(hand)) = (&line, survey.hand) {
        survey.laid = checks::lay_out(&survey.draft, line, hand, asked, &mut findings);
    }
    if let (Some(line), Some(laid)) = (&line, &survey.laid) {
        let square = |meets| checks::check_square(line, meets, asked.square_within_deg, &mut findings);
        survey.skew_deg = laid.meets.as_ref().map(square);
        checks::check_lap(laid, asked, &mut findings);
        checks::check_entrance(&survey.draft, laid, &mut findings);
    }
    survey.findings = findings;
    if survey.stands() {
        survey.settle(asked);
    }
    survey
}

impl Survey {
    /// Writes the settings, and asks the project's own parser what it thinks of them.
    fn settle(&mut self, asked: &Asked) {
        let Some(text) = paste::settings(self, asked) else { return };
        match crate::scenario::parse_settings("the course", &text) {
            Ok(_) => {
                self.findings.push(good("the dash takes this course"));
                self.settings = Some(text);
            }
            Err(report) => {
                let what = format!("the dash refuses this course:\n{}", report.render(false));
                self.findings.push(wrong(None, what, "see docs/settings.md"));
            }
        }
    }

    /// How well a mark is known, or is taken to be.
    #[must_use]
    pub fn spread_of(mark: &Mark, asked: &Asked) -> Spread {
        mark.spread.unwrap_or(Spread::round(asked.sd_m))
    }
}
