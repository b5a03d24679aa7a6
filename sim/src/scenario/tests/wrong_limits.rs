//! Engine limits that are wrong, and what is said of them, word for word.

use super::REACH;
use super::wrong_settings::told;

/// The owner's own figures, invented, to be spoilt.
const OWN: &str = r#"demonstration = false
egt_starting = [{ above_c = 800, allowed_s = 10 }]
egt_running = [{ above_c = 780, allowed_s = 300 }]
n1 = [{ above_pct = 102, allowed_s = 300 }]
n2 = [{ above_pct = 102, allowed_s = 300 }]
n2_overspeed_pct = 112
n1_tach.rpm_at_100 = 4200
n2_tach.rpm_at_100 = 10000"#;

/// The example with these lines for its engine.
fn engine(lines: &str) -> String {
    format!("{REACH}[engine]\n{lines}\n")
}

#[test]
fn the_figures_to_be_spoilt_are_right() {
    assert!(crate::scenario::parse_settings("reach.toml", &engine(OWN)).is_ok());
}

#[test]
fn a_limit_beside_the_demonstration() {
    told(
        &engine("n1 = [{ above_pct = 102, allowed_s = 300 }]"),
        r#"
error: `engine.n1` is given, but the limits are still the demonstration's
  --> reach.toml:19:6
   |
19 | n1 = [{ above_pct = 102, allowed_s = 300 }]
   |      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: give all of egt_starting, egt_running, n1, n2, n2_overspeed_pct, from the engine maker's manual, and write: demonstration = false
"#,
    );
}

#[test]
fn the_owners_limits_in_part() {
    told(
        &engine(
            "demonstration = false\negt_running = [{ above_c = 780, allowed_s = 300 }]\nn1 = [{ above_pct = 102, allowed_s = 300 }]\nn2 = [{ above_pct = 102, allowed_s = 300 }]\nn2_overspeed_pct = 112\nn1_tach.rpm_at_100 = 4200",
        ),
        r#"
error: `engine.egt_starting` is missing: without the demonstration limits all must be yours
  --> reach.toml:19:17
   |
19 | demonstration = false
   |                 ^^^^^
   |
   = help: enter it from the engine maker's manual, or take demonstration = false out

error: `engine.n2_tach.rpm_at_100` is missing: without the demonstration limits all must be yours
  --> reach.toml:19:17
   |
19 | demonstration = false
   |                 ^^^^^
   |
   = help: enter it from the engine maker's manual, or take demonstration = false out
"#,
    );
}

#[test]
fn limits_that_fall() {
    told(&engine(&OWN.replace("egt_running = [{ above_c = 780, allowed_s = 300 }]\nn1 = [{ above_pct = 102, allowed_s = 300 }]", "egt_running = [{ above_c = 780, allowed_s = 300 }, { above_c = 770, allowed_s = 20 }]\nn1 = [{ above_pct = 102, allowed_s = 20 }, { above_pct = 105, allowed_s = 20 }]")), r#"
error: `engine.egt_running.above_c` is not above that of the row before
  --> reach.toml:21:64
   |
21 | egt_running = [{ above_c = 780, allowed_s = 300 }, { above_c = 770, allowed_s = 20 }]
   |                                                                ^^^
   |
   = help: rows go from the lowest limit to the highest

error: `engine.n1.allowed_s` is not shorter than that of the row before
  --> reach.toml:22:75
   |
22 | n1 = [{ above_pct = 102, allowed_s = 20 }, { above_pct = 105, allowed_s = 20 }]
   |                                                                           ^^
   |
   = help: a higher limit allows a shorter time
"#);
}

#[test]
fn an_overspeed_below_the_last_limit() {
    told(
        &engine(&OWN.replace("n2_overspeed_pct = 112", "n2_overspeed_pct = 101.5")),
        r#"
error: `engine.n2_overspeed_pct` is below the last row of `engine.n2`
  --> reach.toml:24:20
   |
24 | n2_overspeed_pct = 101.5
   |                    ^^^^^
   |
   = help: overspeed is at or above the last row
"#,
    );
}

#[test]
fn no_rows() {
    told(
        &engine(&OWN.replace("n2 = [{ above_pct = 102, allowed_s = 300 }]", "n2 = []")),
        r#"
error: `engine.n2` has no row
  --> reach.toml:23:6
   |
23 | n2 = []
   |      ^^
   |
   = help: give at least one row
"#,
    );
}

#[test]
fn too_many_rows() {
    told(&engine(&OWN.replace("egt_starting = [{ above_c = 800, allowed_s = 10 }]", "egt_starting = [\n    { above_c = 800, allowed_s = 10 },\n    { above_c = 801, allowed_s = 9 },\n    { above_c = 802, allowed_s = 8 },\n    { above_c = 803, allowed_s = 7 },\n    { above_c = 804, allowed_s = 6 },\n    { above_c = 805, allowed_s = 5 },\n    { above_c = 806, allowed_s = 4 },\n]")), r#"
error: `engine.egt_starting` has 7 rows
  --> reach.toml:27:5
   |
27 |     { above_c = 806, allowed_s = 4 },
   |     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: there may be up to 6
"#);
}

#[test]
fn a_row_without_its_time_and_one_that_is_none() {
    told(
        &engine(
            &OWN.replace("n1 = [{ above_pct = 102, allowed_s = 300 }]", "n1 = [{ above_pct = 102 }, 105]"),
        ),
        r#"
error: `engine.n1.allowed_s` is missing
  --> reach.toml:22:7
   |
22 | n1 = [{ above_pct = 102 }, 105]
   |       ^^^^^^^^^^^^^^^^^^^
   |
   = help: write: allowed_s = 300

error: `engine.n1` is a list of tables, and this is a whole number
  --> reach.toml:22:28
   |
22 | n1 = [{ above_pct = 102 }, 105]
   |                            ^^^
   |
   = help: write [[engine.n1]] on a line of its own, and its keys below, once for each
"#,
    );
}

#[test]
fn cold_hotter_than_lit() {
    told(
        &engine("cold_below_c = 350"),
        r#"
error: `engine.cold_below_c` is above `engine.lit_above_c`
  --> reach.toml:19:16
   |
19 | cold_below_c = 350
   |                ^^^
   |
   = help: a cold engine is not lit: make it lower
"#,
    );
}
