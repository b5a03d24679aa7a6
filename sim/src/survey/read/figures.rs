//! Figures in a mark's name or description: `radius 190 m`, `sd 0.5 m`.
//!
//! This file knows lengths. Text in, metres out.

use crate::survey::length::metres;

/// The length behind a word, if the word is there.
///
/// # Errors
/// The word is there and no length behind it.
pub fn figure(text: &str, word: &str) -> Result<Option<f64>, String> {
    let small = text.to_lowercase();
    let found = small.match_indices(word).find(|(at, _)| {
        let before = small[..*at].chars().next_back();
        let after = small[at + word.len()..].chars().next();
        !before.is_some_and(char::is_alphanumeric) && !after.is_some_and(char::is_alphabetic)
    });
    let Some((at, _)) = found else { return Ok(None) };
    let rest = small[at + word.len()..]
        .trim_start_matches(|letter: char| letter.is_whitespace() || ":=".contains(letter));
    let number_ends =
        rest.find(|letter: char| !(letter.is_ascii_digit() || ".+-".contains(letter))).unwrap_or(rest.len());
    let (number, after) = rest.split_at(number_ends);
    let unit: String = after.trim_start().chars().take_while(char::is_ascii_alphabetic).collect();
    match metres(&format!("{number} {unit}")) {
        Ok(length) if length > 0.0 => Ok(Some(length)),
        _ => Err(format!("`{word}` is not followed by a length such as 190 m")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_stands_behind_its_word() {
        assert_eq!(figure("turn 1 centre, radius 190 m", "radius"), Ok(Some(190.0)));
        assert_eq!(figure("Radius: 190.5m, sd=0.5 m", "radius"), Ok(Some(190.5)));
        assert_eq!(figure("Radius: 190.5m, sd=0.5 m.", "sd"), Ok(Some(0.5)));
        assert_eq!(figure("made on Wednesday", "sd"), Ok(None));
        assert!(figure("radius unknown", "radius").is_err());
    }
}
