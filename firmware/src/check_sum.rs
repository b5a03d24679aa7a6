//! The one table for CRC-32, which pages of the journal and frames of the talk share: a kilobyte of flash.
//!
//! Knows nobody. Where nobody waits for a check sum it is worked out without a table instead (`resume`).

/// CRC-32/ISO-HDLC of the catalogue of parametrised CRC algorithms.
pub(crate) static CRC_32: crc::Crc<u32> = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
