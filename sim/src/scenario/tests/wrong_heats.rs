//! Heat files that are wrong, each in one thing, and what is said of it, word for word.

use super::{HEAT, REACH, load};
use crate::scenario::Report;

/// The heat with one thing changed.
pub fn spoilt(right: &str, wrong: &str) -> String {
    assert_eq!(HEAT.matches(right).count(), 1, "{right}");
    HEAT.replace(right, wrong)
}

/// What is said of a heat over these settings.
fn report(text: &str, reach: &str) -> Report {
    let csv = "t_s,egt_c,n1_pct,n2_pct\n";
    load(&[
        ("heat.toml", text),
        ("reach.toml", reach),
        ("folder", "a folder"),
        ("secret.toml", "no permission"),
        ("track.nmea", "not UTF-8"),
        ("empty.nmea", ""),
        ("engine.csv", &format!("{csv}0,560,62,10\n")),
        ("broken.csv", &format!("{csv}0,560,62,10\n1,five hundred,62,10\n")),
    ])
    .expect_err("it is wrong")
}

/// Asserts what is said of a heat over these settings.
#[track_caller]
pub fn told(text: &str, reach: &str, golden: &str) {
    assert_eq!(format!("\n{}\n", report(text, reach)), golden);
}

#[test]
fn the_heat_file_itself() {
    let told = |content: &str| load(&[("heat.toml", content)]).expect_err("it is wrong").to_string();
    let missing = load(&[]).expect_err("it is wrong").to_string();
    let all = [missing, told("a folder"), told("no permission"), told("not UTF-8"), told("")].join("\n");
    assert_eq!(
        format!("\n{all}\n"),
        r#"
error: there is no such file
--> heat.toml
 = help: is the name right, and the folder?
error: this is a folder
--> heat.toml
 = help: name a file in it
error: cannot be read: permission denied
--> heat.toml
 = help: the machine refused; may you read it?
error: this is not text in UTF-8: line 2 has a byte that no such text has
--> heat.toml
 = help: save it as UTF-8
error: the file is empty
--> heat.toml
 = help: see the examples in docs/settings.md
"#
    );
}

#[test]
fn what_the_machine_refuses_has_a_status_of_its_own() {
    assert_eq!(report(&spoilt("reach.toml", "secret.toml"), REACH).exit_status(), 3);
    assert_eq!(report(&spoilt("reach.toml", "beach.toml"), REACH).exit_status(), 2);
}

#[test]
fn no_zero() {
    let text = spoilt("zero_utc = 2031-05-17T19:05:00.000Z\n", "");
    told(
        &text,
        REACH,
        r#"
error: `start.zero_utc` is missing
 --> heat.toml:4:1
  |
4 | [start]
  | ^^^^^^^
  |
  = help: write: zero_utc = 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn zero_in_quotes() {
    let text = spoilt("2031-05-17T19:05:00.000Z", "\"2031-05-17T19:05:00.000Z\"");
    told(
        &text,
        REACH,
        r#"
error: `start.zero_utc` must stand without quotes
 --> heat.toml:5:12
  |
5 | zero_utc = "2031-05-17T19:05:00.000Z"
  |            ^^^^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: write a date and time with a Z for UTC, without quotes, such as: zero_utc = 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn zero_without_a_z() {
    let text = spoilt("2031-05-17T19:05:00.000Z", "2031-05-17T19:05:00.000");
    told(
        &text,
        REACH,
        r#"
error: `start.zero_utc` is not a whole date and time with a Z
 --> heat.toml:5:12
  |
5 | zero_utc = 2031-05-17T19:05:00.000
  |            ^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: write UTC, with a T between date and time and a Z behind: 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn zero_in_another_zone() {
    let text = spoilt("2031-05-17T19:05:00.000Z", "2031-05-17T21:05:00.000+02:00");
    told(
        &text,
        REACH,
        r#"
error: `start.zero_utc` is not in UTC
 --> heat.toml:5:12
  |
5 | zero_utc = 2031-05-17T21:05:00.000+02:00
  |            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: write UTC, with a T between date and time and a Z behind: 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn zero_without_a_time() {
    let text = spoilt("2031-05-17T19:05:00.000Z", "2031-05-17");
    told(
        &text,
        REACH,
        r#"
error: `start.zero_utc` is not a whole date and time with a Z
 --> heat.toml:5:12
  |
5 | zero_utc = 2031-05-17
  |            ^^^^^^^^^^
  |
  = help: write UTC, with a T between date and time and a Z behind: 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn zero_in_another_century() {
    let text = spoilt("2031-", "1931-");
    told(
        &text,
        REACH,
        r#"
error: `start.zero_utc` is in the year 1931
 --> heat.toml:5:12
  |
5 | zero_utc = 1931-05-17T19:05:00.000Z
  |            ^^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: from 1980 to 2079: receivers write years with two digits
"#,
    );
}

#[test]
fn a_day_that_does_not_exist() {
    let text = spoilt("2031-05-17", "2031-06-31");
    told(
        &text,
        REACH,
        r#"
error: not TOML: invalid date, expected day between 01 and 30
 --> heat.toml:5:12
  |
5 | zero_utc = 2031-06-31T19:05:00.000Z
  |            ^^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: write a date and time that exist: 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn no_settings() {
    let text = spoilt("settings = \"reach.toml\"\n", "");
    told(
        &text,
        REACH,
        r#"
error: `settings` is missing
--> heat.toml
 = help: write, before any table: settings = "reach.toml"
"#,
    );
}

#[test]
fn settings_that_are_not_there() {
    let text = spoilt("reach.toml", "beach.toml");
    told(
        &text,
        REACH,
        r#"
error: beach.toml: there is no such file
 --> heat.toml:2:12
  |
2 | settings = "beach.toml"
  |            ^^^^^^^^^^^^
  |
  = help: is the name right, and the folder?
"#,
    );
}

#[test]
fn settings_that_are_a_folder() {
    let text = spoilt("reach.toml", "folder");
    told(
        &text,
        REACH,
        r#"
error: folder: this is a folder
 --> heat.toml:2:12
  |
2 | settings = "folder"
  |            ^^^^^^^^
  |
  = help: name a file in it
"#,
    );
}

#[test]
fn settings_that_may_not_be_read() {
    let text = spoilt("reach.toml", "secret.toml");
    told(
        &text,
        REACH,
        r#"
error: secret.toml: cannot be read: permission denied
 --> heat.toml:2:12
  |
2 | settings = "secret.toml"
  |            ^^^^^^^^^^^^^
  |
  = help: the machine refused; may you read it?
"#,
    );
}

#[test]
fn settings_that_are_not_text() {
    let text = spoilt("reach.toml", "track.nmea");
    told(
        &text,
        REACH,
        r#"
error: track.nmea: this is not text in UTF-8: line 2 has a byte that no such text has
 --> heat.toml:2:12
  |
2 | settings = "track.nmea"
  |            ^^^^^^^^^^^^
  |
  = help: save it as UTF-8
"#,
    );
}

#[test]
fn mistakes_in_both_files() {
    let text = spoilt("title = \"Invented heat\"", "title = 3");
    told(
        &text,
        &REACH.replace("laps = 3", "laps = 300"),
        r#"
error: `title` must be a text in quotes, not a whole number
 --> heat.toml:1:9
  |
1 | title = 3
  |         ^
  |
  = help: write a text in quotes, such as: title = "untitled"

error: `course.laps` is 300 laps, which is out of range
 --> reach.toml:5:8
  |
5 | laps = 300
  |        ^^^
  |
  = help: it must be from 1 to 100 laps
"#,
    );
}

#[test]
fn no_boat() {
    let text = spoilt("[boat.drive]\n", "");
    told(
        &text,
        REACH,
        r#"
error: the heat has no boat
--> heat.toml
 = help: write a table [boat.drive], which may be empty, or: [boat] recording = "track.nmea"
"#,
    );
}

#[test]
fn two_boats() {
    let text = spoilt("[boat.drive]\n", "[boat]\nrecording = \"track.nmea\"\n[boat.drive]\n");
    told(
        &text,
        REACH,
        r#"
error: `boat.drive` is given beside `boat.recording`
 --> heat.toml:9:1
  |
9 | [boat.drive]
  | ^^^^^^^^^^^^
  |
  = help: give a recording, or the table [boat.drive] and the boat's figures, not both
"#,
    );
}

#[test]
fn a_recording_with_a_mass() {
    let text = spoilt("[boat.drive]\n", "[boat]\nrecording = \"track.nmea\"\nmass_kg = 2000\n");
    told(
        &text,
        REACH,
        r#"
error: `boat.mass_kg` is given beside `boat.recording`
 --> heat.toml:9:11
  |
9 | mass_kg = 2000
  |           ^^^^
  |
  = help: give a recording, or the table [boat.drive] and the boat's figures, not both
"#,
    );
}

#[test]
fn a_recording_that_is_empty() {
    let text = spoilt("[boat.drive]\n", "[boat]\nrecording = \"empty.nmea\"\n");
    told(
        &text,
        REACH,
        r#"
error: empty.nmea: the file is empty
 --> heat.toml:8:13
  |
8 | recording = "empty.nmea"
  |             ^^^^^^^^^^^^
  |
  = help: name a receiver's recording, NMEA 0183
"#,
    );
}

#[test]
fn a_negative_seed() {
    let text = format!("{}{}", "seed = -1\n", spoilt("[start]", "[start]"));
    told(
        &text,
        REACH,
        r#"
error: `seed` is -1, which is out of range
 --> heat.toml:1:8
  |
1 | seed = -1
  |        ^^
  |
  = help: it must be from 0 to 9223372036854775807
"#,
    );
}

#[test]
fn a_flag_in_words() {
    let text = spoilt("[boat.drive]\n", "scheduled = \"yes\"\n[boat.drive]\n");
    told(
        &text,
        REACH,
        r#"
error: `start.scheduled` must be true or false, not a text
 --> heat.toml:7:13
  |
7 | scheduled = "yes"
  |             ^^^^^
  |
  = help: write true or false, such as: scheduled = false
"#,
    );
}

#[test]
fn no_start() {
    let text = spoilt("[start]\nzero_utc = 2031-05-17T19:05:00.000Z\n", "");
    told(
        &text,
        REACH,
        r#"
error: the table [start] is missing
--> heat.toml
 = help: write
         [start]
         zero_utc = 2031-05-17T19:05:00.000Z
"#,
    );
}

#[test]
fn a_mistyped_boat() {
    let text = spoilt("[boat.drive]", "[baot.drive]");
    told(
        &text,
        REACH,
        r#"
error: there is no table [baot]
 --> heat.toml:7:2
  |
7 | [baot.drive]
  |  ^^^^
  |
  = help: did you mean [boat]?
"#,
    );
}
