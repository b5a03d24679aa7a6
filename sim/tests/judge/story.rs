//! A heat told input by input, and the journal that a dash makes of it.
//!
//! The board's clock is perfect and shows 310 s at zero; UTC at its start is 2031-05-17T18:59:50. The line lies on the
//! parallel of 45 degrees, boats cross it northwards. All of it is invented.

use firmware::course::CourseSettings;
use firmware::dash::Dash;
use firmware::gnss::{Fix, Position};
use firmware::input::{Input, Line};
use firmware::journal::{Reader, Sink, Why, Writer, signature};
use firmware::output::Outputs;
use firmware::resume::{Boot, Scratch, plan};
use firmware::settings::Settings;
use firmware::units::{CentiDegrees, Instant, Millimetres, MmPerSecond, NanoDegrees, Span, Utc};

/// The board's clock at the true zero.
pub const ZERO_S: f64 = 310.0;

/// 2031-05-17T18:59:50Z, when the board's clock starts.
pub const BOOT_UTC_US: i64 = 1_936_810_790_000_000;

/// One degree of latitude at 45 degrees: pi / 180 times the meridian radius of curvature of WGS 84 there, 6,367,381.8 m.
const DEGREE_M: f64 = 111_131.777;

/// Memory as a sink.
#[derive(Default)]
pub struct Memory(pub Vec<u8>);

impl Sink for Memory {
    fn frame(&mut self, frame: &[u8]) -> bool {
        self.0.extend_from_slice(frame);
        true
    }
}

/// The settings of all exercises but for what each changes: two laps of 2.5 miles, the thumb 0.25 s late with a spread
/// of 0.06 s and its mean known to 0.015 s, antenna 5 m behind the bow.
pub fn settings() -> Settings {
    let mut settings = Settings::bare();
    let place =
        |lon: i64| Position { lat: NanoDegrees::from_nano(45_000_000_000), lon: NanoDegrees::from_nano(lon) };
    settings.course = Some(CourseSettings {
        line_left: place(-30_000_000_000),
        line_right: place(-29_998_000_000),
        line_sd: Millimetres::from_mm(100),
        end_tolerance: Millimetres::from_mm(2_000),
        lap_length: Millimetres::from_mm(4_023_360),
    });
    settings.race.laps = 2;
    // A fix every five seconds is enough for these stories.
    settings.fix_lost_after = Span::from_secs(10);
    settings.crossing.antenna_to_bow = Millimetres::from_mm(5_000);
    settings.gun.reaction_mean = Span::from_millis(250);
    settings.gun.reaction_sd = Span::from_millis(60);
    settings
}

fn board(race_s: f64) -> Instant {
    Instant::from_micros(((race_s + ZERO_S) * 1e6).round() as u64)
}

/// UTC at a race time.
pub fn utc(race_s: f64) -> Utc {
    Utc::from_unix_micros(BOOT_UTC_US + ((race_s + ZERO_S) * 1e6).round() as i64)
}

/// Inputs in any order.
#[derive(Default)]
pub struct Story {
    inputs: Vec<(Instant, Input)>,
}

impl Story {
    /// Pulses every two seconds between two race times.
    pub fn pulses(mut self, from_s: i32, to_s: i32) -> Self {
        let seconds = (from_s..=to_s).step_by(2);
        self.inputs.extend(seconds.map(|s| (board(f64::from(s)), Input::Pps)));
        self
    }

    /// A press or closure at a race time, let go 0.2 s later.
    pub fn press(mut self, line: Line, race_s: f64) -> Self {
        self.inputs.push((board(race_s), Input::Edge { line, active: true }));
        self.inputs.push((board(race_s + 0.2), Input::Edge { line, active: false }));
        self
    }

    /// A schedule told at a race time: zero at another, in UTC.
    pub fn schedule(mut self, told_s: f64, zero_s: f64) -> Self {
        self.inputs.push((board(told_s), Input::Schedule { zero: utc(zero_s) }));
        self
    }

    /// A fix at a race time: the antenna so far past the line, on a northerly course, so far to the left of the line's
    /// middle. It arrives 60 ms later.
    pub fn fix(mut self, race_s: f64, (antenna_m, aside_m): (f64, f64), speed_m_s: f64) -> Self {
        let lat = 45_000_000_000 + (antenna_m / DEGREE_M * 1e9).round() as i64;
        // A degree of longitude is some 78.8 km here; nothing hangs on it.
        let lon = -29_999_000_000 - (aside_m / 78_847.0 * 1e9).round() as i64;
        let fix = Fix {
            utc: utc(race_s),
            position: Position { lat: NanoDegrees::from_nano(lat), lon: NanoDegrees::from_nano(lon) },
            speed: MmPerSecond::from_mm_s((speed_m_s * 1e3).round() as i32),
            course: CentiDegrees::from_centi(0),
            position_sd: None,
            speed_sd: None,
            hdop_centi: None,
            valid: true,
        };
        self.inputs.push((board(race_s + 0.06), Input::Fix(fix)));
        self
    }

    /// Six fixes, a tenth of a second apart, of a boat at 70 m/s: the third has the antenna 8 m before the line and the
    /// fourth 1 m before it, so the bow crosses 3/7 of the way from one to the other.
    pub fn crossing(mut self, third_s: f64) -> Self {
        for step in -2..=3 {
            let step = f64::from(step);
            self = self.fix(third_s + 0.1 * step, (-8.0 + 7.0 * step, 0.0), 70.0);
        }
        self
    }

    /// Fixes every five seconds, 500 m before the line, at 60 m/s, between two race times.
    pub fn milling(mut self, from_s: i32, to_s: i32) -> Self {
        for s in (from_s..=to_s).step_by(5) {
            self = self.fix(f64::from(s), (-500.0, 0.0), 60.0);
        }
        self
    }

    /// A way round from a crossing to the next, 60 s later: past the line, far to the left of it, and back before it.
    pub fn round(mut self, third_s: f64) -> Self {
        for s in (4..=56).step_by(4) {
            let place = match s {
                ..8 => (500.0, 0.0),
                8..28 => (500.0, 3_000.0),
                28..52 => (-500.0, 3_000.0),
                _ => (-500.0, 0.0),
            };
            self = self.fix(third_s + f64::from(s), place, 60.0);
        }
        self
    }

    /// The same without the fixes of the last eleven seconds, and of three seconds behind the line.
    pub fn round_and_lost(mut self, third_s: f64) -> Self {
        let before = self.inputs.len();
        self = self.round(third_s);
        let until = board(third_s + 49.0);
        let mut number = 0;
        self.inputs.retain(|(at, _)| {
            number += 1;
            number <= before || *at < until
        });
        self.fix(third_s + 63.0, (500.0, 0.0), 60.0)
    }

    /// A lap from a crossing to the next and that crossing.
    pub fn lap(self, third_s: f64) -> Self {
        self.round(third_s).crossing(third_s + 60.0)
    }

    /// What a dash records of it; `cut` starts the program anew at that race time, with the power on.
    pub fn told(mut self, settings: &Settings, cut_s: Option<f64>, key: Option<[u8; 32]>) -> Vec<u8> {
        self.inputs.sort_by_key(|(at, _)| *at);
        let mut recorder = Recorder::new(settings, key);
        let mut cut = cut_s.map(board);
        for (at, input) in self.inputs {
            if let Some(when) = cut.take_if(|when| *when <= at) {
                recorder.restart(settings, when);
            }
            recorder.feed(at, input);
        }
        recorder.close()
    }
}

/// A dash and its journal.
pub struct Recorder {
    dash: Dash,
    writer: Writer<Memory>,
    key: Option<[u8; 32]>,
}

impl Recorder {
    /// A dash that begins.
    pub fn new(settings: &Settings, key: Option<[u8; 32]>) -> Self {
        let mut writer = Writer::new(Memory::default());
        writer.will_close();
        if key.is_some() {
            writer.sign_seals();
        }
        writer.open(settings, None);
        Self { dash: Dash::new(settings), writer, key }
    }

    /// Wakes the dash when it wants to be woken, and feeds it.
    pub fn feed(&mut self, at: Instant, input: Input) {
        while let Some(wake) = self.dash.next_wake().filter(|wake| *wake < at) {
            self.take(wake, Input::Tick);
        }
        self.take(at, input);
    }

    fn take(&mut self, at: Instant, input: Input) {
        let mut outputs = Outputs::default();
        self.dash.feed_into(at, input, &mut outputs);
        self.writer.fed(at, &input, &outputs, self.dash.carried(at));
        self.sign();
    }

    fn sign(&mut self) {
        if let Some((key, seal)) = self.key.zip(self.writer.unsigned().copied()) {
            self.writer.sign(signature::public_key(&key), signature::sign(&key, &seal));
        }
    }

    /// The program starts anew with the power on, and takes no time for it.
    pub fn restart(&mut self, settings: &Settings, at: Instant) {
        let found = Reader::new(&self.writer.sink().0);
        let (carried, before) = (found.clone().newest_carried(), found.before());
        let zero = self.dash.carried(at).and_then(|carried| carried.zero());
        let words = Scratch { kicked: at, zero }.to_words();
        let boot = Boot::Soft { gap: Span::ZERO, sd: Span::from_millis(3) };
        let plan = plan(boot, Scratch::from_words(&words), carried);
        self.dash = Dash::new(settings);
        self.writer.open(settings, before);
        if let Some(resume) = plan.resume {
            self.take(plan.base, Input::Resume(resume));
        }
    }

    /// Closes the record.
    pub fn close(mut self) -> Vec<u8> {
        self.writer.seal(Why::Taken);
        self.sign();
        self.writer.into_sink().0
    }
}
