//! Values in settings files that are wrong, and what is said of them, word for word.

use super::wrong_settings::{spoilt, told};

#[test]
fn a_text_for_a_number() {
    let text = spoilt("4023.36", "\"4023.36\"");
    told(
        &text,
        r#"
error: `course.lap_length_m` is "4023.36": a text needs a unit behind its number
 --> reach.toml:4:16
  |
4 | lap_length_m = "4023.36"
  |                ^^^^^^^^^
  |
  = help: write a number from 100 to 100000 m, or in quotes with one of m, km, cm, mm, ft, in, yd, mi, nmi
"#,
    );
}

#[test]
fn a_number_too_small() {
    let text = spoilt("4023.36", "40.2336");
    told(
        &text,
        r#"
error: `course.lap_length_m` is 40.2336 m, which is out of range
 --> reach.toml:4:16
  |
4 | lap_length_m = 40.2336
  |                ^^^^^^^
  |
  = help: it must be from 100 to 100000 m
"#,
    );
}

#[test]
fn a_number_too_large() {
    let text = spoilt("antenna_to_bow_m = 5.0", "antenna_to_bow_m = 5000");
    told(
        &text,
        r#"
error: `boat.antenna_to_bow_m` is 5000 m, which is out of range
  --> reach.toml:13:20
   |
13 | antenna_to_bow_m = 5000
   |                    ^^^^
   |
   = help: it must be from -100 to 100 m
"#,
    );
}

#[test]
fn a_negative_deviation() {
    let text = spoilt("reaction_sd_s = 0.06", "reaction_sd_s = -0.06");
    told(
        &text,
        r#"
error: `thumb.reaction_sd_s` is -0.06 s, which is out of range
  --> reach.toml:17:17
   |
17 | reaction_sd_s = -0.06
   |                 ^^^^^
   |
   = help: it must be from 0 to 10 s
"#,
    );
}

#[test]
fn no_number_at_all() {
    let text = spoilt("reaction_sd_s = 0.06", "reaction_sd_s = nan");
    told(
        &text,
        r#"
error: `thumb.reaction_sd_s` is no number that means anything here
  --> reach.toml:17:17
   |
17 | reaction_sd_s = nan
   |                 ^^^
   |
   = help: write a number from 0 to 10 s, such as: reaction_sd_s = 0.04
"#,
    );
}

#[test]
fn a_fraction_of_a_lap() {
    let text = spoilt("laps = 3", "laps = 2.5");
    told(
        &text,
        r#"
error: `course.laps` must be a whole number, not 2.5
 --> reach.toml:5:8
  |
5 | laps = 2.5
  |        ^^^
  |
  = help: write a whole number from 1 to 100 laps, such as: laps = 3
"#,
    );
}

#[test]
fn no_laps() {
    let text = spoilt("laps = 3", "laps = 0");
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
"#,
    );
}

#[test]
fn a_word_that_is_none_of_them() {
    let text = spoilt("\"lap\"", "\"laps\"");
    told(
        &text,
        r#"
error: `rules.early_costs` does not know the word "laps"
  --> reach.toml:10:15
   |
10 | early_costs = "laps"                    # or "time", with early_time_s
   |               ^^^^^^
   |
   = help: did you mean "lap"? It takes "lap", "time" or "nothing"
"#,
    );
}

#[test]
fn a_cost_without_its_time() {
    let text = spoilt("\"lap\"  ", "\"time\" ");
    told(
        &text,
        r#"
error: `rules.early_time_s` is missing
  --> reach.toml:10:15
   |
10 | early_costs = "time"                   # or "time", with early_time_s
   |               ^^^^^^
   |
   = help: write how much time an early start costs, such as: early_time_s = 30
"#,
    );
}

#[test]
fn a_time_without_its_cost() {
    let text = spoilt("early_costs = \"lap\"", "early_time_s = 30");
    told(
        &text,
        r#"
error: `rules.early_time_s` has no effect: an early start does not cost time
  --> reach.toml:10:16
   |
10 | early_time_s = 30                    # or "time", with early_time_s
   |                ^^
   |
   = help: write early_costs = "time", or take early_time_s out
"#,
    );
}

#[test]
fn latitude_and_longitude_swapped() {
    let text = spoilt("[45.000000, -30.000000]", "[-130.0, 45.0]");
    told(
        &text,
        r#"
error: `course.line_left` has latitude -130, which is none
 --> reach.toml:2:15
  |
2 | line_left  = [-130.0, 45.0]   # degrees, WGS 84; left end as seen by a boat crossing in racing direction
  |               ^^^^^^
  |
  = help: latitude stands first, longitude second; latitudes go from -85 to 85 degrees
"#,
    );
}

#[test]
fn a_place_with_one_number() {
    let text = spoilt("[45.000000, -30.000000]", "[45.0]");
    told(
        &text,
        r#"
error: `course.line_left` must be a latitude and a longitude, not a list
 --> reach.toml:2:14
  |
2 | line_left  = [45.0]   # degrees, WGS 84; left end as seen by a boat crossing in racing direction
  |              ^^^^^^
  |
  = help: write [latitude, longitude] in degrees, WGS 84, north and east positive, such as: line_left = [45.0, -30.0]
"#,
    );
}

#[test]
fn a_longitude_off_the_globe() {
    let text = spoilt("-29.998000", "-229.998");
    told(
        &text,
        r#"
error: `course.line_right` has a longitude that is -229.998 degrees, which is out of range
 --> reach.toml:3:26
  |
3 | line_right = [45.000000, -229.998]
  |                          ^^^^^^^^
  |
  = help: it must be from -180 to 180 degrees
"#,
    );
}

#[test]
fn both_ends_in_one_place() {
    let text = spoilt("[45.000000, -29.998000]", "[45.000000, -30.000000]");
    told(
        &text,
        r#"
error: `course.line_right` lies 0.0 m from `course.line_left`
 --> reach.toml:3:14
  |
3 | line_right = [45.000000, -30.000000]
  |              ^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: a line is from 5 m to 5 km long; the ends are [latitude, longitude] in degrees
"#,
    );
}

#[test]
fn signals_in_the_wrong_order() {
    let text = spoilt("[300, 60, 0]", "[60, 300, 0]");
    told(
        &text,
        r#"
error: `rules.signals_s` is not a list of signals in their order
 --> reach.toml:8:13
  |
8 | signals_s = [60, 300, 0]
  |             ^^^^^^^^^^^^
  |
  = help: write them in the order they come: the largest first, no two alike
"#,
    );
}

#[test]
fn no_signals() {
    let text = spoilt("[300, 60, 0]", "[]");
    told(
        &text,
        r#"
error: `rules.signals_s` is not a list of signals in their order
 --> reach.toml:8:13
  |
8 | signals_s = []
  |             ^^
  |
  = help: write them in the order they come: the largest first, no two alike
"#,
    );
}

#[test]
fn a_text_among_signals() {
    let text = spoilt("[300, 60, 0]", "[300, \"60\", 0]");
    told(
        &text,
        r#"
error: `rules.signals_s` has an entry that is "60": a text needs a unit behind its number
 --> reach.toml:8:19
  |
8 | signals_s = [300, "60", 0]
  |                   ^^^^
  |
  = help: write a whole number from 0 to 3600 s, or in quotes with one of s, ms, us, ns, min, h
"#,
    );
}

#[test]
fn too_many_counts() {
    let text =
        spoilt("[rules]", "[rules]\ncounts_s = [17, 16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1]");
    told(
        &text,
        r#"
error: `rules.counts_s` has 17 entries
 --> reach.toml:8:12
  |
8 | counts_s = [17, 16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1]
  |            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: there may be up to 16
"#,
    );
}

#[test]
fn units_of_another_kind() {
    let text = spoilt("[boat]", "[screen]\nunits = \"knots\"\n[boat]");
    told(
        &text,
        r#"
error: `screen.units` does not know the word "knots"
  --> reach.toml:13:9
   |
13 | units = "knots"
   |         ^^^^^^^
   |
   = help: it takes "mph" or "km/h"
"#,
    );
}

#[test]
fn a_unit_of_something_else() {
    let text = spoilt("antenna_to_bow_m = 5.0", "antenna_to_bow_m = \"5 mph\"");
    told(
        &text,
        r#"
error: `boat.antenna_to_bow_m` is "5 mph", a speed, but must be a length
  --> reach.toml:13:20
   |
13 | antenna_to_bow_m = "5 mph"
   |                    ^^^^^^^
   |
   = help: write a number from -100 to 100 m, or in quotes with one of m, km, cm, mm, ft, in, yd, mi, nmi
"#,
    );
}

#[test]
fn a_unit_that_nobody_knows() {
    let text = spoilt("antenna_to_bow_m = 5.0", "antenna_to_bow_m = \"16 feets\"");
    told(
        &text,
        r#"
error: `boat.antenna_to_bow_m` is "16 feets", and no unit here is called feets
  --> reach.toml:13:20
   |
13 | antenna_to_bow_m = "16 feets"
   |                    ^^^^^^^^^^
   |
   = help: did you mean feet? Its units are m, km, cm, mm, ft, in, yd, mi, nmi
"#,
    );
}

#[test]
fn a_number_with_a_unit_out_of_its_range() {
    let text = spoilt("antenna_to_bow_m = 5.0", "antenna_to_bow_m = \"400 ft\"");
    told(
        &text,
        r#"
error: `boat.antenna_to_bow_m` is "400 ft", 121.92 m, which is out of range
  --> reach.toml:13:20
   |
13 | antenna_to_bow_m = "400 ft"
   |                    ^^^^^^^^
   |
   = help: it must be from -100 to 100 m
"#,
    );
}
