//! Files of older forms are read and told; files of newer ones are refused whole.

use std::sync::Arc;

use crate::scenario::forms::{FORM, RENAMED, Renamed};
use crate::scenario::keys::settings::KEYS;
use crate::scenario::number::Decimal;
use crate::scenario::parse_settings;
use crate::scenario::reader::Reading;
use crate::scenario::report::Source;

/// An invented form before the first: one key in feet, and one in a table of another name.
const INVENTED: &[Renamed] = &[
    Renamed { until: 0, was: "boat.antenna_ft", is: "boat.antenna_to_bow_m", unit: "ft" },
    Renamed { until: 0, was: "button.debounce_s", is: "thumb.debounce_s", unit: "" },
];

fn read(text: &str) -> Reading {
    let course =
        "[course]\nline_left = [45.0, -30.0]\nline_right = [45.0, -29.998]\nlap_length_m = 4023.36\n";
    let text = text.replace("[course]\n", course);
    let source = Arc::new(Source { name: "old.toml".to_owned(), text });
    Reading::of_forms(&source, KEYS, INVENTED)
}

#[test]
fn keys_of_an_older_form_are_read_and_told_with_their_new_spelling() {
    let mut reading = read("form = 0\n[course]\n[boat]\nantenna_ft = 16.5\n[button]\ndebounce_s = 0.03\n");
    let mistakes = reading.take_mistakes();
    assert!(mistakes.is_empty(), "{mistakes:?}");
    // 16.5 ft of 0.3048 m are 5.0292 m.
    let metres: Decimal = reading.get("boat.antenna_to_bow_m").unwrap();
    assert_eq!(metres.to_string(), "5.0292");
    assert_eq!(reading.get::<Decimal>("thumb.debounce_s").unwrap().to_string(), "0.03");
    let notes = reading.take_notes();
    let told: Vec<_> = notes.iter().map(|note| format!("{} / {}", note.what(), note.right())).collect();
    assert_eq!(
        told,
        [
            "`boat.antenna_ft` of form 0 is read as `boat.antenna_to_bow_m` / write in [boat]: antenna_to_bow_m = \"16.5 ft\"",
            "`button.debounce_s` of form 0 is read as `thumb.debounce_s` / write in [thumb]: debounce_s = 0.03",
        ]
    );
    assert!(notes[0].render_note(false).starts_with("note: "), "{}", notes[0].render_note(false));
}

#[test]
fn an_old_key_in_a_file_of_this_form_is_wrong_and_told_its_new_name() {
    let mut reading = read("[course]\n[boat]\nantenna_ft = 16.5\n");
    let mistakes = reading.take_mistakes();
    assert_eq!(mistakes.len(), 1, "{mistakes:?}");
    assert_eq!(
        mistakes[0].what(),
        "`boat.antenna_ft` was called so until form 0: it is `boat.antenna_to_bow_m` now"
    );
    assert!(reading.take_notes().is_empty());
}

#[test]
fn an_old_key_beside_its_new_one_is_wrong() {
    let mut reading = read("form = 0\n[course]\n[boat]\nantenna_to_bow_m = 5\nantenna_ft = 16.5\n");
    assert_eq!(reading.take_mistakes().len(), 1);
}

#[test]
fn a_newer_form_is_refused_whole_and_nothing_else_is_said() {
    let newer = format!("form = {}\n[no_such_table]\n", FORM + 1);
    let report = parse_settings("new.toml", &newer).unwrap_err();
    let [only] = report.mistakes() else { panic!("{report}") };
    assert_eq!(only.what(), "this file is of form 2, and this program reads forms up to 1");
    assert_eq!((only.key(), only.line_and_column()), (Some("form"), Some((1, 1))));
    for wrong in ["form = 0", "form = -1", "form = \"1\"", "form = 1.5"] {
        let report = parse_settings("wrong.toml", wrong).unwrap_err();
        assert_eq!(report.mistakes()[0].key(), Some("form"), "{wrong}\n{report}");
    }
}

#[test]
fn every_renamed_key_has_a_name_today() {
    for old in RENAMED {
        assert!(KEYS.iter().any(|key| key.path == old.is) && old.until < FORM, "{old:?}");
        assert!(KEYS.iter().all(|key| key.path != old.was), "{old:?}");
    }
}
