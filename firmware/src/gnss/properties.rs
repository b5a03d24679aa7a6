//! What holds for any stream whatever: the guarantees that the decoder states, and the framing of sentences.
//!
//! Garbage here is drawn with a taste for the bytes that begin, end or resemble sentences and frames.

extern crate std;

use std::string::String;
use std::vec::Vec;

use proptest::prelude::*;

use super::test_stream::{frame, hear, nav_pvt, sentence};
use super::{Decoder, Fix, Heard, Reject};

const RMC: &str = "GPRMC,120000.00,A,4500.00000,N,03000.00000,W,123.45,070.5,170531,003.1,W,A";

/// Pieces that a damaged stream may hold.
fn piece() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..40),
        proptest::collection::vec(
            prop::sample::select(b"$*,AG0\r\n\xB5\x62\x01\x07\x5C\x00\x02".to_vec()),
            0..12
        ),
        // A header with any length that may be believed.
        (any::<[u8; 3]>(), 0_u8..3)
            .prop_map(|([class, id, low], high)| std::vec![0xB5, 0x62, class, id, low, high]),
        // A real sentence or frame, cut anywhere.
        (0_usize..=90).prop_map(|length| sentence(RMC).into_iter().take(length).collect()),
        (any::<[u8; 92]>(), 0_usize..=100)
            .prop_map(|(noise, length)| { frame(1, 7, &nav_pvt(&noise)).into_iter().take(length).collect() }),
    ]
}

fn garbage() -> impl Strategy<Value = Vec<u8>> {
    proptest::collection::vec(piece(), 0..8).prop_map(|pieces| pieces.concat())
}

fn only_fix(bytes: &[u8]) -> Fix {
    match hear(&mut Decoder::default(), bytes)[..] {
        [Heard::Fix(fix)] => fix,
        ref other => panic!("{other:?}"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn any_bytes_do_no_harm_and_everything_heard_is_counted(
        bytes in prop_oneof![garbage(), proptest::collection::vec(any::<u8>(), 0..2_000)],
    ) {
        let mut decoder = Decoder::default();
        let heard = hear(&mut decoder, &bytes);
        let fixes = heard.iter().filter(|heard| matches!(heard, Heard::Fix(_))).count();
        prop_assert_eq!(decoder.counts().fixes as usize, fixes);
        for why in Reject::ALL {
            let rejected = heard.iter().filter(|heard| **heard == Heard::Rejected(why)).count();
            prop_assert_eq!(decoder.counts().rejected(why) as usize, rejected);
        }
    }

    #[test]
    fn the_same_is_heard_at_the_same_byte_however_the_stream_is_split(
        bytes in garbage(), cuts in proptest::collection::vec(1_usize..200, 1..20),
    ) {
        let (mut alone, mut split) = (Decoder::default(), Decoder::default());
        let said = |(at, byte): (usize, &u8)| alone.push(*byte).map(|heard| (at + 1, heard));
        let expected: Vec<(usize, Heard)> = bytes.iter().enumerate().filter_map(said).collect();
        let (mut taken, mut heard) = (0, Vec::new());
        for cut in cuts.into_iter().cycle() {
            let end = bytes.len().min(taken + cut);
            let mut read = &bytes[taken..end];
            while let Some(said) = split.hear(&mut read) {
                heard.push((end - read.len(), said));
            }
            prop_assert!(read.is_empty());
            taken = end;
            if taken == bytes.len() {
                break;
            }
        }
        prop_assert_eq!(heard, expected);
        prop_assert_eq!(split.counts(), alone.counts());
    }

    #[test]
    fn after_any_garbage_the_next_good_sentence_is_taken(garbage in garbage()) {
        let mut decoder = Decoder::default();
        let _ = hear(&mut decoder, &garbage);
        let mut good = sentence(RMC);
        let expected = only_fix(&good);
        let _line_feed = good.pop();
        let last = good.pop().unwrap();
        let _ = hear(&mut decoder, &good);
        prop_assert_eq!(decoder.push(last), Some(Heard::Fix(expected)));
    }

    #[test]
    fn after_any_garbage_the_next_good_nav_pvt_is_taken(garbage in garbage(), noise in any::<[u8; 92]>()) {
        let mut decoder = Decoder::default();
        let _ = hear(&mut decoder, &garbage);
        let mut good = frame(1, 7, &nav_pvt(&noise));
        let expected = only_fix(&good);
        let last = good.pop().unwrap();
        let _ = hear(&mut decoder, &good);
        prop_assert_eq!(decoder.push(last), Some(Heard::Fix(expected)));
    }

    #[test]
    fn sound_frames_of_any_other_kind_are_ignored_and_hide_nothing(
        class in 2_u8.., id in any::<u8>(), payload in proptest::collection::vec(any::<u8>(), 0..=512),
        noise in any::<[u8; 92]>(),
    ) {
        let mut decoder = Decoder::default();
        let stream = [frame(class, id, &payload), sentence(RMC), frame(1, 7, &nav_pvt(&noise))].concat();
        let heard = hear(&mut decoder, &stream);
        prop_assert!(matches!(heard[..], [Heard::Fix(_), Heard::Fix(_)]), "{:?}", heard);
        prop_assert_eq!(decoder.counts().ignored, 1);
    }

    #[test]
    fn a_sentence_with_one_changed_character_is_never_taken(at in 0_usize..200, change in 1_u8..) {
        let mut bytes = sentence(RMC);
        // The line end is not covered by the checksum, and a checksum digit's case says nothing.
        let covered = bytes.len() - 2;
        let at = at % covered;
        let before = bytes[at];
        bytes[at] ^= change;
        prop_assume!(!(at >= covered - 2 && bytes[at].eq_ignore_ascii_case(&before)));
        let heard = hear(&mut Decoder::default(), &bytes);
        prop_assert!(!heard.iter().any(|heard| matches!(heard, Heard::Fix(_))), "{:?}", heard);
    }

    #[test]
    fn a_nav_pvt_with_one_changed_byte_is_never_taken(
        noise in any::<[u8; 92]>(), at in 0_usize..100, change in 1_u8..,
    ) {
        let mut bytes = frame(1, 7, &nav_pvt(&noise));
        bytes[at] ^= change;
        let heard = hear(&mut Decoder::default(), &bytes);
        prop_assert!(!heard.iter().any(|heard| matches!(heard, Heard::Fix(_))), "{:?}", heard);
    }

    #[test]
    fn sentences_and_frames_in_any_order_are_all_heard(
        order in proptest::collection::vec(0_usize..4, 0..20),
    ) {
        let nav_pvt = frame(1, 7, &nav_pvt(&[b'$'; 92]));
        let kinds = [sentence(RMC), nav_pvt, frame(6, 0, b"$GPRMC,1"), sentence("GPGSV,1,1,00")];
        let stream: Vec<u8> = order.iter().flat_map(|kind| kinds[*kind].clone()).collect();
        let mut decoder = Decoder::default();
        let heard = hear(&mut decoder, &stream);
        let fixes = order.iter().filter(|kind| **kind < 2).count();
        prop_assert_eq!(heard.len(), fixes);
        prop_assert_eq!(decoder.counts().fixes as usize, fixes);
        prop_assert_eq!(decoder.counts().ignored as usize, order.len() - fixes);
    }
}

/// Everything said to one sentence given as it stands on the wire.
fn said(text: &str) -> Vec<Heard> {
    hear(&mut Decoder::default(), text.as_bytes())
}

fn rejected(why: Reject) -> [Heard; 1] {
    [Heard::Rejected(why)]
}

#[test]
fn a_sentence_may_have_128_characters_and_no_more() {
    let padded = |length: usize| {
        let content = std::format!("{RMC},");
        let padding: String = "0".repeat(length - content.len() - 4);
        sentence(&std::format!("{content}{padding}"))
    };
    // The characters up to the checksum's last digit; the line end comes on top.
    assert_eq!(padded(128).len(), 130);
    assert!(matches!(hear(&mut Decoder::default(), &padded(127))[..], [Heard::Fix(_)]));
    assert!(matches!(hear(&mut Decoder::default(), &padded(128))[..], [Heard::Fix(_)]));
    assert_eq!(hear(&mut Decoder::default(), &padded(129)), rejected(Reject::TooLong));
}

#[test]
fn broken_sentences_say_what_broke_them() {
    // The checksums of these made-up contents were worked out by hand: "A" is hexadecimal 41.
    assert_eq!(said("$A*41\r\n"), []);
    assert_eq!(said("$A*42\r\n"), rejected(Reject::Checksum));
    assert_eq!(said("$A\r\n"), rejected(Reject::NoChecksum));
    assert_eq!(said("$A*\r\n"), rejected(Reject::NoChecksum));
    assert_eq!(said("$A*4\r\n"), rejected(Reject::NoChecksum));
    assert_eq!(said("$A*4G\r\n"), rejected(Reject::NoChecksum));
    assert_eq!(said("$A*411\r\n"), rejected(Reject::NoChecksum));
    assert_eq!(said("$A$A*41\r\n"), rejected(Reject::CutShort));
    assert_eq!(said("$A*41$A*41\r\n"), rejected(Reject::CutShort));
    assert_eq!(said("$A\x07*41\r\n"), rejected(Reject::BadByte));
    assert_eq!(said("$A\u{e9}*41\r\n"), rejected(Reject::BadByte));
    assert_eq!(said("A*42\r\n\n\n*00\r\n!A*42\r\n"), []);
}

#[test]
fn a_sentence_ends_at_either_half_of_the_line_end() {
    let text = String::from_utf8(sentence(RMC)).unwrap();
    for ending in ["\r", "\n", "\r\n", "\n\r"] {
        assert!(matches!(said(&text.replace("\r\n", ending))[..], [Heard::Fix(_)]), "{ending:?}");
    }
    assert_eq!(said(text.trim_end()), []);
}

#[test]
fn a_header_of_more_than_512_bytes_is_not_believed() {
    let header = |length: u16| [&[0xB5, 0x62, 0x0A, 0x04][..], &length.to_le_bytes()].concat();
    assert_eq!(hear(&mut Decoder::default(), &header(513)), rejected(Reject::TooLong));
    assert_eq!(hear(&mut Decoder::default(), &header(512)), []);
}

#[test]
fn a_nav_pvt_of_another_length_is_rejected_and_a_damaged_frame_too() {
    // Protocol 14's NAV-PVT has 84 bytes.
    let short = frame(1, 7, &[0; 84]);
    assert_eq!(hear(&mut Decoder::default(), &short), rejected(Reject::BadLength));
    let mut damaged = frame(1, 7, &nav_pvt(&[0; 92]));
    damaged[50] ^= 1;
    assert_eq!(hear(&mut Decoder::default(), &damaged), rejected(Reject::Checksum));
}

#[test]
fn a_nav_pvt_behind_the_stump_of_another_is_taken() {
    let whole = frame(1, 7, &nav_pvt(&[0; 92]));
    let heard = hear(&mut Decoder::default(), &[&whole[..60], &whole].concat());
    assert!(matches!(heard[..], [Heard::Rejected(Reject::Checksum), Heard::Fix(_)]), "{heard:?}");
}

#[test]
fn a_frame_that_is_sound_by_accident_hides_no_sentence() {
    // Two bytes are searched for that make the frame's checksum two characters of the sentence.
    let good = sentence(RMC);
    let stray = |x, y| [&[x, y][..], &good[..20]].concat();
    let accident = (0..=u16::MAX)
        .map(|xy| frame(0x0A, 0x04, &stray(xy as u8, (xy >> 8) as u8)))
        .find(|frame| frame.ends_with(&good[20..22]))
        .unwrap();
    let mut decoder = Decoder::default();
    let heard = hear(&mut decoder, &[&accident, &good[22..]].concat());
    assert!(matches!(heard[..], [Heard::Fix(_)]), "{heard:?}");
    assert_eq!(decoder.counts().ignored, 1);
}

#[test]
fn binary_content_is_never_taken_for_a_broken_sentence() {
    let (other, end) = (frame(0x0A, 0x04, b"\x00$GP\x00$AB"), frame(0x0A, 0x04, b"$*"));
    let mut decoder = Decoder::default();
    assert_eq!(hear(&mut decoder, &[other, end, b"\r\n".to_vec(), sentence("A")].concat()), []);
    assert_eq!(decoder.counts().ignored, 3);
}

#[test]
fn a_sentence_behind_a_false_header_is_taken_at_its_line_end() {
    let stream = [&[0xB5, 0x62, 0x0A, 0x04, 0xFF, 0x01][..], &sentence(RMC)].concat();
    let mut decoder = Decoder::default();
    assert!(matches!(hear(&mut decoder, &stream)[..], [Heard::Fix(_)]));
    // The header is forgotten then: what breaks from here on is reported again.
    assert_eq!(hear(&mut decoder, b"$A*42\r\n"), rejected(Reject::Checksum));
}

#[test]
fn a_frame_behind_a_stray_sync_byte_is_followed() {
    let mut decoder = Decoder::default();
    assert_eq!(hear(&mut decoder, &[&[0xB5][..], &frame(0x0A, 0x04, b"$")].concat()), []);
    assert_eq!(decoder.counts().ignored, 1);
}
