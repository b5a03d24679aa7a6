//! Whatever is in a file, it is taken or told.

use proptest::prelude::*;

use super::{HEAT, REACH, load};
use crate::scenario::parse_settings;

/// All that a heat may hold, to be damaged.
const FULL: &str = r#"title = "Invented heat"
settings = "reach.toml"
seed = 7
ends_s = 600
[start]
zero_utc = 2031-05-17T19:05:00.000Z
[boat.drive]
target_margin_s = -0.45
[guns]
late_s = [0.1, -0.2]
[[press]]
at = "-4:59.730"
line = "page"
[[fault]]
at = -30
kind = "gnss-lost"
for_s = 4.0
"#;

/// A text with one stretch of it replaced by something else.
fn damaged(text: &'static str) -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        "[\\[\\]{}=\",.#\n a-z0-9_-]{0,6}",
        "[\u{0}-\u{2fff}]{0,3}",
        Just("\r\n".to_owned()),
        Just("99999999999999999999999".to_owned()),
        Just("[[[[".to_owned()),
        Just("\u{feff}".to_owned()),
    ];
    (0..=text.len(), 0..12_usize, piece).prop_map(move |(start, length, piece)| {
        let end = (start + length).min(text.len());
        let mut changed = text.to_owned();
        changed.replace_range(start..end, &piece);
        changed
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn a_damaged_settings_file_gives_sound_settings_or_a_report_of_it(text in damaged(REACH)) {
        match parse_settings("reach.toml", &text) {
            Ok(settings) => prop_assert_eq!(settings.check(), Ok(())),
            Err(report) => {
                prop_assert!(!report.mistakes().is_empty());
                prop_assert!(report.to_string().contains("reach.toml") && !report.render(true).is_empty());
            }
        }
    }

    #[test]
    fn a_damaged_heat_file_gives_a_sound_world_or_a_report_of_it(text in damaged(FULL)) {
        match load(&[("heat.toml", &text), ("reach.toml", REACH)]) {
            Ok(heat) => prop_assert_eq!(heat.world.check(), Ok(())),
            Err(report) => prop_assert!(report.to_string().contains("heat.toml")),
        }
    }

    #[test]
    fn every_mistake_stands_where_its_file_has_a_character(text in damaged(HEAT)) {
        let Err(report) = load(&[("heat.toml", &text), ("reach.toml", REACH)]) else { return Ok(()) };
        for mistake in report.mistakes() {
            let Some((line, column)) = mistake.line_and_column() else { continue };
            let there = text.split('\n').nth(line - 1).map(|line| line.chars().count());
            prop_assert!(there.is_some_and(|length| column <= length + 1), "{line}:{column} in {text:?}");
        }
    }
}
