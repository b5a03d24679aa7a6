//! What tests of this room feed and hear: sentences and frames with their checksums.
//!
//! Only tests use this. The checksums are computed here once more, apart from the decoder's own.

extern crate std;

use std::vec::Vec;

use super::{Decoder, Fix, Heard};

/// A sentence with its checksum and line end.
pub(super) fn sentence(content: &str) -> Vec<u8> {
    let sum = content.bytes().fold(0, |sum, byte| sum ^ byte);
    std::format!("${content}*{sum:02X}\r\n").into_bytes()
}

/// A UBX frame with its checksum.
pub(super) fn frame(class: u8, id: u8, payload: &[u8]) -> Vec<u8> {
    let mut bytes = std::vec![0xB5, 0x62, class, id];
    bytes.extend(u16::try_from(payload.len()).unwrap().to_le_bytes());
    bytes.extend(payload);
    let (a, b) = bytes.iter().skip(2).fold((0_u32, 0_u32), |(a, b), byte| {
        let a = a + u32::from(*byte);
        (a, b + a)
    });
    bytes.extend([(a % 256) as u8, (b % 256) as u8]);
    bytes
}

/// The payload of a NAV-PVT that the receiver vouches for, at 2026-07-11 19:00:00, with `noise` in the fields
/// that may hold anything.
pub(super) fn nav_pvt(noise: &[u8; 92]) -> [u8; 92] {
    let mut payload = *noise;
    payload[4..12].copy_from_slice(&[0xEA, 0x07, 7, 11, 19, 0, 0, 0x07]);
    payload[16..24].copy_from_slice(&[0, 0, 0, 0, 3, 0x01, 0xE0, 18]);
    payload[24..28].copy_from_slice(&(-1_222_500_000_i32).to_le_bytes());
    payload[28..32].copy_from_slice(&475_800_000_i32.to_le_bytes());
    payload[78] &= 0xFE;
    payload
}

/// Everything a decoder says to these bytes.
pub(super) fn hear(decoder: &mut Decoder, bytes: &[u8]) -> Vec<Heard> {
    bytes.iter().filter_map(|byte| decoder.push(*byte)).collect()
}

/// The fixes that a new decoder makes of these sentences, each given without `$` and checksum.
pub(super) fn fixes(contents: &[&str]) -> Vec<Fix> {
    let bytes: Vec<u8> = contents.iter().flat_map(|content| sentence(content)).collect();
    let heard = hear(&mut Decoder::default(), &bytes);
    let fix = |heard| match heard {
        Heard::Fix(fix) => fix,
        Heard::Rejected(why) => panic!("rejected: {why:?}"),
    };
    heard.into_iter().map(fix).collect()
}
