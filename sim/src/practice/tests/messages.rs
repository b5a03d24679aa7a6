//! What a page may say, and what becomes of everything else.

use proptest::prelude::*;

use crate::practice::plan::{Length, Mode};
use crate::practice::wire::{Said, Switch, read};

#[test]
fn what_the_page_says_is_understood() {
    for (text, said) in [
        (
            r#"{"say":"begin","length":"60","mode":"hidden","steered":true,"seed":7}"#,
            Said::Begin { length: Length::OneMinute, mode: Mode::Hidden, steered: true, seed: Some(7) },
        ),
        (r#"{"say":"hands","throttle":1000,"helm":-1000}"#, Said::Hands { throttle: 1_000, helm: -1_000 }),
        (
            r#"{"say":"button","line":"starter-high","down":true,"id":3}"#,
            Said::Button { line: Switch::StarterHigh, down: true, id: 3 },
        ),
        (r#"{"say":"lever","open":true}"#, Said::Lever { open: true, id: 0 }),
        (r#"{"say":"pause","on":false}"#, Said::Pause { on: false }),
        (r#"{"say":"end"}"#, Said::End),
    ] {
        assert_eq!(read(text).unwrap(), said);
    }
}

#[test]
fn what_it_does_not_say_is_refused() {
    for text in [
        "",
        "null",
        "[]",
        r#"{"say":"hands","throttle":1001,"helm":0}"#,
        r#"{"say":"hands","throttle":-1,"helm":0}"#,
        r#"{"say":"hands","throttle":1,"helm":1001}"#,
        r#"{"say":"hands","throttle":1.5,"helm":0}"#,
        r#"{"say":"hands","throttle":1,"helm":-32768}"#,
        r#"{"say":"begin","length":"61","mode":"dash","steered":true,"seed":1}"#,
        r#"{"say":"button","line":"gun-contact","down":true}"#,
        r#"{"say":"pause","on":true,"more":1}"#,
        r#"{"say":"lever","open":1}"#,
        r#"{"say":"shut-down"}"#,
    ] {
        assert!(read(text).is_err(), "{text}");
    }
}

proptest! {
    #[test]
    fn whatever_comes_is_read_or_refused(text in ".{0,200}") {
        let _ = read(&text);
    }

    #[test]
    fn hands_beyond_their_ends_are_refused_whatever_their_size(throttle: i64, helm: i64) {
        let right = (0..=1_000).contains(&throttle) && (-1_000..=1_000).contains(&helm);
        let said = read(&format!(r#"{{"say":"hands","throttle":{throttle},"helm":{helm}}}"#));
        prop_assert_eq!(said.is_ok(), right);
    }
}
