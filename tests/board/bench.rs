//! One run of the board's program on the emulated chip: a stimulus goes in, what was seen comes out.
//!
//! The harness is a command of its own (`tests/board/harness/play.mjs`); this file calls it and reads its files. The
//! program's ELF is named by `GUNLINE_ELF`; `tests/all board` builds it and sets that.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

use firmware::settings::Settings;
use gunline::stimulus::Stimulus;
use serde::Deserialize;

use crate::image::Image;

/// What was seen at a look.
#[derive(Clone, Debug, Deserialize)]
pub struct Look {
    /// When, race time as the stimulus labels it.
    pub label: String,
    /// When, emulated time since the first power-on.
    pub t_us: f64,
    /// What the program says of the picture in the display's memory.
    pub drawn: Option<Drawn>,
    /// The display's memory: 1024 bytes in page order, in hexadecimal digits.
    pub ram: String,
}

impl Look {
    /// The display's memory.
    pub fn bytes(&self) -> Vec<u8> {
        (0..self.ram.len() / 2)
            .map(|k| u8::from_str_radix(&self.ram[2 * k..2 * k + 2], 16).unwrap())
            .collect()
    }
}

/// The picture in the display's memory, in the program's own words.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct Drawn {
    /// The board's time for which it was drawn.
    pub at_us: u64,
    /// How many inputs the dash had been fed by then, since the program started.
    pub inputs: u32,
    /// 1 when the display's memory holds the whole of it.
    pub settled: u32,
}

/// A start of the program.
#[derive(Clone, Debug, Deserialize)]
pub struct Start {
    /// `power` or `watchdog`.
    pub cause: String,
    /// When the reset ended, emulated time.
    pub t_us: f64,
    /// False when nobody asked for it.
    pub asked: bool,
    /// When the first whole picture stood on the display.
    pub first_picture_us: Option<f64>,
    /// What that picture was.
    pub first_drawn: Option<Drawn>,
}

/// What the run cost.
#[derive(Clone, Debug, Deserialize)]
pub struct Stats {
    /// How much of the time the processor did not sleep.
    pub awake_share: f64,
    /// `gunline_feed`.
    pub feed: Feed,
    /// The deepest the stack was seen to grow.
    pub stack_high_water_bytes: u64,
    /// The same of the stack on which dashes are made and settings judged.
    pub deep_stack_high_water_bytes: u64,
    /// Events that found no room in the program's queues.
    pub overflows: u64,
    /// Every start of the program; the first is power-on.
    pub resets: Vec<Start>,
    /// What a part would not have stood for.
    pub violations: Vec<serde_json::Value>,
    /// Seconds emulated, and seconds that it took.
    pub emulated_s: f64,
    /// See there.
    pub wall_s: f64,
}

/// What decisions cost.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct Feed {
    /// How many inputs.
    pub count: u64,
    /// Cycles on average.
    pub mean_cycles: u64,
    /// Cycles of the slowest.
    pub max_cycles: u64,
    /// When that was over, on the board's clock, microseconds.
    pub max_at_us: f64,
    /// Cycles of the second slowest.
    pub next_cycles: u64,
}

/// A change at a pin.
#[derive(Clone, Debug)]
pub struct Edge {
    /// When, emulated time.
    pub t_us: f64,
    /// Which pin.
    pub name: String,
    /// 1 and 0 for inputs; thousandths of full light for lamps; hertz for the beeper.
    pub level: u32,
}

/// A run.
#[derive(Debug)]
pub struct Run {
    /// The looks, in order of time.
    pub looks: Vec<Look>,
    /// Changes at pins, in order of time.
    pub edges: Vec<Edge>,
    /// What it cost.
    pub stats: Stats,
    /// The journal on the chip afterwards.
    pub journal: Vec<u8>,
}

/// Plays a stimulus to a board with these settings on its chip.
pub fn play(name: &str, stimulus: &Stimulus, settings: &Settings) -> Run {
    play_counting(name, stimulus, settings, "gunline_feed")
}

/// The same, with a computer at the USB socket that says these lines.
pub fn play_beside_a_host(name: &str, stimulus: &Stimulus, settings: &Settings, script: &str) -> Run {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("board").join(name);
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("usb.txt"), script).unwrap();
    play_counting(name, stimulus, settings, "gunline_feed")
}

/// The same, where [`Stats::feed`] is of the function with that in its name. A host's script stands in the folder or not.
pub fn play_counting(name: &str, stimulus: &Stimulus, settings: &Settings, function: &str) -> Run {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("board").join(name);
    fs::create_dir_all(&folder).unwrap();
    let (file, nor) = (folder.join("stimulus"), folder.join("before.bin"));
    let mut text = Vec::new();
    stimulus.write(&mut text).unwrap();
    fs::write(&file, text).unwrap();
    fs::write(&nor, Image::with(settings).0).unwrap();
    harness(name, &file, &nor, &folder, function);
    Run {
        looks: json(&folder.join("looks.json")),
        edges: edges(&folder.join("pins.csv")),
        stats: json(&folder.join("stats.json")),
        journal: Image(fs::read(folder.join("nor.bin")).unwrap()).journal(),
    }
}

fn harness(name: &str, stimulus: &Path, nor: &Path, out: &Path, function: &str) {
    let elf =
        env::var_os("GUNLINE_ELF").expect("GUNLINE_ELF names the board's program; `tests/all board` sets it");
    let play = Path::new(env!("CARGO_MANIFEST_DIR")).join("board/harness/play.mjs");
    let arguments: [(&str, PathBuf); 5] = [
        ("--elf", elf.into()),
        ("--stimulus", stimulus.into()),
        ("--nor", nor.into()),
        ("--out", out.into()),
        ("--count", function.into()),
    ];
    let mut command = Command::new("node");
    command.arg(play);
    for (word, path) in arguments {
        command.arg(word).arg(path);
    }
    let script = out.join("usb.txt");
    if script.exists() {
        command.arg("--usb").arg(script);
    }
    let done = command.output().expect("node, which plays the harness");
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{name}: the harness left with {}: {said}", done.status);
}

/// Reads one of the harness' files.
pub fn json<T: serde::de::DeserializeOwned>(path: &Path) -> T {
    let text = fs::read_to_string(path).unwrap();
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn edges(path: &Path) -> Vec<Edge> {
    let text = fs::read_to_string(path).unwrap();
    let row = |line: &str| {
        let mut fields = line.split(',');
        let mut field = || fields.next().unwrap();
        Edge {
            t_us: field().parse().unwrap(),
            name: field().to_owned(),
            level: field().parse::<f64>().unwrap() as u32,
        }
    };
    text.lines().skip(1).map(row).collect()
}
