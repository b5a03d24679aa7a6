//! The table of the start: whose figures it holds, and what the core refuses between two of them.

use super::REACH;
use crate::scenario::keys::settings::STARTS;
use crate::scenario::parse_settings;

const OWN: &str = "[engine.start]
demonstration = false
fuel_from_pct = 15
light_off_within_s = 8
starter_on_s = 30
starter_off_s = 120
starter_cycles = 3
starter_rest_s = 3600
cool_below_c = 180
";

#[test]
fn a_start_of_my_own_has_every_figure_that_a_manual_gives() {
    let mine = parse_settings("reach.toml", &format!("{REACH}{OWN}")).unwrap().engine.start;
    assert!(!mine.demonstration);
    assert_eq!((mine.fuel_from.as_centi(), mine.starter_cycles), (1_500, 3));
    let none = format!("{REACH}[engine.start]\ndemonstration = false\n");
    let report = parse_settings("reach.toml", &none).unwrap_err().render(false);
    for path in STARTS {
        assert!(report.contains(&format!("`{path}` is missing")), "{report}");
    }
}

#[test]
fn figures_that_contradict_each_other_are_told_at_their_key() {
    for (lines, what) in [
        ("fuel_from_pct = 4", "`engine.start.fuel_from_pct` is below `engine.start.cranking_from_pct`"),
        ("starter_rest_s = 30", "`engine.start.starter_rest_s` is below `engine.start.starter_off_s`"),
        ("cool_below_c = 290\n[engine]\nlit_above_c = 250", "`engine.start.cool_below_c` is above"),
    ] {
        let text = format!("{REACH}[engine.start]\n{lines}\n");
        let report = parse_settings("reach.toml", &text).unwrap_err().render(false);
        assert!(report.contains(what), "{report}");
    }
}
