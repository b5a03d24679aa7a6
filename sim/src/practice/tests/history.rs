//! The history outlives the program, whatever becomes of it.

use firmware::units::Span;

use crate::practice::plan::{Length, Plan, REACH};
use crate::practice::review::Start;
use crate::practice::session::Session;
use crate::practice::store::{Store, csv};

fn start(seed: u64) -> Start {
    let plan = Plan { length: Length::HalfMinute, steered: true, seed, ..Plan::default() };
    let mut session = Session::new(plan, REACH).unwrap();
    session.hands(550, 0);
    session.advance(Span::from_secs(40));
    Start::of(session.finish()).unwrap()
}

struct Folder(std::path::PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("gunline-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[test]
fn a_start_that_was_kept_is_there_after_a_program_that_never_closed_its_file() {
    let folder = Folder::new("killed");
    let path = folder.0.join("practice.sqlite");
    let kept = start(1);
    let store = Store::open(&path).unwrap();
    let id = store.keep(&kept, 1_000).unwrap();
    std::mem::forget(store);
    let again = Store::open(&path).unwrap();
    assert_eq!(again.rows().unwrap().len(), 1);
    assert_eq!(again.review(id).unwrap().unwrap(), kept.review);
    assert_eq!(again.files(id).unwrap().unwrap(), kept.files);
    assert_eq!(again.journal(id).unwrap().unwrap(), kept.journal);
    assert_eq!(again.review(id + 1).unwrap(), None);
}

#[test]
fn two_programs_keep_their_starts_in_one_file() {
    let folder = Folder::new("two");
    let path = folder.0.join("practice.sqlite");
    let (one, other) = (Store::open(&path).unwrap(), Store::open(&path).unwrap());
    let kept = start(2);
    let ids = [one.keep(&kept, 1).unwrap(), other.keep(&kept, 2).unwrap(), one.keep(&kept, 3).unwrap()];
    assert_eq!(ids, [1, 2, 3]);
    assert_eq!(one.rows().unwrap(), other.rows().unwrap());
}

#[test]
fn a_file_of_another_form_is_left_alone() {
    let folder = Folder::new("form");
    let path = folder.0.join("practice.sqlite");
    let later = rusqlite::Connection::open(&path).unwrap();
    later.pragma_update(None, "user_version", 99).unwrap();
    assert!(Store::open(&path).unwrap_err().to_string().contains("form 99"));
}

/// RFC 4180, section 2: a header, one record a line with CRLF, the same number of fields in each.
#[test]
fn the_table_for_other_programs_has_as_many_fields_in_every_record() {
    let store = Store::in_memory().unwrap();
    store.keep(&start(3), 5).unwrap();
    let text = csv(&store.rows().unwrap());
    let fields: Vec<usize> =
        text.split("\r\n").filter(|line| !line.is_empty()).map(|line| line.split(',').count()).collect();
    assert_eq!(fields, [11, 11]);
    assert!(text.ends_with("\r\n"));
}
