//! Settings files that are wrong, each in one thing, and what is said of it, word for word.

use super::REACH;
use crate::scenario::parse_settings;

/// The example with one thing changed.
pub fn spoilt(right: &str, wrong: &str) -> String {
    assert_eq!(REACH.matches(right).count(), 1, "{right}");
    REACH.replace(right, wrong)
}

/// Asserts what is said of a settings file.
#[track_caller]
pub fn told(text: &str, golden: &str) {
    let report = parse_settings("reach.toml", text).expect_err("it is wrong");
    assert_eq!(format!("\n{report}\n"), golden);
    assert_eq!(report.exit_status(), 2);
}

#[test]
fn an_empty_file() {
    for text in ["", " \n\n"] {
        told(
            text,
            r#"
error: the file is empty
--> reach.toml
 = help: see the examples in docs/settings.md
"#,
        );
    }
}

#[test]
fn a_mistyped_key() {
    let text = spoilt("early_window_s = 60", "earlywindow_s = 60");
    told(
        &text,
        r#"
error: there is no key `earlywindow_s` in [rules]
 --> reach.toml:9:1
  |
9 | earlywindow_s = 60                    # a crossing this close before zero is early; before it, the boat is milling
  | ^^^^^^^^^^^^^
  |
  = help: did you mean `early_window_s`?
"#,
    );
}

#[test]
fn a_key_in_another_table() {
    let text = spoilt("[rules]", "[rules]\nlaps = 3");
    told(
        &text,
        r#"
error: there is no key `laps` in [rules]
 --> reach.toml:8:1
  |
8 | laps = 3
  | ^^^^
  |
  = help: it belongs in [course]
"#,
    );
}

#[test]
fn a_key_before_any_table() {
    let text = spoilt("[course]\nline", "laps = 3\n[course]\nline");
    told(
        &text,
        r#"
error: there is no key `laps` at the top of the file
 --> reach.toml:1:1
  |
1 | laps = 3
  | ^^^^
  |
  = help: it belongs in [course]
"#,
    );
}

#[test]
fn a_mistyped_table() {
    let text = spoilt("[thumb]", "[thumbs]");
    told(
        &text,
        r#"
error: there is no table [thumbs]
  --> reach.toml:15:2
   |
15 | [thumbs]
   |  ^^^^^^
   |
   = help: did you mean [thumb]?
"#,
    );
}

#[test]
fn a_mistyped_table_that_is_needed() {
    let text = spoilt("[course]", "[corse]");
    told(
        &text,
        r#"
error: there is no table [corse]
 --> reach.toml:1:2
  |
1 | [corse]
  |  ^^^^^
  |
  = help: did you mean [course]?
"#,
    );
}

#[test]
fn a_key_like_no_other() {
    let text = spoilt("antenna_to_bow_m = 5.0", "colour = \"red\"");
    told(
        &text,
        r#"
error: there is no key `colour` in [boat]
  --> reach.toml:13:1
   |
13 | colour = "red"
   | ^^^^^^
   |
   = help: its keys are: antenna_to_bow_m, antenna_to_bow_sd_m
"#,
    );
}

#[test]
fn a_lap_without_length() {
    let text = spoilt("lap_length_m = 4023.36\n", "");
    told(
        &text,
        r#"
error: `course.lap_length_m` is missing
 --> reach.toml:1:1
  |
1 | [course]
  | ^^^^^^^^
  |
  = help: write: lap_length_m = 4023.36
"#,
    );
}

#[test]
fn a_value_for_a_table() {
    let text = spoilt("[boat]\nantenna_to_bow_m = 5.0\n", "boat = 5.0\n");
    told(
        &text,
        r#"
error: there is no key `boat` in [rules]
  --> reach.toml:12:1
   |
12 | boat = 5.0
   | ^^^^
   |
   = help: [boat] is a table: write [boat] on a line of its own, and its keys below
"#,
    );
}

#[test]
fn a_table_for_a_value() {
    let text = spoilt("[thumb]\nreaction_mean_s = 0.25 ", "[thumb.reaction_mean_s] ");
    told(
        &text,
        r#"
error: `thumb.reaction_mean_s` must be a number, not a table
  --> reach.toml:15:1
   |
15 | [thumb.reaction_mean_s]                 # how late the driver's press is, on average
   | ^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: write a number from 0 to 10 s, such as: reaction_mean_s = 0.19
"#,
    );
}

#[test]
fn a_list_of_tables_for_a_table() {
    let text = spoilt("[boat]", "[[boat]]");
    told(
        &text,
        r#"
error: `boat` is a table, not a list
  --> reach.toml:12:1
   |
12 | [[boat]]
   | ^^^^^^^^
   |
   = help: write [boat] on a line of its own, and its keys below
"#,
    );
}

#[test]
fn a_key_twice() {
    let text = spoilt("laps = 3", "laps = 3\nlaps = 4");
    told(
        &text,
        r#"
error: not TOML: duplicate key
 --> reach.toml:6:1
  |
6 | laps = 4
  | ^^^^
  |
  = help: each key may stand once in its table, and each table once in the file
"#,
    );
}

#[test]
fn text_without_quotes() {
    let text = spoilt("early_costs = \"lap\"", "early_costs = lap");
    told(
        &text,
        r#"
error: not TOML: string values must be quoted, expected literal string
  --> reach.toml:10:15
   |
10 | early_costs = lap                    # or "time", with early_time_s
   |               ^^^
   |
   = help: TOML is written like this: key = 1.5, key = "text", [table]
"#,
    );
}

#[test]
fn a_table_not_closed() {
    let text = spoilt("[rules]", "[rules");
    told(
        &text,
        r#"
error: not TOML: unclosed table, expected `]`
 --> reach.toml:7:7
  |
7 | [rules
  |       ^
  |
  = help: TOML is written like this: key = 1.5, key = "text", [table]
"#,
    );
}

#[test]
fn a_floor_without_its_speed() {
    let text = spoilt("[boat]", "[rules.floor]\ngrace_s = 5\n[boat]");
    told(
        &text,
        r#"
error: `rules.floor.speed_m_s` is missing
  --> reach.toml:12:1
   |
12 | [rules.floor]
   | ^^^^^^^^^^^^^
   |
   = help: write: speed_m_s = 44.704
"#,
    );
}

#[test]
fn several_at_once() {
    let text = spoilt("laps = 3\n", "laps = 0\nwidth_m = 60\n[screen]\nunits = 3\n");
    told(
        &text,
        r#"
error: `course.laps` is 0 laps, which is out of range
 --> reach.toml:5:8
  |
5 | laps = 0
  |        ^
  |
  = help: it must be from 1 to 100 laps

error: there is no key `width_m` in [course]
 --> reach.toml:6:1
  |
6 | width_m = 60
  | ^^^^^^^
  |
  = help: its keys are: line_left, line_right, lap_length_m, laps, line_sd_m, end_tolerance_m

error: `screen.units` must be a text in quotes, not a whole number
 --> reach.toml:8:9
  |
8 | units = 3
  |         ^
  |
  = help: write "mph" or "km/h", such as: units = "mph"
"#,
    );
}

#[test]
fn a_needed_key_mistyped() {
    let text = spoilt("lap_length_m", "lap_lenght_m");
    told(
        &text,
        r#"
error: there is no key `lap_lenght_m` in [course]
 --> reach.toml:4:1
  |
4 | lap_lenght_m = 4023.36
  | ^^^^^^^^^^^^
  |
  = help: did you mean `lap_length_m`?
"#,
    );
}

#[test]
fn no_course() {
    let text = spoilt(
        "[course]\nline_left  = [45.000000, -30.000000]   # degrees, WGS 84; left end as seen by a boat crossing in racing direction\nline_right = [45.000000, -29.998000]\nlap_length_m = 4023.36\nlaps = 3\n",
        "",
    );
    told(
        &text,
        r#"
error: the table [course] is missing
--> reach.toml
 = help: write
         [course]
         line_left = [45.0, -30.0]
         line_right = [45.0, -29.998]
         lap_length_m = 4023.36
"#,
    );
}

/// One line that is not TOML does not hide what is wrong on others.
#[test]
fn what_is_not_toml_and_what_is_wrong_elsewhere_are_told_together() {
    let text = spoilt("laps = 3", "laps = 3 3").replace("early_window_s = 60", "earlywindow_s = 60");
    let text = text.replace("antenna_to_bow_m = 5.0", "antenna_to_bow_m = 500");
    let report = parse_settings("reach.toml", &text).unwrap_err();
    let told: Vec<_> = report
        .mistakes()
        .iter()
        .map(|mistake| (mistake.line_and_column().unwrap().0, mistake.key()))
        .collect();
    assert_eq!(
        told,
        [(5, None), (9, Some("rules.earlywindow_s")), (13, Some("boat.antenna_to_bow_m"))],
        "{report}"
    );
}
