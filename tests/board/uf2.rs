//! The file that is dragged onto a Pico holds the flash image of the ELF that was tested, and nothing else.
//!
//! Reads both files, named by `GUNLINE_ELF` and `GUNLINE_UF2`, byte by byte.

use std::collections::BTreeMap;
use std::fs;

use object::Endianness;
use object::elf::{FileHeader32, PT_LOAD};
use object::read::elf::{FileHeader, ProgramHeader};

/// "USB Flashing Format (UF2)", from memory: blocks of 512 bytes, each with these words first and last.
const BLOCK: usize = 512;
const FIRST: [u32; 2] = [0x0A32_4655, 0x9E5D_5157];
const LAST: u32 = 0x0AB1_6F30;
/// The family of the RP2040; a Pico takes no other (from memory).
const RP2040: u32 = 0xE48B_FF56;
/// Where flash lies in the RP2040's address space (its data sheet, address map; from memory).
const FLASH: std::ops::Range<u32> = 0x1000_0000..0x1100_0000;

fn file(variable: &str) -> Vec<u8> {
    let path = std::env::var_os(variable).unwrap_or_else(|| panic!("{variable} is set by `tests/all board`"));
    fs::read(path).unwrap()
}

/// Each byte of flash that the UF2 writes.
fn written_by_uf2(uf2: &[u8]) -> BTreeMap<u32, u8> {
    let mut flash = BTreeMap::new();
    let blocks = uf2.len() / BLOCK;
    for (number, block) in uf2.chunks_exact(BLOCK).enumerate() {
        let word = |at: usize| u32::from_le_bytes(block[at..at + 4].try_into().unwrap());
        assert_eq!([word(0), word(4)], FIRST, "block {number}");
        assert_eq!((word(508), word(28)), (LAST, RP2040), "block {number}");
        assert_eq!((word(20) as usize, word(24) as usize), (number, blocks));
        let (address, size) = (word(12), word(16));
        assert_eq!((address % 256, size), (0, 256), "the boot ROM writes whole pages");
        flash.extend((address..).zip(block[32..288].iter().copied()));
    }
    flash
}

/// Each byte of flash that the ELF's segments fill.
fn filled_by_elf(elf: &[u8]) -> BTreeMap<u32, u8> {
    let header = FileHeader32::<Endianness>::parse(elf).unwrap();
    let endian = header.endian().unwrap();
    assert!(endian == Endianness::Little, "the RP2040 is little-endian");
    let mut flash = BTreeMap::new();
    for segment in header.program_headers(endian, elf).unwrap() {
        let (kind, at) = (segment.p_type(endian), segment.p_paddr(endian));
        if kind == PT_LOAD && FLASH.contains(&at) {
            flash.extend((at..).zip(segment.data(endian, elf).unwrap().iter().copied()));
        }
    }
    flash
}

#[test]
fn the_uf2_writes_the_bytes_of_the_tested_elf_and_pads_pages_with_zeros() {
    let uf2 = file("GUNLINE_UF2");
    assert_eq!(uf2.len() % BLOCK, 0);
    let (written, filled) = (written_by_uf2(&uf2), filled_by_elf(&file("GUNLINE_ELF")));
    assert!(filled.len() > 10_000, "{} bytes of flash", filled.len());
    for (at, byte) in &filled {
        assert_eq!(written.get(at), Some(byte), "at {at:#x}");
    }
    let more: Vec<_> = written.iter().filter(|(at, byte)| !filled.contains_key(at) && **byte != 0).collect();
    assert!(more.is_empty(), "{more:?}");
}
