//! Which program this is: a check sum of all that was flashed, worked out in pieces while the loop turns.
//!
//! Whoever holds the file that was flashed can work out the same number: CRC-32/ISO-HDLC of the catalogue of
//! parametrised CRC algorithms, over the bytes of the ELF's segments in flash, in the order of their addresses. What
//! fills the gap between two segments is left out: that is up to the tool that flashes.

use core::ptr::addr_of;
use core::slice;

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

/// So many bytes at a time: 0.8 ms of the loop's turn, while no clock runs.
const PIECE: usize = 2_048;

/// Without a table: it runs once after a start, and nobody waits for it.
static CHECK: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// The check sum in the making.
pub struct Digest {
    /// What is still to be read: code with its constants, then what is copied to RAM at the start.
    rest: [&'static [u8]; 2],
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
        let Some(part) = self.rest.iter_mut().find(|part| !part.is_empty()) else {
            self.value = self.sum.take().map_or(0, |sum| sum.finalize());
            return;
        };
        let (piece, rest) = part.split_at_checked(PIECE).unwrap_or((part, &[]));
        sum.update(piece);
        *part = rest;
    }

    /// The check sum; 0 as long as it is not known.
    pub const fn value(&self) -> u32 {
        self.value
    }
}

/// All that was flashed.
fn flashed() -> [&'static [u8]; 2] {
    unsafe extern "C" {
        static __flash_start: u8;
        static __erodata: u8;
        static __sidata: u8;
        static __sdata: u8;
        static __edata: u8;
    }
    // SAFETY: the linker's symbols stand in this order, and flash is readable and never written while this runs.
    unsafe {
        let code = addr_of!(__erodata) as usize - addr_of!(__flash_start) as usize;
        let initialised = addr_of!(__edata) as usize - addr_of!(__sdata) as usize;
        [
            slice::from_raw_parts(addr_of!(__flash_start), code),
            slice::from_raw_parts(addr_of!(__sidata), initialised),
        ]
    }
}
