//! Whatever comes over the line.

extern crate std;

use std::collections::BTreeMap;
use std::vec::Vec;

use proptest::prelude::*;

use super::tests::{STANDING, framed, sent};
use super::*;
use crate::units::Utc;

/// The first number of openings.
const OPENING: u32 = 1 << 31;

/// Bytes as a hostile host may send them: anything, with zeros and pieces of good frames among it.
fn hostile() -> impl Strategy<Value = Vec<u8>> {
    let soup = prop::collection::vec(prop_oneof![3 => any::<u8>(), 1 => Just(0)], 0..3_000);
    let frame = (0_u32..4, 0_u32..4, any::<bool>()).prop_map(|(session, number, hello)| {
        let request = if hello { Request::Hello } else { Request::ReadSettings };
        framed(session, number, &request)
    });
    prop::collection::vec(prop_oneof![1 => soup, 3 => frame], 0..8).prop_map(|parts| parts.concat())
}

/// Any request there is.
fn request() -> impl Strategy<Value = Vec<u8>> {
    let bytes = prop::collection::vec(any::<u8>(), 0..300);
    (0_u32..3, 0_u32..6, 0_u8..14, any::<i64>(), bytes).prop_map(|(session, number, kind, any, bytes)| {
        let at = crate::units::Instant::from_micros(any.unsigned_abs());
        let (utc, sd) = (Utc::from_unix_micros(any), crate::units::Span::from_micros(any));
        let request = match kind {
            0 => Request::Hello,
            1 => Request::KeepSettings(&bytes),
            2 => Request::ReadJournal { from: any.unsigned_abs(), most: any as u16 },
            3 => Request::Schedule { zero: utc },
            4 => Request::Readings,
            5 => Request::Cue { sound: any > 0 },
            6 => Request::Utc { at, utc, sd },
            7 => Request::Learned,
            8 => Request::Offer { accept: any > 0 },
            9 => Request::Suffered,
            10 => Request::ForgetSuffered,
            11 => Request::EnterBench(&bytes),
            12 => Request::Feed { base: at, inputs: &bytes },
            _ => Request::Picture,
        };
        framed(session, number, &request)
    })
}

/// What a board does with a talk between two packets, chosen by a byte.
fn turn(talk: &mut Talk, choice: u8, asked: &mut u32, answered: &mut u32) {
    match choice % 4 {
        0 => *asked += u32::from(talk.next_request(choice > 127).is_some()),
        1 => {
            *answered += u32::from(talk.asked.is_some());
            talk.answer(&Answer::SettingsKept);
        }
        2 => talk.sent(usize::from(choice)),
        _ => {}
    }
}

/// Bytes without a frame.
fn plain_bytes(message: &impl serde::Serialize) -> Vec<u8> {
    let mut buffer = [0; CONTENT_MAX];
    postcard::to_slice(message, &mut buffer).unwrap().to_vec()
}

proptest! {
    #[test]
    fn whatever_comes_nothing_panics_and_each_request_gets_one_answer(
        bytes in hostile(), choices in prop::collection::vec(any::<u8>(), 1..64),
    ) {
        let (mut talk, mut asked, mut answered) = (Talk::new(0), 0, 0);
        let mut choices = choices.into_iter().cycle();
        for packet in bytes.chunks(64) {
            packet.iter().for_each(|byte| talk.push(*byte));
            turn(&mut talk, choices.next().unwrap_or_default(), &mut asked, &mut answered);
            prop_assert!(talk.to_send().len() <= FRAME_MAX);
            prop_assert!(asked == answered + u32::from(talk.asked.is_some()));
        }
        let frames = bytes.split(|byte| *byte == 0).count();
        prop_assert!(asked as usize <= frames);
    }

    #[test]
    fn after_any_noise_two_hellos_are_enough_to_be_heard(noise in hostile()) {
        let mut talk = Talk::new(0);
        noise.iter().for_each(|byte| talk.push(*byte));
        // Whatever the noise asked for is answered and read away, as a host does before it begins.
        for _ in 0..2 {
            if talk.next_request(true).is_some() {
                talk.answer(&Answer::SettingsKept);
            }
            talk.sent(usize::MAX);
        }
        let mut heard = false;
        for _ in 0..2 {
            [&[0], &framed(0, OPENING + 77, &Request::Hello)[..]].concat().iter().for_each(|byte| talk.push(*byte));
            heard |= talk.next_request(true) == Some(Request::Hello);
        }
        prop_assert!(heard);
    }

    /// Frames of every kind, flipped, cut and doubled: nothing panics, nothing is handed out that was not asked whole,
    /// and no settings that would not pass.
    #[test]
    fn of_frames_that_were_damaged_on_the_way_only_whole_requests_are_handed_out(
        frames in prop::collection::vec((request(), 0_u8..6, any::<prop::sample::Index>(), 1_u8..), 1..30),
    ) {
        let mut talk = Talk::new(0);
        framed(0, OPENING, &Request::Hello).iter().for_each(|byte| talk.push(*byte));
        prop_assert_eq!(talk.next_request(false), Some(Request::Hello));
        talk.answer(&Answer::Hello(STANDING));
        talk.sent(usize::MAX);
        for (mut frame, fate, at, flip) in frames {
            let at = at.index(frame.len());
            match fate {
                0 => frame[at] ^= flip,
                1 => frame.truncate(at),
                2 => frame.extend(frame.clone()),
                3 => frame.insert(at, flip),
                _ => {}
            }
            for byte in frame {
                talk.push(byte);
                let deep = talk.goes_deep();
                if let Some(request) = talk.next_request(false) {
                    if let Request::KeepSettings(bytes) | Request::EnterBench(bytes @ [_, ..]) = request {
                        prop_assert!(deep && Settings::decode(bytes).is_some_and(|settings| settings.check().is_ok()));
                    }
                    let whole = plain_bytes(&request);
                    prop_assert_eq!(talk.owed().map(|owed| plain_bytes(&owed)), Some(whole));
                    talk.answer(&Answer::Done);
                }
                talk.sent(usize::MAX);
            }
        }
    }

    #[test]
    fn a_request_is_done_at_most_once_however_frames_are_doubled_lost_and_reordered(
        order in prop::collection::vec((0_u32..3, 0_u32..5), 0..40),
    ) {
        let mut talk = Talk::new(0);
        let mut done = BTreeMap::new();
        let mut answers = BTreeMap::new();
        for (session, number) in order {
            let zero = Utc::from_unix_micros(i64::from(session * 10 + number));
            let request = if session == 0 { Request::Hello } else { Request::Schedule { zero } };
            let number = if session == 0 { OPENING + number } else { number };
            framed(session, number, &request).iter().for_each(|byte| talk.push(*byte));
            if let Some(request) = talk.next_request(false) {
                let answer = match request {
                    Request::Hello => Answer::Hello(STANDING),
                    Request::Schedule { zero: asked } => {
                        prop_assert_eq!(asked, zero);
                        *done.entry((session, number)).or_insert(0) += 1;
                        Answer::Settings { from: SettingsFrom::Chip, bytes: &[session as u8, number as u8] }
                    }
                    other => return Err(TestCaseError::fail(std::format!("{other:?}"))),
                };
                talk.answer(&answer);
            }
            for frame in sent(&mut talk) {
                let (head, _) = postcard::take_from_bytes::<Head>(&frame).unwrap();
                if talk.opened_by.is_some() {
                    let before = answers.entry((head.session, head.number)).or_insert(frame.clone());
                    prop_assert_eq!(before, &frame);
                }
            }
        }
        prop_assert!(done.values().all(|times| *times == 1), "{:?}", done);
    }

    /// Second opinion: the crate `cobs`.
    #[test]
    fn another_library_reads_our_frames_alike_and_we_read_its(
        bytes in prop::collection::vec(prop_oneof![4 => 1_u8..=255, 1 => Just(0_u8)], 0..PIECE_MAX),
    ) {
        let answer = Answer::Settings { from: SettingsFrom::Chip, bytes: &bytes };
        let head = Head { session: 1, number: 2 };
        let mut buffer = [0; FRAME_MAX];
        let len = write(head, &answer, &mut buffer).unwrap();
        prop_assert_eq!(buffer[..len].iter().position(|byte| *byte == 0), Some(len - 1));
        let mut plain = [0; FRAME_MAX];
        let plain_len = cobs::decode(&buffer[..len - 1], &mut plain).unwrap();
        prop_assert!(len <= plain_len + plain_len.div_ceil(254) + 1);
        let content = plain_bytes(&(head, answer));
        prop_assert_eq!(&plain[..plain_len - 4], &content[..]);
        prop_assert_eq!(&plain[plain_len - 4..plain_len], &crate::check_sum::CRC_32.checksum(&content).to_le_bytes());
        let mut theirs = [0; FRAME_MAX];
        let theirs_len = cobs::try_encode(&plain[..plain_len], &mut theirs).unwrap();
        let mut unstuffing = Unstuffing::new();
        let ended = theirs[..theirs_len].iter().chain(&[0]).filter_map(|byte| unstuffing.push(*byte)).last();
        prop_assert_eq!(ended, Some(Ended::Whole));
        prop_assert_eq!(unstuffing.content(), Some(&content[..]));
    }

    #[test]
    fn a_damaged_frame_is_never_taken(
        bytes in prop::collection::vec(any::<u8>(), 0..200), at in any::<prop::sample::Index>(), flip in 1_u8..,
    ) {
        let mut frame = framed(1, 1, &Request::KeepSettings(&bytes));
        let at = at.index(frame.len());
        frame[at] ^= flip;
        let mut unstuffing = Unstuffing::new();
        let ended: Vec<_> = frame.iter().chain(&[0]).filter_map(|byte| unstuffing.push(*byte)).collect();
        prop_assert!(!ended.contains(&Ended::Whole), "{:?}", ended);
    }
}
