//! "Did you mean": the known word nearest to a mistyped one.
//!
//! This file knows nobody.

/// Below this likeness (Jaro-Winkler, 0 to 1) two words have nothing to do with each other.
const ALIKE: f64 = 0.85;

/// The word that is most like `word`, if any is alike enough.
#[must_use]
pub fn did_you_mean<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    let likeness = |candidate: &&'a str| (strsim::jaro_winkler(word, candidate), *candidate);
    let best = known.iter().map(likeness).max_by(|(a, _), (b, _)| a.total_cmp(b));
    best.filter(|(likeness, _)| *likeness >= ALIKE).map(|(_, word)| word)
}

#[cfg(test)]
mod tests {
    use super::did_you_mean;

    #[test]
    fn slips_of_the_finger_find_their_word_and_others_find_none() {
        let known = ["early_window_s", "early_costs", "lap_shortest_s", "signals_s"];
        assert_eq!(did_you_mean("earlywindow_s", &known), Some("early_window_s"));
        assert_eq!(did_you_mean("early_window", &known), Some("early_window_s"));
        assert_eq!(did_you_mean("signal_s", &known), Some("signals_s"));
        assert_eq!(did_you_mean("lap_shotrest_s", &known), Some("lap_shortest_s"));
        assert_eq!(did_you_mean("colour", &known), None);
        assert_eq!(did_you_mean("x", &[]), None);
    }
}
