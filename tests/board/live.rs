//! The emulated board used as a board is: its USB line at a TCP port, a host's program at the other end.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use std::{env, fs};

use firmware::dash::Dash;
use firmware::input::Line;
use firmware::screen;
use firmware::settings::Settings;
use firmware::talk::{Answer, Cued, Refusal, Request};
use firmware::units::{Instant, Span};
use gunline::bench::command::play;
use gunline::bench::script::Script;
use gunline::bench::verdict::Verdict;
use gunline::board::conversation::{Patience, Reach};
use gunline::board::port::Place;
use gunline::practice::board::BoardAt;
use gunline::practice::plan::{Plan, REACH};
use gunline::practice::session::Session;
use gunline::sensors::Part;

use crate::bench::{self, Stats};
use crate::played;

/// An emulated board that runs until it is dropped or ended.
struct Live {
    node: Child,
    reach: Reach,
    out: PathBuf,
}

impl Live {
    fn begin(name: &str) -> Self {
        Self::begin_with(name, "")
    }

    /// With these lines of a stimulus.
    fn begin_with(name: &str, stimulus: &str) -> Self {
        let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("board").join(name);
        let elf = env::var_os("GUNLINE_ELF")
            .expect("GUNLINE_ELF names the board's program; `tests/all board` sets it");
        fs::create_dir_all(&out).unwrap();
        let file = out.join("stimulus");
        fs::write(&file, format!("gunline-stimulus 1\n{stimulus}3600000000 end\n")).unwrap();
        let mut node = Command::new("node")
            .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("board/harness/live.mjs"))
            .args(["--elf".as_ref(), elf.as_os_str(), "--out".as_ref(), out.as_os_str()])
            .args(["--stimulus".as_ref(), file.as_os_str()])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("node, which plays the harness");
        let mut line = String::new();
        BufReader::new(node.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let said: serde_json::Value = serde_json::from_str(&line).unwrap();
        let place = Place::Named(format!("tcp:127.0.0.1:{}", said["port"]));
        // An emulated board on a busy machine may take its time.
        let patience = Patience { answer: Duration::from_secs(10), board: Duration::ZERO };
        Self { node, reach: Reach { place, patience }, out }
    }

    /// Ends it, and gives what it cost.
    fn end(mut self) -> Stats {
        drop(self.node.stdin.take());
        assert!(self.node.wait().unwrap().success(), "the program lived on");
        bench::json(&self.out.join("stats.json"))
    }
}

impl Drop for Live {
    fn drop(&mut self) {
        let _ = self.node.kill();
    }
}

fn picture(reach: &Reach) -> Vec<u8> {
    let (mut board, _) = reach.connect().unwrap();
    let answer = board.ask(&Request::Picture, |answer| match answer {
        Answer::Picture(bytes) => Ok(bytes.to_vec()),
        other => panic!("{other:?}"),
    });
    answer.unwrap()
}

#[test]
fn the_last_twenty_seconds_of_a_heat_are_decided_by_the_board_on_its_bench_as_by_the_simulator() {
    let live = Live::begin("live");
    for name in ["number", "presses"] {
        let heat = played::heat(name);
        let part = Part { from: Some(Span::from_secs(-31)), until: Some(Span::from_secs(2)) };
        let script = Script::of(&heat, part);
        assert!(script.decided.len() > 10, "{name}: {:?}", script.decided);
        let mut verdict = Verdict { title: heat.title.clone(), ..Verdict::default() };
        play(&live.reach, &script, &mut verdict, false).unwrap();
        print!("{}", verdict.text());
        assert!(verdict.is_equal(), "{name}: {}", verdict.text());
        assert_eq!((verdict.agreed, verdict.inputs), (script.decided.len(), script.inputs.len()));
    }
    let stats = live.end();
    let budget = |name: &str| crate::budgets()[name].as_integer().unwrap() as u64;
    println!("bench: stack {}, deep {}", stats.stack_high_water_bytes, stats.deep_stack_high_water_bytes);
    assert!(stats.stack_high_water_bytes <= budget("stack_bytes"), "{stats:?}");
    assert!(stats.deep_stack_high_water_bytes <= budget("deep_stack_bytes"), "{stats:?}");
    assert_eq!(stats.overflows, 0);
}

#[test]
fn a_board_on_the_bench_says_so_on_its_screen_records_nothing_and_comes_back_as_it_was() {
    let live = Live::begin("live-screen");
    let before = live.reach.connect().unwrap().1;
    {
        let (mut board, _) = live.reach.connect().unwrap();
        let done = |answer: Answer<'_>| {
            assert_eq!(answer, Answer::Done);
            Ok(())
        };
        board.ask(&Request::EnterBench(&[]), done).unwrap();
    }
    let shown = picture(&live.reach);
    let fresh = Dash::new(&Settings::bare());
    let mut drawn = screen::draw(&fresh.view(Instant::BOOT), &fresh.settings().screen);
    let Ok(()) = screen::draw_bench(&mut drawn);
    assert_eq!(shown, drawn.bytes(), "a fresh dash, and BENCH over it");
    let (mut board, on) = live.reach.connect().unwrap();
    assert_eq!((on.clock_runs, on.settings), (false, before.settings));
    board.ask(&Request::LeaveBench, |_| Ok(())).unwrap();
    let after = live.reach.connect().unwrap().1;
    assert_eq!((after.settings, after.self_test.restarted), (before.settings, before.self_test.restarted));
    assert!(after.journal.acknowledged >= before.journal.acknowledged);
    let _ = live.end();
}

/// N1's pickup at 500 Hz from one moment to another, milliseconds.
fn turning(from_ms: u32, to_ms: u32) -> String {
    let edges = (from_ms..to_ms).map(|ms| format!("{ms}000 pin n1 1\n{ms}500 pin n1 0\n"));
    edges.collect()
}

type Board = gunline::board::conversation::Conversation<Box<dyn gunline::board::port::Line>>;

/// Asks until the board's clock shows a moment.
fn wait_until(board: &mut Board, at: Instant) {
    let shows = |board: &mut Board| {
        let now = board.ask(&Request::Readings, |answer| match answer {
            Answer::Readings(readings) => Ok(readings.at),
            other => panic!("{other:?}"),
        });
        now.unwrap()
    };
    while shows(board) < at {
        std::thread::yield_now();
    }
}

/// Asks on the bench until it is over, and gives the moment before.
fn until_over(board: &mut Board) -> Instant {
    let mut last = Instant::BOOT;
    loop {
        let over = board.ask(&Request::Feed { base: Instant::BOOT, inputs: &[] }, |answer| {
            Ok(match answer {
                Answer::Fed(fed) => {
                    last = fed.now;
                    false
                }
                Answer::Refused(Refusal::NotOnTheBench) => true,
                other => panic!("{other:?}"),
            })
        });
        if over.unwrap() {
            return last;
        }
    }
}

#[test]
fn a_turning_engine_keeps_a_board_off_the_bench_and_a_held_button_takes_it_off() {
    let stimulus = [
        turning(500, 4_000).as_str(),
        // On the bench the engine turns, and the bench is over half a second later.
        &turning(8_000, 9_000),
        // A press of a tenth of a second is nothing; one of two seconds ends it.
        "11000000 pin button 1\n11100000 pin button 0\n12000000 pin button 1\n14500000 pin button 0\n",
    ]
    .concat();
    let live = Live::begin_with("live-leaving", &stimulus);
    let at = |ms: i64| Instant::BOOT.plus(Span::from_millis(ms));
    let (mut board, _) = live.reach.connect().unwrap();
    let enter = |board: &mut Board, expected: Answer<'static>| {
        let asked = board.ask(&Request::EnterBench(&[]), |answer| {
            assert_eq!(answer, expected);
            Ok(())
        });
        asked.unwrap();
    };
    wait_until(&mut board, at(1_500));
    enter(&mut board, Answer::Refused(Refusal::EngineTurns));
    wait_until(&mut board, at(5_200));
    enter(&mut board, Answer::Done);
    let over = until_over(&mut board);
    assert!((at(8_400)..at(8_800)).contains(&over), "{over:?}");
    wait_until(&mut board, at(10_200));
    enter(&mut board, Answer::Done);
    let cue = cued(&mut board, true).at.unwrap();
    wait_until(&mut board, at(11_300));
    let seen = cued(&mut board, false);
    let edges: Vec<_> =
        seen.edges.iter().flatten().map(|edge| (edge.at.since(at(11_000)), edge.active)).collect();
    // The short press, stamped as ever; the dash has heard nothing of it.
    assert_eq!((seen.at, edges.len(), seen.more), (Some(cue), 2, 0));
    for ((stamp, active), (expected_ms, down)) in edges.into_iter().zip([(0, true), (100, false)]) {
        let late = stamp - Span::from_millis(expected_ms);
        assert!(active == down && (0..=2).contains(&late.as_micros()), "{late:?}");
    }
    let over = until_over(&mut board);
    assert!((at(13_900)..at(14_100)).contains(&over), "{over:?}");
    // The hold was no press of a start.
    wait_until(&mut board, at(15_000));
    assert!(!live.reach.connect().unwrap().1.clock_runs);
    let pins = live.out.join("pins.csv");
    let _ = live.end();
    // Lamp and beeper went on at the cue's stamp, and off 0.2 s later.
    for (name, is_on) in [("caution_lamp", 1..=1_000), ("beeper", 932..=932)] {
        let changes = changes(&pins, name);
        let cue_us = cue.as_micros() as f64;
        let on =
            changes.iter().find(|(t_us, level)| is_on.contains(level) && (t_us - cue_us).abs() < 1_000.0);
        let off = changes.iter().find(|(t_us, level)| *level == 0 && *t_us > cue_us + 1_000.0);
        assert!(on.is_some(), "{name}: {cue_us} {changes:?}");
        assert!(
            off.is_some_and(|(t_us, _)| (t_us - cue_us - 2e5).abs() < 1e4),
            "{name}: {cue_us} {changes:?}"
        );
    }
}

/// When an output changed, microseconds, and to what.
fn changes(pins: &Path, name: &str) -> Vec<(f64, u32)> {
    let text = fs::read_to_string(pins).unwrap();
    let rows = text.lines().filter_map(|line| {
        let mut fields = line.split(',');
        let (at, pin, level) = (fields.next()?, fields.next()?, fields.next()?);
        (pin == name).then(|| (at.parse().unwrap(), level.parse::<f64>().unwrap() as u32))
    });
    rows.collect()
}

fn cued(board: &mut Board, sound: bool) -> Cued {
    let answer = board.ask(&Request::Cue { sound }, |answer| match answer {
        Answer::Cued(cued) => Ok(cued),
        other => panic!("{other:?}"),
    });
    answer.unwrap()
}

/// In real time, as a page paces it: six seconds of a start with a press in them. What the driver sees is the board's own
/// screen, and board and page decide alike.
#[test]
fn a_start_is_practised_with_the_board_as_its_dash() {
    let live = Live::begin("practice");
    // Far behind, so that a machine with much else to do is never late.
    let at = BoardAt { reach: live.reach.clone(), lead: Span::from_millis(1_900) };
    let mut session = Session::on(Plan::default(), REACH, Some(&at)).unwrap();
    let (begins, since) = (session.now(), std::time::Instant::now());
    for number in 0..120 {
        std::thread::sleep(Duration::from_millis(50));
        let gone = Span::from_micros(i64::try_from(since.elapsed().as_micros()).unwrap());
        session.advance(begins + gone);
        match number {
            40 => session.button(Line::Button, true),
            44 => session.button(Line::Button, false),
            _ => {}
        }
    }
    // A busy machine emulates slower than time goes.
    let armed =
        |session: &Session| session.board().is_some_and(|board| board.alike >= 2 && board.picture.is_some());
    for _ in 0..1_200 {
        if armed(&session) {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let shown = session.board().unwrap();
    assert_eq!((shown.trouble.as_deref(), shown.different), (None, 0), "{}", shown.says());
    assert!(armed(&session), "{}", shown.says());
    drop(session);
    live.end();
}
