//! The figures of a calibration from the board itself, at its cable: what a probe shows, what is counted, how fast the
//! crystal is, and how late presses are behind the board's own lamp and beeper.
//!
//! Times are the board's clock, so neither the cable nor this machine is in them. The board in, figures out; what a person
//! is to do goes to standard error.

use std::io::{self, BufRead as _};
use std::thread;
use std::time::{Duration, Instant as Here};

use clap::Args;
use firmware::engine::thermocouple::decode;
use firmware::talk::{Answer, Cued, Readings, Request, Turning};
use firmware::units::{Instant, Span};
use statrs::statistics::Statistics as _;

use super::tach::Shaft;
use super::thumb;
use crate::board::conversation::{Conversation, Patience, Reach};
use crate::board::port::{Line, Place};
use crate::board::{Trouble, words};

/// How to talk with the board.
#[derive(Args, Clone, Debug)]
#[group(skip)]
pub struct Pace {
    /// How long to wait for the board's answer before asking again. More for an emulated board.
    #[arg(long, value_name = "MS", default_value_t = 500)]
    answer_ms: u64,
    /// So long the board is left alone between two questions.
    #[arg(long, value_name = "MS", default_value_t = 250, hide = true)]
    every_ms: u64,
}

/// A frequency is counted for so long, by the board's clock.
const COUNT_FOR: Span = Span::from_secs(10);

/// A line through fewer reports than this is none.
const REPORTS_LEAST: usize = 10;

/// No report for so long: the shaft stands, or the wire is off.
const STOPPED_AFTER: Span = Span::from_secs(2);

/// A probe gets so long to come to rest.
const SETTLES_FOR: Span = Span::from_secs(10);

/// It stands still when it has kept within [`STEP_C`] for so long.
const STILL_FOR: Span = Span::from_secs(5);

/// A thermocouple chip's step, degrees (MAX31855: 0.25).
const STEP_C: f64 = 0.25;

/// Who has not pressed by then was asleep (see `thumb.rs`, where a second is the limit).
const ANSWER_FOR: Duration = Duration::from_millis(1_500);

/// So often the board is asked whether the button went down.
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// A board at its cable.
pub struct Board {
    talk: Conversation<Box<dyn Line>>,
    every: Duration,
}

impl Board {
    /// Opens the board at this port, or the one that is found.
    ///
    /// # Errors
    /// There is none, or it does not answer.
    pub fn open(port: Option<&str>, pace: &Pace) -> Result<Self, Trouble> {
        let place = port.map_or(Place::Anywhere, |port| Place::Named(port.to_owned()));
        let answer = Duration::from_millis(pace.answer_ms);
        let reach = Reach { place, patience: Patience { answer, board: Duration::ZERO } };
        let (talk, _) = reach.connect()?;
        Ok(Self { talk, every: Duration::from_millis(pace.every_ms) })
    }

    /// Pulses a second, by a straight line through the count of ten seconds; 0 when the shaft stands.
    ///
    /// # Errors
    /// The line.
    pub fn counted_hz(&mut self, shaft: Shaft) -> Result<f64, Trouble> {
        eprintln!("counting for {} s: keep the frequency steady", COUNT_FOR.as_micros() / 1_000_000);
        let mut first: Option<Turning> = None;
        let mut points: Vec<(f64, f64)> = Vec::new();
        loop {
            let readings = self.readings()?;
            let turning = if shaft == Shaft::N1 { readings.n1 } else { readings.n2 };
            let Some(turning) = turning.filter(|it| readings.at.since(it.at) < STOPPED_AFTER) else {
                return Ok(0.0);
            };
            let since = *first.get_or_insert(turning);
            let passed = turning.at.since(since.at);
            let point = (seconds(passed), f64::from(turning.total.wrapping_sub(since.total)));
            if points.last() != Some(&point) {
                points.push(point);
            }
            if passed >= COUNT_FOR && points.len() >= REPORTS_LEAST {
                return Ok(slope(&points));
            }
            thread::sleep(self.every);
        }
    }

    /// The crystal's error by the receiver's pulses and one standard deviation of it, ppm; none before they measured it.
    ///
    /// # Errors
    /// The line.
    pub fn crystal_ppm(&mut self) -> Result<Option<(f64, f64)>, Trouble> {
        let ppm = |ppb: i64| ppb as f64 / 1e3;
        Ok(self.readings()?.crystal.map(|(error, sd)| (ppm(error.as_ppb()), ppm(sd.as_ppb()))))
    }

    /// What a probe (counted from 1) shows where its owner has put it, as shown and not corrected: the readings of its last
    /// seconds, degrees.
    ///
    /// # Errors
    /// The line; nobody at the keyboard.
    pub fn probe(&mut self, number: u8, place: &str) -> Result<Vec<f64>, Trouble> {
        eprintln!("probe {number} into {place}, stir; then Enter");
        let heard = io::stdin().lock().read_line(&mut String::new());
        if !heard.is_ok_and(|bytes| bytes > 0) {
            return Err(Trouble::Refused("nobody pressed Enter: nothing was read".to_owned()));
        }
        let mut shown: Vec<(Instant, f64)> = Vec::new();
        let mut began = None;
        let rest = loop {
            let readings = self.readings()?;
            let now = readings.at;
            let began = *began.get_or_insert(now);
            match degrees(&readings, number) {
                Ok(degrees) => {
                    eprint!("\r{degrees:>9.2} degrees ");
                    shown.push((now, degrees));
                }
                Err(fault) => eprint!("\r{fault:<18}"),
            }
            let last: Vec<f64> = shown
                .iter()
                .filter(|(at, _)| now.since(*at) <= STILL_FOR)
                .map(|(_, degrees)| *degrees)
                .collect();
            let passed = now.since(began);
            if passed >= SETTLES_FOR || (passed >= STILL_FOR && stands_still(&last)) {
                break last;
            }
            thread::sleep(self.every);
        };
        eprintln!();
        Ok(rest)
    }

    /// Delays of the presses after cues at moments that cannot be guessed, seconds. The board is on the bench meanwhile and
    /// off it afterwards, whatever came of it.
    ///
    /// # Errors
    /// The line; a board whose clock runs; one that left the bench.
    pub fn presses(&mut self, between: Duration) -> Result<Vec<f64>, Trouble> {
        self.talk.ask(&Request::EnterBench(&[]), done)?;
        eprintln!(
            "{} times: at lamp and beep press the start button at once, and let go. Held for 2 s it ends this.",
            thumb::ASKED
        );
        let delays: Result<Vec<f64>, Trouble> =
            (1..=thumb::ASKED).map(|number| self.press(number, between)).collect();
        let left = self.talk.ask(&Request::LeaveBench, done);
        let delays = delays?;
        left?;
        Ok(delays)
    }

    /// One cue, and the delay of the press that answers it; one that never comes is as late as was waited for.
    fn press(&mut self, number: usize, between: Duration) -> Result<f64, Trouble> {
        thread::sleep(drawn(between)?);
        let mut cued = self.cue(true)?;
        let asked = Here::now();
        loop {
            if let Some(delay) = answered(&cued) {
                eprintln!("{number:>3}  {delay:.3} s");
                return Ok(delay);
            }
            if asked.elapsed() > ANSWER_FOR {
                eprintln!("{number:>3}  no press");
                return Ok(ANSWER_FOR.as_secs_f64());
            }
            thread::sleep(LOOK_EVERY);
            cued = self.cue(false)?;
        }
    }

    fn cue(&mut self, sound: bool) -> Result<Cued, Trouble> {
        let cued = self.talk.ask(&Request::Cue { sound }, |answer| match answer {
            Answer::Cued(cued) => Ok(cued),
            other => Err(words::unexpected(&other)),
        });
        Ok(cued?)
    }

    fn readings(&mut self) -> Result<Readings, Trouble> {
        let readings = self.talk.ask(&Request::Readings, |answer| match answer {
            Answer::Readings(readings) => Ok(readings),
            other => Err(words::unexpected(&other)),
        });
        Ok(readings?)
    }
}

fn done(answer: Answer<'_>) -> Result<(), Trouble> {
    match answer {
        Answer::Done => Ok(()),
        other => Err(words::unexpected(&other)),
    }
}

/// How late the first press after the cue is, seconds.
fn answered(cued: &Cued) -> Option<f64> {
    let first = cued.edges.iter().flatten().find(|edge| edge.active)?;
    cued.at.map(|at| seconds(first.at.since(at)))
}

/// From `least` up to four times that, drawn.
fn drawn(least: Duration) -> Result<Duration, Trouble> {
    let mut bytes = [0; 2];
    getrandom::fill(&mut bytes).map_err(|error| Trouble::Broken(format!("no random numbers: {error}")))?;
    Ok(least + least.mul_f64(f64::from(u16::from_le_bytes(bytes)) * 3.0 / 65_536.0))
}

fn degrees(readings: &Readings, number: u8) -> Result<f64, String> {
    let raw = readings.probes.get(usize::from(number).saturating_sub(1)).copied().flatten();
    let raw = raw.ok_or_else(|| "no reading".to_owned())?;
    decode(raw).map(|read| f64::from(read.hot.as_milli()) / 1e3).map_err(|fault| format!("{fault:?}"))
}

fn stands_still(readings: &[f64]) -> bool {
    readings.len() >= 2 && readings.max() - readings.min() <= STEP_C
}

/// The slope of the least-squares line: each report comes up to a period after its last pulse, and many even that out.
fn slope(points: &[(f64, f64)]) -> f64 {
    let (at, count): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    at.as_slice().covariance(count.as_slice()) / at.as_slice().variance()
}

fn seconds(span: Span) -> f64 {
    span.as_micros() as f64 / 1e6
}
