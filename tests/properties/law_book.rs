//! The law book, the sources and the tests speak of the same rules.
//!
//! Reads `docs/timing-logic.md`, `docs/checks.md`, `docs/design.md` and the Rust sources as text. In the law book a
//! rule is defined by an item `* **C1 Arming.** ...` and held by an item `* C1: ...` that names tests between
//! backticks. The code cites rules as `(rule C1)` or `(rules S1 to S3, L1)`, the pages as `[C1]`.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

mod rules_table;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn page(name: &str) -> String {
    fs::read_to_string(root().join("docs").join(name)).unwrap()
}

/// The texts of all Rust files below a folder of the repository.
fn sources(folder: &str) -> Vec<String> {
    let mut texts = Vec::new();
    collect(&root().join(folder), &mut texts);
    assert!(!texts.is_empty(), "no sources in {folder}");
    texts
}

fn collect(folder: &Path, texts: &mut Vec<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() && !path.ends_with("target") {
            collect(&path, texts);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            texts.push(fs::read_to_string(&path).unwrap());
        }
    }
}

/// The name of every function that stands behind `#[test]`.
fn tests_in_the_tree() -> BTreeSet<String> {
    let texts = ["firmware", "sim", "tests"].into_iter().flat_map(sources);
    texts
        .flat_map(|text| text.split("#[test]\n").skip(1).filter_map(function_name).collect::<Vec<_>>())
        .collect()
}

fn function_name(after: &str) -> Option<String> {
    let (_, declared) = after.split_once("fn ")?;
    Some(declared.split(|c: char| !is_of_a_name(c)).next()?.to_owned())
}

fn is_of_a_name(c: char) -> bool {
    c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'
}

/// What stands between each `open` and the next `close`.
fn between<'a>(text: &'a str, open: &'a str, close: &'a str) -> impl Iterator<Item = &'a str> {
    text.split(open).skip(1).filter_map(move |rest| Some(rest.split_once(close)?.0))
}

/// The names of tests that a text gives between backticks: three words or more. Settings have one or two.
fn tests_named(text: &str) -> BTreeSet<String> {
    let quoted = text.split('`').skip(1).step_by(2);
    quoted
        .filter(|name| name.chars().all(is_of_a_name) && name.matches('_').count() >= 2)
        .map(str::to_owned)
        .collect()
}

/// A capital letter and a number: C1, L12.
fn is_number(word: &str) -> bool {
    let digits = word.strip_prefix(|c: char| c.is_ascii_uppercase());
    digits.is_some_and(|digits| !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit()))
}

/// The rules of a citation such as `S1 to S3, L1`; nothing if any other word stands in it.
fn cited(citation: &str) -> Vec<String> {
    let words: Vec<&str> =
        citation.split([' ', ',']).filter(|word| !word.is_empty() && *word != "to").collect();
    if words.iter().all(|word| is_number(word)) {
        words.into_iter().map(str::to_owned).collect()
    } else {
        Vec::new()
    }
}

/// The rules that a page cites in square brackets.
fn cited_by_page(text: &str) -> Vec<String> {
    between(&text.replace("\n  ", " "), "[", "]").flat_map(cited).collect()
}

/// The rules that the comments of a source cite.
fn cited_by_source(text: &str) -> Vec<String> {
    let comments: Vec<&str> = text
        .lines()
        .filter_map(|line| Some(line.split_once("//")?.1.trim_start_matches(['/', '!']).trim()))
        .collect();
    let comments = comments.join(" ");
    let of = |open| between(&comments, open, ")").flat_map(cited);
    of("(rule ").chain(of("(rules ")).chain(between(&comments, "[", "]").flat_map(cited)).collect()
}

/// The numbers of the rules as they are defined, in order.
fn rules(book: &str) -> Vec<String> {
    let heads = book.lines().filter_map(|line| line.strip_prefix("* **")?.split(' ').next());
    heads.filter(|word| is_number(word)).map(str::to_owned).collect()
}

/// Each item `* C1: ...` as the rule and the tests it names.
fn holders(book: &str) -> Vec<(String, BTreeSet<String>)> {
    let items = book.split("\n* ").filter_map(|item| item.split("\n\n").next()?.split_once(": "));
    items
        .filter(|(rule, _)| is_number(rule))
        .map(|(rule, text)| (rule.to_owned(), tests_named(text)))
        .collect()
}

fn missing<'a>(names: impl IntoIterator<Item = &'a String>, from: &BTreeSet<String>) -> Vec<&'a String> {
    names.into_iter().filter(|name| !from.contains(*name)).collect()
}

const NONE: [&String; 0] = [];

#[test]
fn every_rule_is_defined_once() {
    let rules = rules(&page("timing-logic.md"));
    assert!(rules.len() > 50, "the rules were not found: {rules:?}");
    let twice: Vec<_> = rules.iter().filter(|rule| rules.iter().filter(|r| r == rule).count() > 1).collect();
    assert_eq!(twice, NONE);
}

#[test]
fn every_rule_is_held_by_a_test() {
    let book = page("timing-logic.md");
    let held: BTreeSet<String> =
        holders(&book).into_iter().filter(|(_, tests)| !tests.is_empty()).map(|(rule, _)| rule).collect();
    let rules = rules(&book);
    assert_eq!(missing(&rules, &held), NONE, "rules without a test");
    assert_eq!(missing(&held, &rules.iter().cloned().collect()), NONE, "tests for rules that are not there");
}

#[test]
fn every_test_that_a_page_names_is_in_the_tree() {
    let tests = tests_in_the_tree();
    for name in ["timing-logic.md", "checks.md"] {
        let named = tests_named(&page(name));
        assert!(named.len() > 40, "the names were not found in {name}: {named:?}");
        assert_eq!(missing(&named, &tests), NONE, "{name}");
    }
}

#[test]
fn every_rule_that_is_cited_exists() {
    let rules: BTreeSet<String> = rules(&page("timing-logic.md")).into_iter().collect();
    let by_code: Vec<String> =
        sources("firmware/src").iter().flat_map(|text| cited_by_source(text)).collect();
    assert!(by_code.len() > 10, "the citations were not found: {by_code:?}");
    assert_eq!(missing(&by_code, &rules), NONE, "cited by the code");
    for name in ["timing-logic.md", "design.md"] {
        let by_page = cited_by_page(&page(name));
        assert!(!by_page.is_empty(), "no citation was found in {name}");
        assert_eq!(missing(&by_page, &rules), NONE, "cited by {name}");
    }
}

/// The readers see what they are for, so that an empty answer above means that all is well.
#[test]
fn the_readers_find_what_is_wrong() {
    let book = "* **C1 Arming.** Text [S1 to\n  S3].\n* **C2 X.** Text [the manual].\n\n* C1: `a_b_c`,\n  `d_e_f`\n* C2: `some_setting`\n\n`x_y_z`";
    assert_eq!(rules(book), ["C1", "C2"]);
    let tests = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(holders(book), [("C1".to_owned(), tests(&["a_b_c", "d_e_f"])), ("C2".to_owned(), tests(&[]))]);
    assert_eq!(cited_by_page(book), ["S1", "S3"]);
    assert_eq!(
        cited_by_source("/// Text (rules S1\n/// to S3, L1).\nlet x = [C9]; // as [C4] says"),
        ["S1", "S3", "L1", "C4"]
    );
    assert_eq!(missing(&["C9".to_owned()], &tests(&["C1"])), [&"C9".to_owned()]);
}
