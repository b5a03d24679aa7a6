//! `gunline calibrate` with a board at its cable.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use firmware::input::ProbeReading;
use firmware::units::{PartsPerBillion, Span};

use crate::cable::Cable;
use crate::fake::Fake;
use crate::{folder, gunline, said, shipped, text};

/// A fake at a cable, changed before it is plugged in.
fn plugged(folder: &Path, change: impl FnOnce(&mut Fake)) -> Cable {
    let mut fake = Fake::new();
    change(&mut fake);
    Cable::plug(folder, fake, None)
}

/// Status, standard output and standard error of a calibration of a fresh settings file in `folder`.
fn calibrate(folder: &Path, cable: &Cable, words: &[&str]) -> (Option<i32>, String, String) {
    let file = folder.join("boat.toml");
    fs::copy(shipped().0, &file).unwrap();
    let (what, rest) = words.split_first().unwrap();
    let common = ["--port", cable.port(), "--date", "2031-05-17", "--json"];
    let output = gunline(&[&["calibrate", what, text(&file)], rest, &common].concat());
    (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned(), said(&output))
}

/// The definition of the hertz: a hundred pulses in each second of the board's clock, which runs twenty times as fast here.
#[test]
fn a_frequency_is_counted_at_the_board_and_a_wrong_count_is_told() {
    let folder = folder("calibrate-tach");
    let with = |n1_hz| plugged(&folder, |fake| (fake.n1_hz, fake.speed) = (n1_hz, 20));
    let words = ["tach", "n1", "--hz", "100", "--every-ms", "5"];
    let (status, out, err) = calibrate(&folder, &with(100), &words);
    assert_eq!(status, Some(0), "{err}");
    assert!(out.contains("100.00 pulses a second"), "{out}");
    assert!(out.contains(r#""written":false"#), "{out}");
    assert_eq!(calibrate(&folder, &with(200), &words).0, Some(1));
    let (status, _, err) = calibrate(&folder, &with(0), &words);
    assert_eq!((status, err.contains("no pulses were counted")), (Some(1), true), "{err}");
}

/// By hand: twenty presses of 0.20 s and twenty of 0.24 s have the mean 0.22.
#[test]
fn forty_presses_at_the_board_make_a_thumb_and_the_board_is_off_the_bench_again() {
    let folder = folder("calibrate-thumb");
    let presses = vec![Span::from_millis(200), Span::from_millis(240)];
    let cable = plugged(&folder, |fake| fake.presses = presses);
    let (status, out, err) = calibrate(&folder, &cable, &["thumb", "--between-ms", "1", "--yes"]);
    assert_eq!(status, Some(0), "{err}");
    assert!(out.contains(r#""written":true"#), "{out}");
    let written = fs::read_to_string(folder.join("boat.toml")).unwrap();
    assert!(written.contains("reaction_mean_s = 0.220"), "{written}");
    let fake = cable.pull();
    assert_eq!((fake.cues, fake.bench.is_on()), (40, false));
}

#[test]
fn a_thumb_that_fails_leaves_the_bench_and_the_file_as_it_was() {
    let folder = folder("calibrate-fails");
    let presses = vec![Span::from_millis(200)];
    let cable = plugged(&folder, |fake| (fake.presses, fake.refuses_cue) = (presses, Some(3)));
    let (status, out, err) = calibrate(&folder, &cable, &["thumb", "--between-ms", "1", "--yes"]);
    assert!(status.is_some_and(|status| status > 0) && out.is_empty() && !err.is_empty(), "{status:?} {err}");
    assert_eq!(fs::read(folder.join("boat.toml")).unwrap(), fs::read(shipped().0).unwrap());
    let fake = cable.pull();
    assert_eq!((fake.cues, fake.bench.is_on()), (3, false));
}

#[test]
fn the_board_s_own_figure_of_its_crystal_is_taken_once_it_has_one() {
    let folder = folder("calibrate-crystal");
    let ppb = PartsPerBillion::from_ppb;
    let known = plugged(&folder, |fake| fake.crystal = Some((ppb(26_800), ppb(20))));
    let (status, out, err) = calibrate(&folder, &known, &["crystal"]);
    drop(known.pull());
    assert_eq!((status, out.contains(r#""after":"26.800""#)), (Some(0), true), "{out}{err}");
    let (status, _, err) = calibrate(&folder, &Cable::plug(&folder, Fake::new(), None), &["crystal"]);
    assert_eq!((status, err.contains("no pulses have measured")), (Some(1), true), "{err}");
}

/// MAX31855 data sheet, from memory: bits 31 to 18 are quarters of a degree, here 0, bits 15 to 4 sixteenths of the cold
/// junction's, here one. 0 degrees in both places is ice twice.
#[test]
fn a_probe_is_read_after_enter_and_ice_twice_is_no_boiling_water() {
    let folder = folder("calibrate-probe");
    let ice = Some(ProbeReading::Max31855(0x10));
    let cable = plugged(&folder, |fake| (fake.probe, fake.speed) = (ice, 20));
    let file = folder.join("boat.toml");
    fs::copy(shipped().0, &file).unwrap();
    let enter = folder.join("enter");
    fs::write(&enter, "\n\n").unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_gunline"))
        .args(["calibrate", "thermocouple", text(&file), "--hpa", "1013.25", "--port", cable.port()])
        .args(["--every-ms", "5"])
        .stdin(Stdio::from(fs::File::open(&enter).unwrap()))
        .output()
        .unwrap();
    let said = said(&output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("probe 1 into melting ice") && said.contains("is not boiling water"), "{said}");
}
