//! The report's files are whole, stand alone, and come out the same every time.

use super::*;
use crate::invented;

fn report(log: &Log) -> Vec<(&'static str, String)> {
    files(log, Scale::TrueZero).unwrap()
}

fn file(files: &[(&'static str, String)], name: &str) -> String {
    files.iter().find(|(of, _)| *of == name).unwrap().1.clone()
}

#[test]
fn the_same_log_gives_the_same_bytes() {
    assert_eq!(report(&invented::oval()), report(&invented::oval()));
}

#[test]
fn every_file_named_is_written() {
    let dir = std::env::temp_dir().join(format!("gunline-report-{}", std::process::id()));
    let written = write(&invented::oval(), &dir).unwrap();
    assert_eq!(written.len(), 8);
    assert!(written.iter().all(|path| fs::metadata(path).unwrap().len() > 90));
    fs::remove_dir_all(dir).unwrap();
}

/// HTML Living Standard, "Fetching": what these attributes and rules name is fetched. An SVG's `xmlns` is not.
#[test]
fn the_page_fetches_nothing() {
    let page = file(&report(&invented::oval()), "report.html").replace("http://www.w3.org/2000/svg", "");
    for word in ["src=", "href=", "url(", "@import", "<link", "<script", "<iframe", "http:", "https:"] {
        assert!(!page.contains(word), "{word}");
    }
}

/// Extensible Markup Language (XML) 1.0, section 2.1: every element that begins ends, in order.
#[test]
fn the_pictures_are_well_formed() {
    for (name, svg) in report(&invented::oval()).iter().filter(|(name, _)| name.ends_with(".svg")) {
        let mut open = Vec::new();
        for tag in svg.split('<').skip(1) {
            let (tag, text) = tag.split_once('>').unwrap();
            assert!(!text.contains('>') && tag.matches('"').count() % 2 == 0, "{name}: {tag}");
            match tag.strip_prefix('/') {
                Some(ends) => assert_eq!(open.pop(), Some(ends), "{name}"),
                None if tag.ends_with('/') => {}
                None => open.push(tag.split_whitespace().next().unwrap()),
            }
        }
        assert!(open.is_empty(), "{name}: {open:?}");
    }
}

#[test]
fn limits_that_ship_are_called_demonstration_wherever_they_stand() {
    let files = report(&invented::oval());
    assert!(file(&files, "engine.svg").contains("demonstration limits"));
    assert!(file(&files, "report.html").contains(crate::words::DEMONSTRATION));
}

#[test]
fn without_engine_data_the_picture_says_so() {
    let mut log = invented::oval();
    for sample in &mut log.samples {
        sample.engine = None;
        let none = firmware::output::Reading::Absent;
        sample.view.gauges = firmware::output::Gauges {
            egt: none,
            n1: firmware::output::Reading::Absent,
            n2: firmware::output::Reading::Absent,
        };
    }
    assert!(file(&report(&log), "engine.svg").contains("no engine data"));
}

#[test]
fn a_heat_with_nothing_in_it_still_makes_a_report() {
    let mut log = invented::oval();
    (log.samples, log.decisions, log.edges, log.true_crossings) = Default::default();
    log.settings.course = None;
    let files = report(&log);
    assert!(file(&files, "track.svg").contains("no positions"));
    assert!(file(&files, "run-in.svg").contains("no start was called"));
}

/// Every row has as many cells as the header (RFC 4180, section 2, item 4); cells in quotes hold no commas here.
#[test]
fn every_row_of_a_table_has_a_cell_under_each_header() {
    let files = report(&invented::oval());
    for name in ["table.csv", "track.csv"] {
        let text = file(&files, name);
        let cells =
            |line: &str| line.split('"').step_by(2).map(|part| part.matches(',').count()).sum::<usize>();
        let columns = cells(text.lines().next().unwrap());
        assert!(text.lines().all(|line| cells(line) == columns), "{name}");
    }
}
