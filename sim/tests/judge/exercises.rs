//! The ten exercises: `judge` against verdicts worked out by hand from the law book.
//!
//! Each text begins with what it comes to, one name and value a line, up to an empty line; the arithmetic follows.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use gunline::judge::second::Counted;
use gunline::judge::{Asked, Judgement, judge};
use gunline::words;

use super::cases::CASES;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("exercises")
}

/// The journals in the folder are those that the stories make; `GUNLINE_REDRAW=1` writes them anew.
#[test]
fn the_exercises_are_what_their_stories_make() {
    for (name, tell) in CASES {
        let (path, journal) = (folder().join(name).with_extension("journal"), tell());
        if std::env::var_os("GUNLINE_REDRAW").is_some() {
            fs::write(&path, &journal).unwrap();
        }
        assert!(fs::read(&path).unwrap() == journal, "{name} is not what its story makes");
        assert!(journal.len() < 25_000, "{name}: {} bytes", journal.len());
    }
}

/// What was worked out by hand.
struct Hand(BTreeMap<String, String>);

impl Hand {
    fn of(name: &str) -> Self {
        let text = fs::read_to_string(folder().join(name).with_extension("txt")).unwrap();
        let head = text.lines().take_while(|line| !line.trim().is_empty());
        let rows = head.filter_map(|line| line.split_once(char::is_whitespace));
        Self(rows.map(|(key, value)| (key.to_owned(), value.trim().to_owned())).collect())
    }

    fn says(&self, key: &str) -> &str {
        self.0.get(key).unwrap_or_else(|| panic!("the text does not say {key}"))
    }

    fn figures(&self, key: &str) -> Vec<f64> {
        self.says(key)
            .split_whitespace()
            .filter(|word| *word != "none")
            .map(|word| word.parse().unwrap())
            .collect()
    }
}

/// By hand to the millisecond; the dash keeps back less than one.
fn near(name: &str, what: &str, found: f64, by_hand: f64) {
    assert!((found - by_hand).abs() <= 0.0015, "{name}: {what} is {found:.6}, by hand {by_hand:.6}");
}

#[test]
fn the_judge_agrees_with_every_verdict_worked_out_by_hand() {
    for (name, _) in CASES {
        let hand = Hand::of(name);
        let journal = fs::read(folder().join(name).with_extension("journal")).unwrap();
        let judged = judge(&journal, Asked::default()).unwrap();
        assert_eq!(words::kebab(judged.answer()), hand.says("answer"), "{name}: {judged:?}");
        assert_eq!(words::kebab(judged.integrity.ending), hand.says("ending"), "{name}");
        if hand.says("answer") != "altered" {
            by_the_dash(name, &hand, &judged);
            by_the_second_opinion(name, &hand, &judged);
        }
    }
}

fn by_the_dash(name: &str, hand: &Hand, judged: &Judgement) {
    let came_to = &judged.summary;
    let called = came_to.call.unwrap();
    assert_eq!(words::kebab(called.call), hand.says("call"), "{name}");
    near(name, "margin", called.margin.as_micros() as f64 / 1e6, hand.figures("margin_s")[0]);
    near(name, "its sigma", called.sigma.as_micros() as f64 / 1e6, hand.figures("sigma_s")[0]);
    let laps: Vec<f64> = came_to.laps.iter().map(|lap| lap.time.as_micros() as f64 / 1e6).collect();
    assert_eq!(laps.len(), hand.figures("laps_s").len(), "{name}: {laps:?}");
    laps.iter().zip(hand.figures("laps_s")).for_each(|(lap, by_hand)| near(name, "lap", *lap, by_hand));
    let finish = came_to.finish.map(|finish| finish.time.as_micros() as f64 / 1e6);
    assert_eq!(finish.is_some(), !hand.figures("finish_s").is_empty(), "{name}");
    finish
        .into_iter()
        .zip(hand.figures("finish_s"))
        .for_each(|(s, by_hand)| near(name, "finish", s, by_hand));
    let owed = came_to.penalties.first().map_or("nothing".into(), |owed| words::owed(owed.laps, owed.time));
    assert_eq!(owed, hand.says("owed"), "{name}");
}

fn by_the_second_opinion(name: &str, hand: &Hand, judged: &Judgement) {
    let race = &judged.opinion.race;
    let called = race.call.unwrap();
    assert_eq!(words::kebab(called.call), hand.says("call"), "{name}");
    near(name, "second margin", called.margin_s, hand.figures("margin_s")[0]);
    near(name, "its sigma", called.sigma_s, hand.figures("sigma_s")[0]);
    let laps = race.laps.iter().map(|lap| lap.time_s);
    laps.zip(hand.figures("laps_s")).for_each(|(lap, by_hand)| near(name, "second lap", lap, by_hand));
    assert_eq!(race.laps.len(), hand.figures("laps_s").len(), "{name}");
    let finish = race.finish_s.into_iter().zip(hand.figures("finish_s"));
    finish.for_each(|(s, by_hand)| near(name, "second finish", s, by_hand));
    let starts = race.crossings.iter().filter(|seen| seen.counted == Counted::Start).count();
    assert_eq!(starts, 1, "{name}");
    assert_eq!(f64::from(race.missed), hand.figures("missed")[0], "{name}");
}
