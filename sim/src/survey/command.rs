//! What `gunline survey` runs: words in; the survey to standard output, files where they are asked for.
//!
//! Exit status 0: the course stands. 1: it does not. 2: a file or a word is wrong. 3: the machine failed us.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use clap::Args;

use super::checks::Hand;
use super::length::positive;
use super::mark::Mark;
use super::read::{self, Renamed};
use super::{Asked, Survey, drawing, map, survey, words};
use crate::outlet::{Wrong, to_stdout};

/// The words after `gunline survey`.
#[derive(Args, Debug)]
pub struct SurveyWords {
    /// Files with marks: GPX, KML, GeoJSON, a board's journal, or a TOML of ranges and bearings. Several are taken together.
    #[arg(required = true)]
    marks: Vec<PathBuf>,
    /// What a mark is for, where its name does not say it: --role 1="line left". May be given more than once.
    #[arg(long, value_name = "NAME=ROLE", value_parser = renamed)]
    role: Vec<Renamed>,
    /// The sanctioned length of a lap, such as 2.5mi or 4023.36m.
    #[arg(long, value_name = "LENGTH", value_parser = positive)]
    lap: Option<f64>,
    /// How far a lap may be off that, percent.
    #[arg(long, value_name = "PERCENT", default_value_t = Asked::default().lap_within_pct)]
    lap_within: f64,
    /// What the sanctioned lap is measured along.
    #[arg(long, value_enum, default_value_t = Along::Lane)]
    lap_along: Along,
    /// How far the line may be off the lane's square, degrees.
    #[arg(long, value_name = "DEGREES", default_value_t = Asked::default().square_within_deg)]
    square_within: f64,
    /// How far a buoy may be off its turn's circle.
    #[arg(long, value_name = "LENGTH", default_value = "5m", value_parser = positive)]
    fit_within: f64,
    /// The lane, 1 next to the buoys.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=6))]
    lane: u8,
    /// How wide a lane is.
    #[arg(long, value_name = "LENGTH", default_value = "20m", value_parser = positive)]
    lane_width: f64,
    /// Which way the race turns; without it, line and turns say it.
    #[arg(long, value_enum)]
    turns: Option<Hand>,
    /// How well a mark is known where nothing says so: one standard deviation.
    #[arg(long, value_name = "LENGTH", default_value = "3m", value_parser = positive)]
    sd: f64,
    /// JSON objects, one a line, instead of the text.
    #[arg(long)]
    json: bool,
    /// Writes text, settings and drawings into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Writes the course as a settings file, if it stands.
    #[arg(short = 'o', value_name = "COURSE.toml")]
    course: Option<PathBuf>,
}

/// What a lap is measured along.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Along {
    /// The middle of the lane.
    Lane,
    /// The buoys.
    Buoys,
}

fn renamed(text: &str) -> Result<Renamed, String> {
    match text.split_once('=') {
        Some((name, role)) if !name.trim().is_empty() => Ok((name.trim().to_owned(), role.trim().to_owned())),
        _ => Err("write NAME=ROLE, such as 1=\"line left\"".to_owned()),
    }
}

impl SurveyWords {
    fn asked(&self) -> Result<Asked, Wrong> {
        for (word, value) in [("--lap-within", self.lap_within), ("--square-within", self.square_within)] {
            if !(0.0..=90.0).contains(&value) {
                return Err((2, format!("error: {word} is {value}: give a number from 0 to 90")));
            }
        }
        Ok(Asked {
            square_within_deg: self.square_within,
            lap_m: self.lap,
            lap_within_pct: self.lap_within,
            lap_along_buoys: self.lap_along == Along::Buoys,
            lane: self.lane,
            lane_width_m: self.lane_width,
            turns: self.turns,
            fit_within_m: self.fit_within,
            sd_m: self.sd,
        })
    }
}

/// Runs it; gives the exit status.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &SurveyWords) -> Result<u8, Wrong> {
    let asked = words.asked()?;
    let surveyed = survey(marks(words)?, &asked);
    to_stdout(|out| {
        if words.json { words::lines(&surveyed, &asked, out) } else { words::text(&surveyed, &asked, out) }
    })?;
    let unwritten =
        |path: &Path, error: &io::Error| (3, format!("error: cannot write {}: {error}", path.display()));
    if let Some(dir) = &words.out {
        files(&surveyed, &asked, dir).map_err(|error| unwritten(dir, &error))?;
    }
    match (&words.course, &surveyed.settings) {
        (Some(path), Some(settings)) => {
            fs::write(path, settings).map_err(|error| unwritten(path, &error))?;
            eprintln!("course: {}", path.display());
        }
        (Some(path), None) => {
            eprintln!("course: {} is not written, because the course does not stand", path.display())
        }
        (None, _) => {}
    }
    Ok(u8::from(!surveyed.stands()))
}

/// The marks of all files; everything that is wrong with any of them at once.
fn marks(words: &SurveyWords) -> Result<Vec<Mark>, Wrong> {
    let (mut marks, mut faults) = (Vec::new(), Vec::new());
    for path in &words.marks {
        let bytes = fs::read(path).map_err(|error| {
            let machine = !matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::IsADirectory);
            (if machine { 3 } else { 2 }, format!("error: {}: {error}", path.display()))
        })?;
        match read::marks(path, &bytes, &words.role) {
            Ok(more) => marks.extend(more),
            Err(more) => faults.extend(more),
        }
    }
    if faults.is_empty() && marks.is_empty() {
        faults.push("error: there is no mark in these files\n  help: name points `line left`, `line right`, `turn 1 a` ...; see docs/survey.md".to_owned());
    }
    if faults.is_empty() { Ok(marks) } else { Err((2, faults.join("\n"))) }
}

fn files(survey: &Survey, asked: &Asked, dir: &Path) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    let mut text = Vec::new();
    words::text(survey, asked, &mut text)?;
    fs::write(dir.join("survey.txt"), text)?;
    fs::write(dir.join("course.svg"), drawing::draw(survey, asked))?;
    fs::write(dir.join("course.geojson"), map::draw(survey))?;
    // An older survey's course must not stay beside a newer one that does not stand.
    let settings = dir.join("course.toml");
    match &survey.settings {
        Some(course) => fs::write(settings, course)?,
        None if settings.exists() => fs::remove_file(settings)?,
        None => {}
    }
    eprintln!("survey: {}", dir.display());
    Ok(())
}
