//! Which program this is: a check sum of all that was flashed, worked out in pieces while the loop turns.
//!
//! Whoever holds the file that was flashed can work out the same number: CRC-32/ISO-HDLC of the catalogue of
//! parametrised CRC algorithms, from the first byte of flash to the last that the linker placed.

use core::ptr::addr_of;
use core::slice;

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

/// So many bytes at a time: 0.2 ms of the loop's turn.
const PIECE: usize = 512;

/// Without a table: it runs once after a start, and nobody waits for it.
static CHECK: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// The check sum in the making.
pub struct Digest {
    rest: &'static [u8],
    sum: Option<crc::Digest<'static, u32, NoTable>>,
    value: u32,
}

impl Digest {
    /// A check sum of nothing yet.
    pub fn new() -> Self {
        Self { rest: flashed(), sum: Some(CHECK.digest()), value: 0 }
    }

    /// Takes the next piece in.
    pub fn turn(&mut self) {
        let Some(sum) = self.sum.as_mut() else { return };
        let (piece, rest) = self.rest.split_at_checked(PIECE).unwrap_or((self.rest, &[]));
        sum.update(piece);
        self.rest = rest;
        if rest.is_empty() {
            self.value = self.sum.take().map_or(0, |sum| sum.finalize());
        }
    }

    /// The check sum; 0 as long as it is not known.
    pub const fn value(&self) -> u32 {
        self.value
    }
}

/// All that was flashed: from the first byte to the end of what is copied to RAM at the start.
fn flashed() -> &'static [u8] {
    unsafe extern "C" {
        static __flash_start: u8;
        static __sidata: u8;
        static __sdata: u8;
        static __edata: u8;
    }
    // SAFETY: the linker's symbols stand in this order, and flash is readable and never written while this runs.
    unsafe {
        let initialised = addr_of!(__edata) as usize - addr_of!(__sdata) as usize;
        let end = addr_of!(__sidata) as usize + initialised;
        slice::from_raw_parts(addr_of!(__flash_start), end - addr_of!(__flash_start) as usize)
    }
}
