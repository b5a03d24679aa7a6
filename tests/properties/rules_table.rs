//! The table of rules against tests, `docs/rules-and-tests.md`: drawn from the law book, the proof and its planted
//! faults, so that a gap is seen.
//!
//! `GUNLINE_REDRAW=1 cargo test -p gunline-tests --test law_book` writes it anew; without, the page must be what would
//! be written.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;

use firmware::mutant::Mutant;
use gunline::prove::command::{FINISH, RULES};

use super::{NONE, between, holders, missing, page, root, rules};

/// Each rule's number and title, in the order of the book.
fn titles(book: &str) -> Vec<(String, String)> {
    let numbers: BTreeSet<String> = rules(book).into_iter().collect();
    between(book, "\n* **", "**")
        .filter_map(|head| head.split_once(' '))
        .filter(|(number, _)| numbers.contains(*number))
        .map(|(number, title)| (number.to_owned(), title.trim_end_matches('.').to_owned()))
        .collect()
}

/// The rules that the proof explores.
fn proved() -> BTreeSet<String> {
    RULES.iter().chain(&FINISH).map(|(rule, _)| (*rule).to_owned()).collect()
}

/// The planted faults that break a rule.
fn faults(rule: &str) -> Vec<Mutant> {
    Mutant::ALL.into_iter().filter(|mutant| mutant.rule() == rule).collect()
}

/// Of the start clock, the start and the laps: what the proof is about.
fn is_of_the_race(rule: &str) -> bool {
    rule.starts_with(['C', 'S', 'L'])
}

fn drawn() -> String {
    let book = page("timing-logic.md");
    let (titles, held, proved) = (titles(&book), holders(&book), proved());
    let tests: BTreeSet<&String> = held.iter().flat_map(|(_, tests)| tests).collect();
    let unproved: Vec<&str> = titles
        .iter()
        .map(|(rule, _)| rule.as_str())
        .filter(|rule| is_of_the_race(rule) && !proved.contains(*rule))
        .collect();
    let mut text = format!(
        "# Rules against tests\n\n\
         Drawn by a test from the law book (`docs/timing-logic.md`), the proof (`docs/proof.md`) and the faults that are\n\
         planted to try it. Not written by hand.\n\n\
         {} rules, {} tests. The proof explores {} rules in every state that can be reached; {} planted faults are each\n\
         caught by the rule that they break. Of the start clock, the start and the laps the proof leaves out {}: these are\n\
         held by their tests alone, like all other groups.\n\n\
         | rule | title | proof | faults planted | tests |\n| --- | --- | --- | --- | --- |\n",
        titles.len(),
        tests.len(),
        proved.len(),
        Mutant::ALL.len(),
        unproved.join(", "),
    );
    for (rule, title) in &titles {
        let names: Vec<String> = held
            .iter()
            .filter(|(of, _)| of == rule)
            .flat_map(|(_, tests)| tests)
            .map(|test| format!("`{test}`"))
            .collect();
        let (proof, planted) = match (proved.contains(rule), faults(rule).len()) {
            (false, _) => ("", String::new()),
            (true, n) => ("yes", n.to_string()),
        };
        // Writing to a text cannot fail.
        let _ = writeln!(text, "| {rule} | {title} | {proof} | {planted} | {} |", names.join("<br>"));
    }
    text
}

#[test]
fn the_table_of_rules_against_tests_is_the_one_in_the_docs() {
    let (path, drawn) = (root().join("docs/rules-and-tests.md"), drawn());
    if std::env::var_os("GUNLINE_REDRAW").is_some() {
        fs::write(&path, &drawn).unwrap();
    }
    assert_eq!(drawn, fs::read_to_string(path).unwrap());
}

#[test]
fn every_rule_of_the_proof_is_in_the_book_and_broken_by_a_planted_fault() {
    let book = page("timing-logic.md");
    let (proved, titles) = (proved(), titles(&book));
    let written: BTreeSet<String> = rules(&book).into_iter().collect();
    assert_eq!(titles.len(), written.len(), "a rule without a title");
    assert_eq!(missing(&proved, &written), NONE, "proved, but not in the book");
    let broken: BTreeSet<String> = Mutant::ALL.iter().map(|mutant| mutant.rule().to_owned()).collect();
    assert_eq!(missing(&proved, &broken), NONE, "no planted fault breaks it");
    assert_eq!(missing(&broken, &proved), NONE, "a planted fault that the proof cannot find");
}
