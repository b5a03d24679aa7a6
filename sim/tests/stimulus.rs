//! The exporter of pin events: what stands in a stimulus file is what the simulator's own dash was fed.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test that fails panics")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use firmware::engine::Engine;
use firmware::gnss::{Decoder, Fix, Heard};
use firmware::input::{Input, Line, Pulses};
use firmware::io::lookout::Lookout;
use firmware::io::pulses::Counter;
use firmware::journal::{Entry, Reader, Record};
use firmware::units::{Instant, Span};
use gunline::play::play_part;
use gunline::scenario::{self, Heat};
use gunline::sensors::{Part, Sensors};
use gunline::stimulus::{Happening, NoStimulus, Stimulus};
use gunline::world::SensorEvent;
use gunline::world::faults::FaultKind;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn heat(file: &str) -> Heat {
    scenario::load(&root().join(file)).unwrap_or_else(|report| panic!("{}", report.render(false)))
}

/// The heats that are played to the emulated board, and the shipped ones from a minute and a half before zero on.
fn heats() -> Vec<(Heat, Part)> {
    let board = ["wired", "presses", "faults"].map(|name| format!("tests/board/heats/{name}.toml"));
    let shipped = ["first", "jumped", "half-blind"].map(|name| format!("sim/heats/{name}.toml"));
    let late = Part { from: Some(Span::from_secs(-90)), until: Some(Span::from_secs(90)) };
    let whole = board.iter().map(|file| (heat(file), Part::WHOLE));
    whole.chain(shipped.iter().map(|file| (heat(file), late))).collect()
}

fn stimulus(heat: &Heat, part: Part) -> Stimulus {
    Stimulus::new(heat, part, &[]).unwrap()
}

/// Heats in which the board is never without power: all that happens reaches the simulator's dash too.
fn unbroken() -> impl Iterator<Item = (Heat, Part)> {
    heats().into_iter().filter(|(heat, _)| !heat.title.contains("bad day"))
}

/// The inputs that the simulator's own dash was fed, with their stamps, from its journal.
fn fed(heat: &Heat, part: Part) -> Vec<(Instant, Input)> {
    let (journal, mut at) = (play_part(heat, part).journal, Instant::BOOT);
    let mut inputs = Vec::new();
    for entry in Reader::new(&journal) {
        match entry {
            Entry::Record { record: Record::Input { after, input }, .. } => {
                at = at.plus(after);
                inputs.push((at, input));
            }
            Entry::Record { .. } => {}
            Entry::Broken { offset, .. } => panic!("the journal is broken at {offset}"),
        }
    }
    inputs
}

fn rises<'a>(stimulus: &'a Stimulus, wanted: &'a str) -> impl Iterator<Item = Instant> + 'a {
    stimulus.happenings().iter().filter_map(move |(at, happening)| match happening {
        Happening::Pin { name, active: true } if *name == wanted => Some(*at),
        _ => None,
    })
}

#[test]
fn a_file_begins_with_its_format_goes_on_in_order_of_time_and_ends_with_end() {
    for (heat, part) in heats() {
        let (stimulus, mut file) = (stimulus(&heat, part), Vec::new());
        stimulus.write(&mut file).unwrap();
        let text = String::from_utf8(file).unwrap();
        let mut lines = text.lines();
        assert_eq!(lines.next(), Some("gunline-stimulus 1"));
        let times: Vec<u64> = lines.map(|line| line.split_once(' ').unwrap().0.parse().unwrap()).collect();
        assert!(times.is_sorted(), "{}", heat.title);
        assert_eq!(times.len(), stimulus.happenings().len());
        assert!(text.ends_with(" end\n") && text.matches(" end\n").count() == 1);
    }
}

#[test]
fn each_happening_is_written_as_the_format_says() {
    let bytes = |list: &[u8]| gunline::world::Bytes::from_slice(list).unwrap();
    for (happening, words) in [
        (Happening::Pin { name: "gun_contact", active: true }, "pin gun_contact 1"),
        (Happening::Pin { name: "pps", active: false }, "pin pps 0"),
        (Happening::Uart(bytes(&[0x24, 0x0D, 0x0A])), "uart 240d0a"),
        (Happening::Probe { index: 1, frame: Some(0x0160_2300) }, "probe 1 01602300"),
        (Happening::Probe { index: 0, frame: None }, "probe 0 none"),
        (Happening::PowerOff(Span::from_millis(800)), "power off 800000"),
        (Happening::Watchdog, "reset watchdog"),
        (Happening::Look("-0:30.000".to_owned()), "look -0:30.000"),
        (Happening::End, "end"),
    ] {
        assert_eq!(happening.to_string(), words);
    }
}

/// The board's program and the harness know these names by the same table.
#[test]
fn every_pin_is_an_input_of_the_table_of_pins() {
    let table: toml::Table =
        fs::read_to_string(root().join("firmware/boards/pico/pins.toml")).unwrap().parse().unwrap();
    let inputs: Vec<&str> = table["pin"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|pin| pin["kind"].as_str() == Some("input"))
        .map(|pin| pin["name"].as_str().unwrap())
        .collect();
    for (heat, part) in heats() {
        for (_, happening) in stimulus(&heat, part).happenings() {
            if let Happening::Pin { name, .. } = happening {
                assert!(inputs.contains(name), "{name} is not in {inputs:?}");
            }
        }
    }
}

/// A level is only named when it changes, so rises and falls take turns.
#[test]
fn levels_of_each_pin_take_turns_beginning_with_active() {
    for (heat, part) in heats() {
        let mut levels: BTreeMap<&str, bool> = BTreeMap::new();
        for (at, happening) in stimulus(&heat, part).happenings() {
            if let Happening::Pin { name, active } = happening {
                assert_ne!(levels.insert(name, *active).unwrap_or(false), *active, "{name} at {at:?}");
            }
        }
    }
}

#[test]
fn presses_closures_and_pulses_stand_at_the_stamps_that_the_simulators_dash_was_fed() {
    for (heat, part) in unbroken() {
        let (stimulus, inputs) = (stimulus(&heat, part), fed(&heat, part));
        let downs = |wanted: Line| -> Vec<Instant> {
            let down = |(at, input): &(Instant, Input)| match input {
                Input::Edge { line, active: true } if *line == wanted => Some(*at),
                _ => None,
            };
            inputs.iter().filter_map(down).collect()
        };
        let pulses: Vec<Instant> =
            inputs.iter().filter(|(_, input)| *input == Input::Pps).map(|(at, _)| *at).collect();
        assert!(pulses.len() > 10);
        assert_eq!(rises(&stimulus, "pps").collect::<Vec<_>>(), pulses, "{}", heat.title);
        for (line, name) in [
            (Line::Button, "button"),
            (Line::GunContact, "gun_contact"),
            (Line::Acknowledge, "acknowledge"),
            (Line::Page, "page"),
        ] {
            assert_eq!(rises(&stimulus, name).collect::<Vec<_>>(), downs(line), "{} {name}", heat.title);
        }
    }
}

/// The file's bytes through the library's decoder again: the same fixes, and their stamps to the rounding of the
/// line.
#[test]
fn the_receivers_bytes_decode_to_the_fixes_that_the_simulators_dash_was_fed() {
    for (heat, part) in unbroken() {
        let mut decoder = Decoder::default();
        let mut fixes: Vec<(Instant, Fix)> = Vec::new();
        for (at, happening) in stimulus(&heat, part).happenings() {
            let Happening::Uart(bytes) = happening else { continue };
            let mut bytes = bytes.as_slice();
            while let Some(heard) = decoder.hear(&mut bytes) {
                let Heard::Fix(fix) = heard else { panic!("{}: {heard:?}", heat.title) };
                fixes.push((*at, fix));
            }
        }
        let inputs = fed(&heat, part).into_iter();
        let expected: Vec<_> = inputs
            .filter_map(|(at, input)| if let Input::Fix(fix) = input { Some((at, fix)) } else { None })
            .collect();
        assert!(expected.len() > 800, "{}", heat.title);
        assert_eq!(fixes.len(), expected.len(), "{}", heat.title);
        for ((at, fix), (stamp, fed)) in fixes.iter().zip(&expected) {
            assert_eq!(fix, fed);
            assert!(at.since(*stamp).abs() <= Span::from_micros(2), "{}: {at:?} {stamp:?}", heat.title);
        }
    }
}

/// Arithmetic: ten bits a byte at 115,200 baud.
#[test]
fn messages_do_not_overlap_on_the_line() {
    for (heat, part) in heats() {
        let mut free = 0.0;
        for (at, happening) in stimulus(&heat, part).happenings() {
            let Happening::Uart(bytes) = happening else { continue };
            let ends = at.as_micros() as f64;
            let begins = ends - bytes.len() as f64 * 10.0 / 115_200.0 * 1e6;
            assert!(begins >= free, "{}: {begins} before {free}", heat.title);
            free = ends;
        }
        assert!(free > 0.0);
    }
}

/// Reports of one shaft with their stamps on a board whose surroundings never stop.
fn reports(heat: &Heat, part: Part, shaft: usize) -> Vec<(Instant, Pulses)> {
    let mut around = heat.clone();
    let restarts = [FaultKind::PowerBlip, FaultKind::WatchdogReset];
    around.world.faults.retain(|fault| !restarts.contains(&fault.kind));
    let sensors = Sensors::new(&around, part);
    let crystal = sensors.crystal();
    let report = |(t, event)| match event {
        SensorEvent::ShaftPulses { n1, n2 } => Some((crystal.board_at(t), [n1, n2][shaft])),
        _ => None,
    };
    sensors.events().filter_map(report).collect()
}

/// The pulses of a file counted again by the board's own counter, at the moments of the simulator's reports: the same
/// reports, but for a pulse on either side of a report's moment, and for the microsecond to which a line is rounded.
#[test]
fn pulses_of_both_shafts_agree_with_the_reports_in_number_and_span() {
    for (heat, part) in heats() {
        let stimulus = stimulus(&heat, part);
        for (shaft, name) in ["n1", "n2"].into_iter().enumerate() {
            let reports = reports(&heat, part, shaft);
            let (mut counter, mut pulses) = (Counter::new(), rises(&stimulus, name).peekable());
            let (mut counted, mut spanned) = ([0_i64; 2], [Span::ZERO; 2]);
            let lost = heat.world.faults.iter().find(|fault| fault.kind == FaultKind::N2Lost);
            let crystal = Sensors::new(&heat, part).crystal();
            let until = lost.map_or(Instant::from_micros(u64::MAX), |fault| crystal.board_at(fault.at));
            for (n, (at, report)) in reports.iter().take_while(|(at, _)| *at < until).enumerate() {
                while let Some(pulse) = pulses.next_if(|pulse| pulse <= at) {
                    counter.edge(pulse);
                }
                let again = counter.report();
                // The first reports are of a train that was on its way when the board was switched on.
                if n > 20 {
                    for (of, pulses) in [*report, again].into_iter().enumerate() {
                        counted[of] += i64::from(pulses.count);
                        spanned[of] = spanned[of] + pulses.span;
                    }
                }
            }
            assert!((counted[0] - counted[1]).abs() <= 2, "{} {name}: {counted:?}", heat.title);
            let off = (spanned[0] - spanned[1]).abs();
            assert!(off < Span::from_millis(300), "{} {name}: {spanned:?}", heat.title);
        }
    }
}

/// As the simulator's own dash is told early of a propeller that is gone, so an emulated board must be able to see it.
#[test]
fn a_sudden_loss_stands_in_the_pulses_of_the_file() {
    let mut heat = heat("sim/heats/propeller-loss.toml");
    heat.scheduled = false;
    let part = Part { from: Some(Span::from_secs(-5)), until: Some(Span::from_secs(8)) };
    let mut lookout = Lookout::new(&Engine::watched(&heat.settings.engine));
    let (mut told, mut next) = (Vec::new(), Instant::BOOT);
    for pulse in rises(&stimulus(&heat, part), "n2") {
        told.extend(lookout.take(pulse).map(|_| pulse));
        lookout.edge(pulse);
        if pulse > next {
            lookout.renew();
            next = pulse.plus(Span::from_millis(50));
        }
    }
    let early = |(at, event)| matches!(event, SensorEvent::N2Turns { .. }).then_some(at);
    let crystal = Sensors::new(&heat, part).crystal();
    let own: Vec<Span> = Sensors::new(&heat, part).events().filter_map(early).collect();
    let (Some(first), Some(own)) = (told.first(), own.first()) else { panic!("{told:?} {own:?}") };
    assert!(first.since(crystal.board_at(*own)).abs() < Span::from_millis(20), "{first:?} {own:?}");
}

/// The world does not wait for the board: what happens while it is off is in the file too.
#[test]
fn restarts_stand_in_the_file_and_the_world_goes_on_meanwhile() {
    let heat = heat("tests/board/heats/faults.toml");
    let stimulus = stimulus(&heat, Part::WHOLE);
    let (at, off) = stimulus
        .happenings()
        .iter()
        .find_map(|(at, happening)| match happening {
            Happening::PowerOff(off) => Some((*at, *off)),
            _ => None,
        })
        .unwrap();
    assert!((off - Span::from_millis(800)).abs() < Span::from_micros(100));
    let meanwhile = |(when, happening): &&(Instant, Happening)| {
        *when > at && *when < at.plus(off) && matches!(happening, Happening::Uart(_))
    };
    assert!(stimulus.happenings().iter().filter(meanwhile).count() >= 14);
    assert_eq!(
        stimulus.happenings().iter().filter(|(_, happening)| *happening == Happening::Watchdog).count(),
        1
    );
}

#[test]
fn a_part_begins_at_power_on_and_ends_where_it_should() {
    let heat = heat("sim/heats/first.toml");
    let part = Part { from: Some(Span::from_secs(-20)), until: Some(Span::from_secs(5)) };
    let looks = [Span::from_secs(-10), Span::from_millis(2_500)];
    let stimulus = Stimulus::new(&heat, part, &looks).unwrap();
    let micros = |place: usize| stimulus.happenings()[place].0.as_micros() as f64;
    assert!(micros(0) < 100_000.0);
    // Good to the crystal's error: 100 ppm of 25 s are 2.5 ms.
    assert!((micros(stimulus.happenings().len() - 1) - 25e6).abs() < 2_500.0);
    let labels: Vec<_> = stimulus
        .happenings()
        .iter()
        .filter_map(|(at, happening)| match happening {
            Happening::Look(label) => Some((label.as_str(), (at.as_micros() + 5_000) / 10_000)),
            _ => None,
        })
        .collect();
    assert_eq!(labels, [("-0:10.000", 1_000), ("0:02.500", 2_250)]);
    assert_eq!(
        Stimulus::new(&heat, part, &[Span::from_secs(6)]),
        Err(NoStimulus::LookOutside("0:06.000".to_owned()))
    );
}

#[test]
fn a_heat_that_needs_more_than_pins_is_refused_with_the_reason() {
    let mut scheduled = heat("sim/heats/first.toml");
    scheduled.scheduled = true;
    assert_eq!(Stimulus::new(&scheduled, Part::WHOLE, &[]), Err(NoStimulus::Scheduled));
    let mut slow = heat("sim/heats/first.toml");
    slow.world.receiver.baud = 9_600;
    assert_eq!(Stimulus::new(&slow, Part::WHOLE, &[]), Err(NoStimulus::Baud(9_600)));
}

/// 20 sentences of 80 bytes for each tenth of a second are 16,000 bytes a second; the line carries 11,520.
#[test]
fn a_recording_that_the_line_cannot_carry_is_refused() {
    let sentence = |tenth: u32| {
        let body = format!(
            "GNRMC,1905{:02}.{}0,A,4500.0000000,N,02959.9400000,W,155.508,0.00,170531,,,A",
            tenth / 10,
            tenth % 10
        );
        format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte))
    };
    let track: String = (0..20).map(|tenth| sentence(tenth).repeat(20)).collect();
    let settings = fs::read(root().join("sim/heats/reach.toml")).unwrap();
    let text = "title = \"Invented\"\nsettings = \"reach.toml\"\n[start]\nzero_utc = 2031-05-17T19:05:00.000Z\n\
                [boat]\nrecording = \"track.nmea\"\n";
    let files = |path: &Path| {
        Ok(match path.file_name().and_then(|name| name.to_str()) {
            Some("heat.toml") => text.as_bytes().to_vec(),
            Some("track.nmea") => track.as_bytes().to_vec(),
            _ => settings.clone(),
        })
    };
    let heat = scenario::load_from(Path::new("heat.toml"), &files).unwrap();
    let refused = Stimulus::new(&heat, Part::WHOLE, &[]).unwrap_err();
    assert!(matches!(refused, NoStimulus::Overrun { early_us, .. } if early_us > 1_000), "{refused}");
}

#[test]
fn the_command_writes_the_file_and_says_what_is_wrong_with_the_words() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("stimulus");
    fs::create_dir_all(&folder).unwrap();
    let file = folder.join("first.stimulus");
    let gunline = |words: &[&str]| {
        let mut command = Command::cargo_bin("gunline").unwrap();
        command
            .current_dir(root())
            .args(["run", "sim/heats/first.toml", "--json"])
            .args(words)
            .output()
            .unwrap()
    };
    let path = file.to_str().unwrap();
    let run = gunline(&["--from", "-0:10.000", "--until", "0:02.000", "--stimulus", path]);
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    assert_eq!(fs::read_to_string(&file).unwrap().matches(" look ").count(), 10);
    for (words, says) in [
        (&["--from", "0:02.000", "--until", "0:01.000"][..], "--until must come after --from"),
        (&["--look", "0:01.000"], "give --stimulus FILE too"),
        (&["--from", "2.5"], "[-]M:SS.mmm"),
        (
            &["--until", "0:02.000", "--look", "0:03.000", "--stimulus", path],
            "0:03.000 race time lies outside",
        ),
    ] {
        let run = gunline(words);
        let said = String::from_utf8_lossy(&run.stderr).into_owned();
        assert!(run.status.code() == Some(2) && said.contains(says), "{words:?}: {said}");
    }
}
