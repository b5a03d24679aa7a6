//! A conversation, step by step, and the frames of a worked example.

extern crate std;

use std::string::String;
use std::vec::Vec;

use super::*;
use crate::output::{Output, Refused, Tone, ZeroSource};
use crate::units::{Instant, Span, Utc};

/// A board that has just been switched on, and knows nothing yet.
pub(super) const STANDING: Standing = Standing {
    protocol: PROTOCOL,
    firmware: [0, 1, 0],
    program: 0x1234_5678,
    clock_runs: false,
    settings: SettingsFrom::Defaults,
    self_test: SelfTest {
        receiver: Check::Good,
        pulse: Check::Silent,
        probes: [Check::Good, Check::NotFitted, Check::NotFitted, Check::NotFitted],
        n1: Check::Silent,
        n2: Check::Silent,
        chip: Some(0x00EF_4018),
        overflows: 0,
        restarted: Restart::Power,
    },
    journal: Extent { oldest: 0, acknowledged: 1_000, room: 1_572_864, lost: 0, torn: 0 },
};

/// A request as it goes over the line.
pub(super) fn framed(session: u32, number: u32, request: &Request<'_>) -> Vec<u8> {
    let mut buffer = [0; FRAME_MAX];
    let len = write(Head { session, number }, request, &mut buffer).unwrap();
    buffer[..len].to_vec()
}

fn push(talk: &mut Talk, bytes: &[u8]) {
    bytes.iter().for_each(|byte| talk.push(*byte));
}

/// Everything that the talk wants to send, as content of frames: one after the other.
pub(super) fn sent(talk: &mut Talk) -> Vec<Vec<u8>> {
    let mut unstuffing = Unstuffing::new();
    let mut frames = Vec::new();
    for byte in talk.to_send().to_vec() {
        if unstuffing.push(byte) == Some(Ended::Whole) {
            frames.push(unstuffing.content().unwrap().to_vec());
            unstuffing.clear();
        }
    }
    talk.sent(usize::MAX);
    frames
}

/// The one answer that the talk wants to send.
fn answered(talk: &mut Talk, check: impl FnOnce(Head, Answer<'_>)) {
    let frames = sent(talk);
    assert_eq!(frames.len(), 1);
    let (head, answer) = read(&frames[0]).unwrap();
    check(head, answer);
}

/// A talk whose session 8 is open.
fn opened() -> Talk {
    let mut talk = Talk::new(7);
    push(&mut talk, &framed(0, 99, &Request::Hello));
    assert_eq!(talk.next_request(false), Some(Request::Hello));
    talk.answer(&Answer::Hello(STANDING));
    answered(&mut talk, |head, _| assert_eq!(head, Head { session: 8, number: 99 }));
    talk
}

#[test]
fn a_request_is_handed_out_once_and_its_answer_bears_its_number() {
    let mut talk = opened();
    push(&mut talk, &framed(8, 1, &Request::ReadJournal { from: 500, most: 64 }));
    assert!(!talk.wants_bytes());
    assert_eq!(talk.next_request(false), Some(Request::ReadJournal { from: 500, most: 64 }));
    assert_eq!(talk.next_request(false), None);
    talk.answer(&Answer::Journal { from: 500, next: 503, bytes: &[1, 0, 2] });
    talk.answer(&Answer::SettingsKept);
    answered(&mut talk, |head, answer| {
        assert_eq!(head, Head { session: 8, number: 1 });
        assert_eq!(answer, Answer::Journal { from: 500, next: 503, bytes: &[1, 0, 2] });
    });
    assert!(talk.wants_bytes());
}

#[test]
fn a_repeated_request_is_answered_again_and_not_done_again() {
    let mut talk = opened();
    let request = framed(8, 1, &Request::Schedule { zero: Utc::from_unix_micros(1) });
    push(&mut talk, &request);
    assert!(talk.next_request(false).is_some());
    talk.answer(&Answer::Scheduled(Scheduled::Set));
    let first = sent(&mut talk);
    push(&mut talk, &request);
    assert_eq!(talk.next_request(false), None);
    assert_eq!(sent(&mut talk), first);
    push(&mut talk, &framed(8, 2, &Request::ReadSettings));
    assert_eq!(talk.next_request(false), Some(Request::ReadSettings));
    talk.answer(&Answer::Settings { from: SettingsFrom::Chip, bytes: &[1] });
    sent(&mut talk);
    // What comes after a later one is not even answered.
    push(&mut talk, &request);
    assert_eq!(talk.next_request(false), None);
    assert!(talk.to_send().is_empty());
    assert_eq!(talk.unused(), Unused { broken: 0, stale: 1 });
}

#[test]
fn a_request_from_before_a_restart_is_told_so_and_one_from_before_a_new_hello_is_not_done() {
    let mut talk = Talk::new(7);
    push(&mut talk, &framed(5, 3, &Request::ReadSettings));
    assert_eq!(talk.next_request(false), None);
    answered(&mut talk, |head, answer| {
        assert_eq!(head, Head { session: 5, number: 3 });
        assert_eq!(answer, Answer::Refused(Refusal::NoSession));
    });
    let mut talk = opened();
    push(&mut talk, &framed(0, 100, &Request::Hello));
    assert_eq!(talk.next_request(false), Some(Request::Hello));
    talk.answer(&Answer::Hello(STANDING));
    answered(&mut talk, |head, _| assert_eq!(head.session, 9));
    push(&mut talk, &framed(8, 1, &Request::ReadSettings));
    assert_eq!(talk.next_request(false), None);
    assert!(talk.to_send().is_empty());
}

#[test]
fn only_settings_that_are_readable_and_sound_reach_the_board_and_none_while_a_clock_runs() {
    let mut buffer = [0; Settings::ENCODED_MAX];
    let good = Settings::bare().encode(&mut buffer).to_vec();
    let mut wrong = Settings::bare();
    wrong.race.laps = 0;
    let wrong = wrong.encode(&mut buffer).to_vec();
    let refused = |clock_runs: bool, bytes: &[u8], why: Refusal<'_>| {
        let mut talk = opened();
        push(&mut talk, &framed(8, 1, &Request::KeepSettings(bytes)));
        assert_eq!(talk.next_request(clock_runs), None);
        answered(&mut talk, |_, answer| assert_eq!(answer, Answer::Refused(why)));
    };
    refused(true, &good, Refusal::ClockRuns);
    refused(false, &wrong, Refusal::Settings(Wrong::Laps));
    refused(false, &good[..good.len() - 1], Refusal::Settings(Wrong::Unreadable));
    refused(false, &[], Refusal::Settings(Wrong::Unreadable));
    let mut talk = opened();
    push(&mut talk, &framed(8, 1, &Request::KeepSettings(&good)));
    assert_eq!(talk.next_request(false), Some(Request::KeepSettings(&good)));
}

#[test]
fn settings_for_the_bench_are_judged_like_those_to_be_kept_and_refused_while_a_clock_runs() {
    let mut buffer = [0; Settings::ENCODED_MAX];
    let good = Settings::bare().encode(&mut buffer).to_vec();
    for (clock_runs, bytes, why) in [
        (true, &good[..], Refusal::ClockRuns),
        (true, &[], Refusal::ClockRuns),
        (false, &good[..good.len() - 1], Refusal::Settings(Wrong::Unreadable)),
    ] {
        let mut talk = opened();
        push(&mut talk, &framed(8, 1, &Request::EnterBench(bytes)));
        assert!(talk.goes_deep());
        assert_eq!(talk.next_request(clock_runs), None);
        answered(&mut talk, |_, answer| assert_eq!(answer, Answer::Refused(why)));
    }
    for bytes in [&good[..], &[]] {
        let mut talk = opened();
        push(&mut talk, &framed(8, 1, &Request::EnterBench(bytes)));
        assert_eq!(talk.next_request(false), Some(Request::EnterBench(bytes)));
        assert_eq!(talk.owed(), Some(Request::EnterBench(bytes)), "until it is answered");
        talk.answer(&Answer::Done);
        assert_eq!(talk.owed(), None);
    }
}

/// Every answer fits its frame, at its largest.
#[test]
fn the_largest_of_the_later_answers_fit_too() {
    use crate::bench::TELL_MAX;
    use crate::engine::suffered::{Account, Accounts, Excess};
    let excess = Excess { count: u16::MAX, peak: i32::MIN, longest_ms: u32::MAX, n1: None, n2: None };
    let account = Account {
        run_ms: u32::MAX,
        starts: u16::MAX,
        hot_starts: u16::MAX,
        bands_ms: [u32::MAX; crate::engine::watch::BANDS_MAX],
        excess: [excess; 3],
    };
    let edge = Some(SeenEdge { at: Instant::from_micros(u64::MAX), active: true });
    let (picture, told) = ([0xFF; 1_024], [0xFF; TELL_MAX]);
    for answer in [
        Answer::Picture(&picture),
        Answer::Fed(Fed {
            now: Instant::from_micros(u64::MAX),
            room: u16::MAX,
            waiting: u16::MAX,
            lost: u32::MAX,
            told: &told,
        }),
        Answer::Suffered(Accounts { heat: account, total: account }),
        Answer::Cued(Cued {
            at: Some(Instant::from_micros(u64::MAX)),
            edges: [edge; EDGES_MAX],
            more: u16::MAX,
        }),
    ] {
        let mut talk = opened();
        push(&mut talk, &framed(8, u32::MAX, &Request::Picture));
        assert_eq!(talk.next_request(false), Some(Request::Picture));
        talk.answer(&answer);
        answered(&mut talk, |_, came| assert_eq!(came, answer));
    }
}

#[test]
fn a_request_that_this_firmware_does_not_know_is_told_so() {
    /// What a later protocol may have: variants are appended.
    #[derive(serde::Serialize)]
    #[expect(dead_code, reason = "only the last is sent")]
    enum Later {
        A,
        B,
        C,
        D,
        E,
        F,
        G,
        H,
        I,
        J,
        K,
        L,
        M,
        N,
        O,
        P,
        Unheard(u32),
    }
    let mut talk = opened();
    let mut buffer = [0; FRAME_MAX];
    let len = write(Head { session: 8, number: 1 }, &Later::Unheard(1), &mut buffer).unwrap();
    push(&mut talk, &buffer[..len]);
    assert_eq!(talk.next_request(false), None);
    answered(&mut talk, |_, answer| assert_eq!(answer, Answer::Refused(Refusal::Unknown)));
}

#[test]
fn the_largest_messages_fit_and_larger_ones_are_refused_whole() {
    for len in [PIECE_MAX - 1, PIECE_MAX, PIECE_MAX + 100] {
        let bytes = std::vec![0xAB; len];
        let far = Answer::Journal { from: u64::MAX, next: u64::MAX, bytes: &bytes };
        let mut talk = opened();
        push(&mut talk, &framed(8, u32::MAX, &Request::ReadJournal { from: u64::MAX, most: u16::MAX }));
        let asked = Request::ReadJournal { from: u64::MAX, most: MOST };
        assert_eq!(talk.next_request(false), Some(asked));
        talk.answer(&far);
        let expected = if len <= PIECE_MAX { far } else { Answer::Refused(Refusal::Chip) };
        answered(&mut talk, |_, answer| assert_eq!(answer, expected));
    }
}

#[test]
fn a_message_comes_through_packets_of_64_bytes_taken_in_parts() {
    let mut talk = opened();
    let bytes = [0x55; 300];
    push(&mut talk, &framed(8, 1, &Request::ReadJournal { from: 0, most: 300 }));
    assert!(talk.next_request(false).is_some());
    talk.answer(&Answer::Journal { from: 0, next: 300, bytes: &bytes });
    let mut line = Vec::new();
    while !talk.to_send().is_empty() {
        let taken = talk.to_send().len().min(61);
        line.extend_from_slice(&talk.to_send()[..taken]);
        talk.sent(taken);
    }
    let mut unstuffing = Unstuffing::new();
    assert_eq!(line.iter().filter_map(|byte| unstuffing.push(*byte)).collect::<Vec<_>>(), [Ended::Whole]);
    let (_, answer) = read::<Answer<'_>>(unstuffing.content().unwrap()).unwrap();
    assert_eq!(answer, Answer::Journal { from: 0, next: 300, bytes: &bytes });
}

#[test]
fn what_became_of_a_schedule_is_what_the_dash_decided() {
    let zero = Output::Zero {
        source: ZeroSource::Utc,
        at: Instant::from_micros(9),
        moved: None,
        sigma: Span::from_micros(1),
    };
    assert_eq!(Scheduled::from_decisions(&[zero, Output::Cue(Tone::Taken)]), Scheduled::Set);
    assert_eq!(Scheduled::from_decisions(&[Output::Refused(Refused::NoUtcYet)]), Scheduled::WaitsForUtc);
    assert_eq!(Scheduled::from_decisions(&[Output::Refused(Refused::SchedulePast)]), Scheduled::Past);
}

/// The frames of the worked example in docs/protocol.md, in its order.
fn documented() -> Vec<Vec<u8>> {
    let text = include_str!("../../../docs/protocol.md");
    let hex = |line: &str| -> Vec<u8> {
        line.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
    };
    let lines = text.lines().filter_map(|line| line.strip_prefix("    > ").or(line.strip_prefix("    < ")));
    lines.map(hex).collect()
}

#[test]
fn the_worked_example_of_the_protocol_page_is_what_goes_over_the_line() {
    let mut talk = Talk::new(6);
    let mut line: Vec<Vec<u8>> = Vec::new();
    let mut turn = |bytes: Vec<u8>, answer: &Answer<'_>| {
        push(&mut talk, &bytes);
        assert!(talk.next_request(false).is_some());
        talk.answer(answer);
        line.extend([bytes, talk.to_send().to_vec()]);
        talk.sent(usize::MAX);
    };
    turn(framed(0, 0x8000_0012, &Request::Hello), &Answer::Hello(STANDING));
    turn(
        framed(7, 1, &Request::ReadJournal { from: 997, most: 1_024 }),
        &Answer::Journal { from: 997, next: 998, bytes: &[0xAA, 0x00, 0xBB] },
    );
    // 2031-05-17T19:05:00Z.
    turn(
        framed(7, 2, &Request::Schedule { zero: Utc::from_unix_micros(1_936_811_100_000_000) }),
        &Answer::Scheduled(Scheduled::WaitsForUtc),
    );
    let shown: Vec<String> = line
        .iter()
        .map(|frame| frame.iter().map(|byte| std::format!("{byte:02x}")).collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(documented(), line, "the page should say:\n{}", shown.join("\n"));
}

#[test]
fn the_check_sum_is_the_catalogued_one() {
    // Catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC: the check value of "123456789".
    assert_eq!(crate::check_sum::CRC_32.checksum(b"123456789"), 0xCBF4_3926);
}
