//! The flashed program at a USB cable: a script of frames goes in, and its answers are those of docs/protocol.md.
//!
//! The emulated computer enumerates the board, says its lines at their times and writes down what comes back. Frames
//! are the library's; what is asserted is what the program made of them.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

use firmware::journal::ring::PAYLOAD;
use firmware::settings::Settings;
use firmware::shelf::Shelf;
use firmware::talk::{
    self, Answer, Ended, FRAME_MAX, Head, PROTOCOL, Refusal, Request, Scheduled, SettingsFrom, Unstuffing,
};
use firmware::units::Utc;
use serde::Deserialize;

use crate::bench::{self, Stats};
use crate::image::Image;
use crate::played;

/// The driver sets the clock half-way through, and does not clear it.
const STIMULUS: &str = "gunline-stimulus 1\n4000000 pin button 1\n4150000 pin button 0\n6000000 end\n";

/// The first session that a board with a blank chip opens.
const SESSION: u32 = 1;

/// Bytes that came from the board.
#[derive(Deserialize)]
struct Heard {
    t_us: f64,
    hex: String,
}

/// A frame that came: when its last byte did, and what is in it.
type Came = (f64, Vec<u8>);

fn frame(number: u32, request: &Request<'_>) -> String {
    let head = match request {
        Request::Hello => Head { session: 0, number },
        _ => Head { session: SESSION, number },
    };
    let mut buffer = [0; FRAME_MAX];
    let len = talk::write(head, request, &mut buffer).unwrap();
    buffer[..len].iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Says these frames at their times, in milliseconds, and gives what came back and the chip's memory afterwards.
fn converse(folder: &Path, lines: &[(u32, String)]) -> (Vec<Came>, Image) {
    fs::create_dir_all(folder).unwrap();
    let script: String = lines.iter().map(|(ms, hex)| format!("{ms}000 send {hex}\n")).collect();
    let (usb, stimulus) = (folder.join("usb.txt"), folder.join("stimulus"));
    fs::write(&usb, script).unwrap();
    fs::write(&stimulus, STIMULUS).unwrap();
    let elf =
        env::var_os("GUNLINE_ELF").expect("GUNLINE_ELF names the board's program; `tests/all board` sets it");
    let words: [(&str, PathBuf); 4] =
        [("--elf", elf.into()), ("--stimulus", stimulus), ("--usb", usb), ("--out", folder.to_owned())];
    let mut command = Command::new("node");
    command.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("board/harness/play.mjs"));
    words.iter().for_each(|(word, path)| _ = command.arg(word).arg(path));
    let done = command.output().expect("node, which plays the harness");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let heard: Vec<Heard> =
        serde_json::from_str(&fs::read_to_string(folder.join("usb.json")).unwrap()).unwrap();
    (frames(&heard), Image(fs::read(folder.join("nor.bin")).unwrap()))
}

fn frames(heard: &[Heard]) -> Vec<Came> {
    let mut unstuffing = Unstuffing::new();
    let mut frames = Vec::new();
    for Heard { t_us, hex } in heard {
        for at in (0..hex.len()).step_by(2) {
            let byte = u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
            if unstuffing.push(byte) == Some(Ended::Whole) {
                frames.push((*t_us, unstuffing.content().unwrap().to_vec()));
                unstuffing.clear();
            }
        }
    }
    frames
}

#[test]
fn over_usb_the_program_keeps_settings_gives_its_journal_and_refuses_settings_while_its_clock_runs() {
    // With a lane and a cut: the board lays both out to judge them, and again to go by them.
    let settings = played::heat("number").settings;
    assert!(settings.run_in.is_some());
    let mut buffer = [0; Settings::ENCODED_MAX];
    let bytes = settings.encode(&mut buffer);
    let keep = Request::KeepSettings(bytes);
    let page = |page: usize| Request::ReadJournal { from: (page * PAYLOAD) as u64, most: 1_024 };
    let schedule = Request::Schedule { zero: Utc::from_unix_micros(1_936_811_100_000_000) };
    let lines = [
        (1_000, frame(1 << 31, &Request::Hello)),
        (1_200, frame(1, &keep)),
        (2_200, frame(1, &keep)),
        (2_400, frame(2, &Request::ReadSettings)),
        (2_600, frame(3, &page(1))),
        (2_800, frame(4, &page(2))),
        (3_000, frame(5, &page(3))),
        (4_800, frame(6, &keep)),
        (5_000, frame(7, &schedule)),
    ];
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("board/usb");
    let (came, mut image) = converse(&folder, &lines);
    assert_eq!(came.len(), lines.len(), "an answer to each");
    let stats: Stats = bench::json(&folder.join("stats.json"));
    let budget = |name: &str| crate::budgets()[name].as_integer().unwrap() as u64;
    println!("usb: stack {}, deep {}", stats.stack_high_water_bytes, stats.deep_stack_high_water_bytes);
    assert!(stats.stack_high_water_bytes <= budget("stack_bytes"), "{stats:?}");
    assert!(stats.deep_stack_high_water_bytes <= budget("deep_stack_bytes"), "{stats:?}");
    let answers: Vec<_> =
        came.iter().map(|(_, content)| talk::read::<Answer<'_>>(content).unwrap()).collect();

    let (head, Answer::Hello(standing)) = answers[0] else { panic!("{answers:?}") };
    assert_eq!(head, Head { session: SESSION, number: 1 << 31 });
    assert_eq!((standing.protocol, standing.clock_runs), (PROTOCOL, false));
    assert_eq!(standing.settings, SettingsFrom::Defaults);
    // W25Q128: maker 0xEF, kind 0x40, 2^0x18 bytes (W25Q128JV data sheet, from memory).
    assert_eq!(standing.self_test.chip, Some(0x00EF_4018));

    assert_eq!(answers[1].1, Answer::SettingsKept);
    assert_eq!(came[2].1, came[1].1, "the same request, the same answer");
    assert_eq!(answers[3].1, Answer::Settings { from: SettingsFrom::Chip, bytes });
    let mut stored = [0; firmware::shelf::BYTES_MAX];
    let (_, len) = Shelf::load(&mut image, &mut stored).unwrap();
    assert_eq!(len.map(|len| &stored[..len]), Some(bytes));

    let pieces = answers[4..7].iter().map(|(_, answer)| match answer {
        Answer::Journal { bytes, .. } => *bytes,
        other => panic!("{other:?}"),
    });
    let read: Vec<u8> = pieces.flatten().copied().collect();
    assert!(read.len() > PAYLOAD, "{} bytes", read.len());
    assert!(image.journal().starts_with(&read), "what was given is what stands on the chip");

    assert_eq!(answers[7].1, Answer::Refused(Refusal::ClockRuns));
    assert_eq!(answers[8].1, Answer::Scheduled(Scheduled::WaitsForUtc));
    for ((asked_ms, _), (came_us, _)) in lines.iter().zip(&came) {
        let took_ms = came_us / 1e3 - f64::from(*asked_ms);
        assert!(
            (0.0..1_000.0).contains(&took_ms),
            "the request of {asked_ms} ms was answered after {took_ms} ms"
        );
        println!("usb: the request of {asked_ms} ms was answered after {took_ms:.2} ms");
    }
}
