//! Presses, faults and figures in heat files that are wrong, and what is said of them, word for word.

use super::wrong_heats::{spoilt, told};

#[test]
fn a_press_in_no_form_of_time() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[press]]\nat = \"4:59.73 before\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `press.at` is "4:59.73 before": not of the form [-]M:SS.mmm
 --> heat.toml:9:6
  |
9 | at = "4:59.73 before"
  |      ^^^^^^^^^^^^^^^^
  |
  = help: write "[-]M:SS.mmm", such as "-4:59.730"
"#,
    );
}

#[test]
fn a_press_of_sixty_seconds() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[press]]\nat = \"-0:60.000\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `press.at` is "-0:60.000": the seconds are not two digits from 00 to 59
 --> heat.toml:9:6
  |
9 | at = "-0:60.000"
  |      ^^^^^^^^^^^
  |
  = help: write "[-]M:SS.mmm", such as "-4:59.730"
"#,
    );
}

#[test]
fn presses_beyond_a_day() {
    let text = spoilt(
        "[boat.drive]\n",
        "[boat.drive]\n[[press]]\nat = \"-1440:00.001\"\n[[press]]\nat = 86400.001\n",
    );
    told(
        &text,
        super::REACH,
        r#"
error: `press.at` is "-1440:00.001": more than a day from zero
 --> heat.toml:9:6
  |
9 | at = "-1440:00.001"
  |      ^^^^^^^^^^^^^^
  |
  = help: write "[-]M:SS.mmm", such as "-4:59.730"

error: `press.at` is 86400.001 s, which is out of range
  --> heat.toml:11:6
   |
11 | at = 86400.001
   |      ^^^^^^^^^
   |
   = help: it must be from -86400 to 86400 s
"#,
    );
}

#[test]
fn a_press_without_its_time() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[press]]\nline = \"page\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `press.at` is missing
 --> heat.toml:8:1
  |
8 | [[press]]
  | ^^^^^^^^^
  |
  = help: write: at = "-4:59.730"
"#,
    );
}

#[test]
fn a_press_of_no_button() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[press]]\nat = -60\nline = \"buton\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `press.line` does not know the word "buton"
  --> heat.toml:10:8
   |
10 | line = "buton"
   |        ^^^^^^^
   |
   = help: did you mean "button"? It takes "button", "acknowledge", "page", "igniter", "starter-low", "starter-high", "start-fuel" or "external-power"
"#,
    );
}

#[test]
fn a_press_before_the_world() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[press]]\nat = \"-6:00.000\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `press.at` is -6:00.000, but the world begins at -5:45.000
 --> heat.toml:9:6
  |
9 | at = "-6:00.000"
  |      ^^^^^^^^^^^
  |
  = help: move it, or set begins_s and ends_s at the top of the file
"#,
    );
}

#[test]
fn a_press_after_the_world() {
    let text =
        format!("{}{}", "ends_s = 30\n", spoilt("[boat.drive]\n", "[boat.drive]\n[[press]]\nat = 45\n"));
    told(
        &text,
        super::REACH,
        r#"
error: `press.at` is 0:45.000, but the world lasts from -5:45.000 to 0:30.000
  --> heat.toml:10:6
   |
10 | at = 45
   |      ^^
   |
   = help: move it, or set begins_s and ends_s at the top of the file
"#,
    );
}

#[test]
fn one_press_in_single_brackets() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[press]\nat = -60\n");
    told(
        &text,
        super::REACH,
        r#"
error: `press` is a list of tables, not a table
 --> heat.toml:8:1
  |
8 | [press]
  | ^^^^^^^
  |
  = help: write [[press]] on a line of its own, and its keys below, once for each
"#,
    );
}

#[test]
fn a_fault_of_no_kind() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[fault]]\nat = -30\nkind = \"gps-lost\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `fault.kind` does not know the word "gps-lost"
  --> heat.toml:10:8
   |
10 | kind = "gps-lost"
   |        ^^^^^^^^^^
   |
   = help: did you mean "pps-lost"? It takes "gnss-lost", "gnss-invalid", "gnss-garbled", "pps-lost", "thermocouple-open", "thermocouple-silent", "n1-lost", "n2-lost", "button-bounce", "stray-press", "gun-missed", "power-blip" or "watchdog-reset"
"#,
    );
}

#[test]
fn a_blip_without_end_and_a_stray_press_with_one() {
    let text = spoilt(
        "[boat.drive]\n",
        "[boat.drive]\n[[fault]]\nat = -30\nkind = \"power-blip\"\n[[fault]]\nat = -20\nkind = \"stray-press\"\nfor_s = 1\n",
    );
    told(
        &text,
        super::REACH,
        r#"
error: `fault.for_s` is missing
 --> heat.toml:8:1
  |
8 | [[fault]]
  | ^^^^^^^^^
  |
  = help: say how long the board is off, such as: for_s = 2

error: `fault.for_s` is given, but a stray press is over at once
  --> heat.toml:14:9
   |
14 | for_s = 1
   |         ^
   |
   = help: take it out
"#,
    );
}

#[test]
fn a_gun_missed_for_no_time() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[[fault]]\nat = -30\nkind = \"gun-missed\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `fault.for_s` is missing
 --> heat.toml:8:1
  |
8 | [[fault]]
  | ^^^^^^^^^
  |
  = help: guns due from `at` on, for so long, do not fire, such as: for_s = 2
"#,
    );
}

#[test]
fn an_engine_twice() {
    let text =
        spoilt("[boat.drive]\n", "[boat.drive]\n[engine]\nrecording = \"engine.csv\"\nidle_egt_c = 500\n");
    told(
        &text,
        super::REACH,
        r#"
error: `engine.idle_egt_c` is given beside `engine.recording`
  --> heat.toml:10:14
   |
10 | idle_egt_c = 500
   |              ^^^
   |
   = help: give a recording, or the simulated engine's figures, not both
"#,
    );
}

#[test]
fn a_broken_row_of_a_recording() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[engine]\nrecording = \"broken.csv\"\n");
    told(
        &text,
        super::REACH,
        r#"
error: `egt_c` is "five hundred"
 --> broken.csv:3:3
  |
3 | 1,five hundred,62,10
  |   ^^^^^^^^^^^^
  |
  = help: write a number from -270 to 1372
"#,
    );
}

#[test]
fn figures_that_do_not_fit_each_other() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[receiver]\nposition_sd_m = 0.5\nwhite_sd_m = 0.8\n");
    told(
        &text,
        super::REACH,
        r#"
error: `receiver.white_sd_m` is 0.8, which does not fit the rest
  --> heat.toml:10:14
   |
10 | white_sd_m = 0.8
   |              ^^^
   |
   = help: with the rest as it is, it must be from 0 to 0.5
"#,
    );
}

#[test]
fn a_driver_who_leaves_before_the_world() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\nleaves_dock_s = -400\n");
    told(
        &text,
        super::REACH,
        r#"
error: `boat.drive.leaves_dock_s` is -400, which does not fit the rest
 --> heat.toml:8:17
  |
8 | leaves_dock_s = -400
  |                 ^^^^
  |
  = help: with the rest as it is, it must be from -345 to 0
"#,
    );
}

#[test]
fn a_plan_mistyped() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\ntarget_margin = -0.4\n");
    told(
        &text,
        super::REACH,
        r#"
error: there is no key `target_margin` in [boat.drive]
 --> heat.toml:8:1
  |
8 | target_margin = -0.4
  | ^^^^^^^^^^^^^
  |
  = help: did you mean `target_margin_s`?
"#,
    );
}

#[test]
fn a_key_of_the_settings_file() {
    let text = spoilt("[boat.drive]\n", "[boat.drive]\n[rules]\nearly_window_s = 60\n");
    told(
        &text,
        super::REACH,
        r#"
error: there is no table [rules]
 --> heat.toml:8:2
  |
8 | [rules]
  |  ^^^^^
  |
  = help: the tables are: start, boat, course, engine, receiver, crystal, thumb, guns, probe, pickups, press, contact, fault
"#,
    );
}
