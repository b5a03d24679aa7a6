//! Settings as a file that a board takes: checked once, then carried as bytes.
//!
//! A packed file is a line of text that says what it is, the length of the settings in two bytes (low byte first),
//! the settings as the dash's own code writes them, and the CRC-32 of all before it. A file that is something
//! else, or is damaged, is refused and never sent.
//!
//! Settings in, bytes out, and back.

use std::path::Path;

use firmware::settings::{SETTINGS_VERSION, Settings, SettingsFault};

use crate::scenario::{self, Mistake, Report};

/// The first line of a packed file; its number is the wrapping's version.
const TITLE: &[u8] = b"gunline settings 1\n";

/// What every packed file begins with, whatever its wrapping.
const BEGINNING: &[u8] = b"gunline settings ";

/// CRC-32/ISO-HDLC of the catalogue of parametrised CRC algorithms.
const CRC: crc::Crc<u32> = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);

/// Why a file's settings cannot be had.
#[derive(Debug, thiserror::Error)]
pub enum NoSettings {
    /// It is a settings file, and this is wrong with it.
    #[error("{0}")]
    Wrong(Report),
    /// It is packed, but not as it was written.
    #[error("the packed settings are damaged: pack them again")]
    Damaged,
    /// It is packed and whole, but of another version.
    #[error(
        "the packed settings are of version {0}; this program reads version {SETTINGS_VERSION}: pack them again from \
the settings file"
    )]
    Version(u16),
    /// It is packed in another wrapping.
    #[error(
        "the settings are packed in a way that this program does not know: pack them again from the settings file"
    )]
    Wrapping,
    /// It is packed and whole, and still not in order.
    #[error("the packed settings are refused by the dash: {0:?}")]
    Refused(SettingsFault),
}

/// The packed form of settings.
#[must_use]
pub fn pack(settings: &Settings) -> Vec<u8> {
    let mut buffer = [0; Settings::ENCODED_MAX];
    let encoded = settings.encode(&mut buffer);
    let len = u16::try_from(encoded.len()).unwrap_or_default();
    let mut packed = [TITLE, &len.to_le_bytes(), encoded].concat();
    packed.extend(CRC.checksum(&packed).to_le_bytes());
    packed
}

/// Reads what [`pack`] wrote; `None` when it is something else altogether.
///
/// # Errors
/// Why a packed file's settings cannot be had.
pub fn unpack(bytes: &[u8]) -> Option<Result<Settings, NoSettings>> {
    bytes.starts_with(BEGINNING).then(|| {
        if !bytes.starts_with(TITLE) {
            return Err(NoSettings::Wrapping);
        }
        let content = content(bytes).ok_or(NoSettings::Damaged)?;
        let settings = Settings::decode(content).ok_or(match Settings::version_of(content) {
            Some(version) if version != SETTINGS_VERSION => NoSettings::Version(version),
            _ => NoSettings::Damaged,
        })?;
        settings.check().map_err(NoSettings::Refused)?;
        Ok(settings)
    })
}

/// What stands between length and check sum, if both are right.
fn content(bytes: &[u8]) -> Option<&[u8]> {
    let (summed, sum) = bytes.split_last_chunk()?;
    let (len, content) = summed.get(TITLE.len()..)?.split_first_chunk()?;
    let is_whole = usize::from(u16::from_le_bytes(*len)) == content.len();
    (is_whole && u32::from_le_bytes(*sum) == CRC.checksum(summed)).then_some(content)
}

/// Reads settings from a file of either kind: packed, or the text of a settings file. With them comes what was read
/// as something newer.
///
/// # Errors
/// Why they cannot be had.
pub fn read(path: &Path) -> Result<(Settings, Vec<Mistake>), NoSettings> {
    let packed = scenario::disk(path).ok().and_then(|bytes| unpack(&bytes));
    match packed {
        Some(settings) => settings.map(|settings| (settings, Vec::new())),
        None => scenario::load_settings_noting(path).map_err(NoSettings::Wrong),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

    use super::*;

    #[test]
    fn settings_come_back_as_they_were_packed() {
        let settings = Settings::bare();
        assert_eq!(unpack(&pack(&settings)).unwrap().unwrap(), settings);
    }

    #[test]
    fn a_file_of_another_kind_is_not_taken_for_packed_settings() {
        assert!(unpack(b"[course]\nlaps = 3\n").is_none());
        assert!(unpack(&pack(&Settings::bare())[1..]).is_none());
        assert!(unpack(b"").is_none());
    }

    #[test]
    fn no_changed_byte_and_no_shorter_file_is_taken() {
        let packed = pack(&Settings::bare());
        for at in TITLE.len()..packed.len() {
            let mut damaged = packed.clone();
            damaged[at] ^= 0x10;
            assert!(matches!(unpack(&damaged), Some(Err(NoSettings::Damaged))), "byte {at}");
            assert!(matches!(unpack(&packed[..at]), Some(Err(NoSettings::Damaged))), "cut at {at}");
        }
    }

    /// The words that an owner reads who kept a packed file from an older program.
    #[test]
    fn settings_of_another_version_say_which_they_are_and_what_to_do() {
        for version in [SETTINGS_VERSION - 1, SETTINGS_VERSION + 1] {
            let other = Settings { version, ..Settings::bare() };
            let told = unpack(&pack(&other)).unwrap().unwrap_err().to_string();
            assert!(
                told.contains(&format!(
                    "of version {version}; this program reads version {SETTINGS_VERSION}"
                )),
                "{told}"
            );
            assert!(told.contains("pack them again from the settings file"), "{told}");
        }
        let mut wrapped = pack(&Settings::bare());
        wrapped[BEGINNING.len()] = b'2';
        assert!(matches!(unpack(&wrapped), Some(Err(NoSettings::Wrapping))));
    }

    #[test]
    fn settings_that_the_dash_would_refuse_are_not_read_from_a_packed_file() {
        let mut settings = Settings::bare();
        settings.race.laps = 0;
        assert!(matches!(unpack(&pack(&settings)), Some(Err(NoSettings::Refused(SettingsFault::Laps)))));
    }
}
