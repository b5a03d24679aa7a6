//! Several records of one heat: one order of starting, one of finish, with ties by error bar.
//!
//! Each boat's dash has a zero of its own, with an error of its own. Where a record knows UTC, the boats are compared by
//! UTC, and the errors of their zeros drop out of the order; each boat's margin still hangs on its own. Where one does
//! not, the order is by margin, and the bars are wider.
//!
//! Ties: two neighbours in the order are tied when the difference is less than two standard deviations of it. A tie
//! group is a run of such neighbours: first and last of a long one may be further apart than that.
//!
//! Judgements in, an order out.

use std::io::{self, Write};

use firmware::output::Call;
use firmware::units::Span;
use serde_json::json;

use super::second::Counted;
use super::{Answer, Judgement};
use crate::words;

/// Two sigma: nineteen in twenty (normal distribution), as for a call (rule S6).
const SIGMAS: f64 = 2.0;

/// One boat at one moment.
#[derive(Clone, Debug)]
pub struct Placed {
    /// Its record.
    pub name: String,
    /// 1 for the first; boats that are tied share it.
    pub place: usize,
    /// Seconds behind the first.
    pub behind_s: f64,
    /// One standard deviation of its own moment.
    pub sigma_s: f64,
    /// Its call, for an order of starting; it stands for itself.
    pub call: Option<Call>,
    /// The time owed, seconds, which is not added; and laps owed.
    pub owed: (u16, f64),
    /// Its record is in order.
    pub answer: Answer,
}

/// A fleet.
#[derive(Clone, Debug)]
pub struct Fleet {
    /// In the order of starting.
    pub starts: Vec<Placed>,
    /// In the order of finish, among those who ran all laps that they owe.
    pub finishes: Vec<Placed>,
    /// Records without a start, or without a finish.
    pub without: Vec<(String, &'static str)>,
    /// Whether UTC placed them; else each boat's own zero did.
    pub by_utc: bool,
    /// By how many seconds the boats' own zeros are apart, at most.
    pub zeros_apart_s: Option<f64>,
}

struct Boat<'a> {
    name: &'a str,
    judgement: &'a Judgement,
}

impl Fleet {
    /// The order of these records.
    #[must_use]
    pub fn of(judged: &[(String, Judgement)]) -> Self {
        let boats: Vec<Boat> = judged.iter().map(|(name, judgement)| Boat { name, judgement }).collect();
        let by_utc = boats.iter().all(|boat| boat.judgement.opinion.knows_utc);
        let mut without = Vec::new();
        let mut pick = |counted: Counted, what: &'static str| {
            let mut found = Vec::new();
            for boat in &boats {
                match boat.moment(counted, by_utc) {
                    Some((s, sigma_s)) => found.push((s, sigma_s, boat)),
                    None => without.push((boat.name.to_owned(), what)),
                }
            }
            place(found)
        };
        let (starts, finishes) = (pick(Counted::Start, "no start"), pick(Counted::Lap, "no finish"));
        let zeros =
            boats.iter().filter_map(|boat| boat.judgement.opinion.zero.as_ref()).map(|zero| zero.at.s);
        let (low, high) =
            zeros.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| (low.min(s), high.max(s)));
        Self { starts, finishes, without, by_utc, zeros_apart_s: by_utc.then_some(high - low) }
    }
}

impl Boat<'_> {
    /// When it started, or finished, and one standard deviation.
    fn moment(&self, counted: Counted, by_utc: bool) -> Option<(f64, f64)> {
        let (opinion, race) = (&self.judgement.opinion, &self.judgement.opinion.race);
        let of = |seen: &&super::second::Seen| seen.counted == counted;
        let seen = match counted {
            Counted::Start => race.crossings.iter().find(of)?,
            // The crossing that ended the heat is the last that counted as a lap.
            _ => race.finish_s.and_then(|_| race.crossings.iter().rev().find(of))?,
        };
        let at = seen.crossing.at;
        if by_utc {
            return Some((at.s, at.sigma_s));
        }
        let zero = opinion.zero.as_ref()?;
        Some((at.s - zero.at.s, at.sigma_s.hypot(seen.tie_sigma_s).hypot(zero.at.sigma_s)))
    }
}

fn place(mut found: Vec<(f64, f64, &Boat)>) -> Vec<Placed> {
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first = found.first().map_or(0.0, |(s, ..)| *s);
    let mut placed: Vec<Placed> = Vec::new();
    for (number, (s, sigma_s, boat)) in found.into_iter().enumerate() {
        let tied = placed
            .last()
            .filter(|before| s - first - before.behind_s < SIGMAS * before.sigma_s.hypot(sigma_s));
        let race = &boat.judgement.opinion.race;
        placed.push(Placed {
            name: boat.name.to_owned(),
            place: tied.map_or(number + 1, |before| before.place),
            behind_s: s - first,
            sigma_s,
            call: race.call.map(|called| called.call),
            owed: race.owed(),
            answer: boat.judgement.answer(),
        });
    }
    placed
}

/// What is said of how the order was made.
#[must_use]
pub fn how(fleet: &Fleet) -> String {
    let scale = match (fleet.by_utc, fleet.zeros_apart_s) {
        (true, Some(apart)) => format!(
            "Placed by UTC; the boats' own zeros, {apart:.3} s apart at most, have no part in the order, only in each \
             boat's own margin."
        ),
        _ => "Not every record knows UTC: placed by each boat's own zero, with its error.".to_string(),
    };
    format!(
        "{scale} Neighbours whose difference is less than two standard deviations of it are tied, and so is a run of \
         such neighbours. Penalties are not worked in."
    )
}

/// What stands behind a name.
#[must_use]
pub fn remark(placed: &Placed) -> String {
    let owed = Span::from_micros((placed.owed.1 * 1e6).round() as i64);
    let owed = (placed.owed != (0, 0.0)).then(|| format!("owes {}", words::owed(placed.owed.0, owed)));
    let call = placed.call.map(words::kebab);
    let doubt = (placed.answer != Answer::Good).then(|| format!("RECORD {}", words::kebab(placed.answer)));
    [call, owed, doubt].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// Writes it for a person.
///
/// # Errors
/// Only the writer's own.
pub fn write_text(fleet: &Fleet, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "The fleet\n\n{}\n", how(fleet))?;
    for (title, order) in [("start", &fleet.starts), ("finish", &fleet.finishes)] {
        for boat in order {
            writeln!(
                out,
                "{title:<8}{:>3}{}  {:<32}  +{:.3} s ± {} s  {}",
                boat.place,
                if is_tied(order, boat) { "=" } else { " " },
                boat.name,
                boat.behind_s,
                words::sigma(Span::from_micros((boat.sigma_s * 1e6).round() as i64)),
                remark(boat)
            )?;
        }
        writeln!(out)?;
    }
    for (name, what) in &fleet.without {
        writeln!(out, "{name}: {what} in the record")?;
    }
    writeln!(out, "{}", words::CAUTION)
}

/// True when it shares its place.
#[must_use]
pub fn is_tied(order: &[Placed], boat: &Placed) -> bool {
    order.iter().filter(|other| other.place == boat.place).count() > 1
}

/// Writes it as JSON lines.
///
/// # Errors
/// Only the writer's own.
pub fn write_lines(fleet: &Fleet, out: &mut impl Write) -> io::Result<()> {
    for (order_of, order) in [("start", &fleet.starts), ("finish", &fleet.finishes)] {
        for boat in order {
            let us = |s: f64| (s * 1e6).round() as i64;
            let told = json!({ "kind": "fleet", "t_us": 0, "order_of": order_of, "place": boat.place,
                "tied": is_tied(order, boat), "file": boat.name, "behind_us": us(boat.behind_s),
                "sigma_us": us(boat.sigma_s), "call": boat.call.map(words::kebab),
                "owed_laps": boat.owed.0, "owed_us": us(boat.owed.1), "answer": words::kebab(boat.answer),
                "by_utc": fleet.by_utc });
            serde_json::to_writer(&mut *out, &told)?;
            writeln!(out)?;
        }
    }
    Ok(())
}
