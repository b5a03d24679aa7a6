//! The core is a pure function: nothing in its sources could make it otherwise.

use std::fs;
use std::path::{Path, PathBuf};

/// The core's own code: its sources without what only its tests compile.
fn core_sources() -> Vec<(PathBuf, String)> {
    let mut files = Vec::new();
    collect(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../firmware/src")), &mut files);
    assert!(files.len() > 20, "the sources were not found");
    files
}

fn collect(dir: &Path, files: &mut Vec<(PathBuf, String)>) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            // A room whose tests are too long for one file has a folder of this name.
            if name != "tests" {
                collect(&path, files);
            }
        } else if name.ends_with(".rs") && name != "tests.rs" && name != "properties.rs" {
            let text = fs::read_to_string(&path).unwrap();
            let own = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default().to_owned();
            files.push((path, own));
        }
    }
}

/// Lines of code that hold one of `words` as a whole word.
fn lines_with(words: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for (path, text) in core_sources() {
        for (number, line) in text.lines().enumerate() {
            let code = line.split("//").next().unwrap_or_default();
            let has = |word: &str| {
                code.split(|c: char| !c.is_alphanumeric() && c != '_' && c != ':').any(|w| w == word)
            };
            if words.iter().any(|word| has(word)) {
                found.push(format!("{}:{}: {}", path.display(), number + 1, line.trim()));
            }
        }
    }
    found
}

#[test]
fn no_float_stands_in_the_core() {
    assert_eq!(lines_with(&["f32", "f64"]), Vec::<String>::new());
}

#[test]
fn the_core_names_no_clock_no_file_and_no_hash_map() {
    let words = ["std::time", "SystemTime", "std::fs", "HashMap", "HashSet", "Ordering::Relaxed", "thread"];
    assert_eq!(lines_with(&words), Vec::<String>::new());
}
