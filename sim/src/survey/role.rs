//! What a mark is for: plain words that a person writes as its name.
//!
//! `line left`, `line right`, `entrance`, `turn 1 centre`, and `turn 1`, `turn 1 b` or `turn 1 buoy 2` for one of the buoys
//! that stand round a turn. Turns are counted in racing order, from the first after the line. A name that begins with
//! `note` is a remark and no mark.
//!
//! Knows nobody. Names in, roles out, or the role that was likely meant.

use std::fmt;

use crate::scenario::nearest::did_you_mean;

/// The most turns; as many as the dash can hold bends.
pub const TURNS_MAX: u8 = firmware::run_in::lane::BENDS_MAX as u8;

/// What a mark is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// The start line's left end, as seen by a boat that crosses in racing direction.
    LineLeft,
    /// Its right end.
    LineRight,
    /// The mark from which on lanes are fixed.
    Entrance,
    /// The middle of a turn, counted from 1.
    Centre(u8),
    /// A buoy on a turn.
    Buoy(u8),
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::LineLeft => f.write_str("line left"),
            Self::LineRight => f.write_str("line right"),
            Self::Entrance => f.write_str("entrance"),
            Self::Centre(turn) => write!(f, "turn {turn} centre"),
            Self::Buoy(turn) => write!(f, "turn {turn}"),
        }
    }
}

/// What a name says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Named {
    /// A role.
    Role(Role),
    /// A remark, for people alone.
    Note,
    /// No role; what would be right.
    Unknown(String),
}

/// Reads a name.
#[must_use]
pub fn named(name: &str) -> Named {
    let words = words(name);
    let plain: Vec<_> = words.iter().map(String::as_str).collect();
    match plain.as_slice() {
        ["note", ..] => Named::Note,
        ["line", "left"] => Named::Role(Role::LineLeft),
        ["line", "right"] => Named::Role(Role::LineRight),
        ["entrance"] | ["entrance", "mark"] => Named::Role(Role::Entrance),
        ["turn", turn, rest @ ..] => turned(turn, rest).unwrap_or_else(|| Named::Unknown(nearest(&words))),
        _ => Named::Unknown(nearest(&words)),
    }
}

fn turned(turn: &str, rest: &[&str]) -> Option<Named> {
    let turn: u8 = turn.parse().ok()?;
    if !(1..=TURNS_MAX).contains(&turn) {
        return Some(Named::Unknown(format!("turns are counted from 1 to {TURNS_MAX}")));
    }
    let is_short = |word: &str| word.len() <= 2 && word.bytes().all(|byte| byte.is_ascii_alphanumeric());
    match rest {
        ["centre" | "center", ..] => Some(Named::Role(Role::Centre(turn))),
        [] => Some(Named::Role(Role::Buoy(turn))),
        ["buoy", _] => Some(Named::Role(Role::Buoy(turn))),
        [which] if is_short(which) => Some(Named::Role(Role::Buoy(turn))),
        _ => None,
    }
}

/// Small letters, and one space where the name has spaces, dashes, underscores, points or colons; `turn2` is `turn 2`.
fn words(name: &str) -> Vec<String> {
    let split = |letter: char| letter.is_whitespace() || "-_.:,;/()#".contains(letter);
    let mut all = Vec::new();
    for word in name.to_lowercase().split(split).filter(|word| !word.is_empty()) {
        match word.strip_prefix("turn").filter(|rest| rest.starts_with(|digit: char| digit.is_ascii_digit()))
        {
            Some(rest) => {
                let end = rest.find(|digit: char| !digit.is_ascii_digit()).unwrap_or(rest.len());
                all.push("turn".to_owned());
                all.extend(
                    [&rest[..end], &rest[end..]]
                        .iter()
                        .filter(|part| !part.is_empty())
                        .map(|part| (*part).to_owned()),
                );
            }
            None => all.push(word.to_owned()),
        }
    }
    all
}

/// What to write instead.
fn nearest(words: &[String]) -> String {
    let mut known = vec!["line left".to_owned(), "line right".to_owned(), "entrance".to_owned()];
    for turn in 1..=TURNS_MAX {
        known.extend([Role::Buoy(turn).to_string(), Role::Centre(turn).to_string()]);
    }
    let known: Vec<_> = known.iter().map(String::as_str).collect();
    let backwards: Vec<_> = words.iter().rev().map(String::as_str).collect();
    let near = did_you_mean(&words.join(" "), &known).or_else(|| did_you_mean(&backwards.join(" "), &known));
    const ALL: &str = "a mark is called `line left`, `line right`, `entrance`, `turn 1 centre`, or `turn 1 a` for a buoy on \
                       turn 1; a remark begins with `note`";
    near.map_or_else(
        || ALL.to_owned(),
        |near| format!("did you mean `{near}`? {}{}", &ALL[..1].to_uppercase(), &ALL[1..]),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_however_they_are_spelt() {
        for name in ["line left", "Line-Left", " LINE_LEFT ", "line: left"] {
            assert_eq!(named(name), Named::Role(Role::LineLeft), "{name}");
        }
        for name in ["turn 2", "Turn 2 b", "turn2", "turn2b", "turn 2 buoy 3", "turn-2-11", "turn 2.1"] {
            assert_eq!(named(name), Named::Role(Role::Buoy(2)), "{name}");
        }
        assert_eq!(named("turn 1 center"), Named::Role(Role::Centre(1)));
        assert_eq!(named("turn 1 centre, radius 190 m"), Named::Role(Role::Centre(1)));
        assert_eq!(named("Note: the slipway"), Named::Note);
    }

    #[test]
    fn a_misnamed_mark_is_told_the_nearest_role() {
        let near = |name: &str| match named(name) {
            Named::Unknown(right) => right,
            other => panic!("{name}: {other:?}"),
        };
        assert!(near("line rigth").starts_with("did you mean `line right`?"));
        assert!(near("left line").starts_with("did you mean `line left`?"));
        assert!(near("entrence").starts_with("did you mean `entrance`?"));
        assert!(near("trun 3").starts_with("did you mean `turn 3`?"));
        assert!(near("jetty").starts_with("a mark is called"));
        assert!(near("turn 9").contains("from 1 to 8"));
        assert!(near("turn 0").contains("from 1 to 8"));
    }

    #[test]
    fn every_role_is_read_back_from_its_own_words() {
        for role in [Role::LineLeft, Role::LineRight, Role::Entrance, Role::Centre(8), Role::Buoy(1)] {
            assert_eq!(named(&role.to_string()), Named::Role(role));
        }
    }
}
