//! Who calls whom in a linked program for the Cortex-M0+.
//!
//! Reads the code of each function instruction by instruction: calls and branches that leave it (ARMv6-M
//! Architecture Reference Manual, encodings of BL, B and LDR literal), and every address of a function among the words
//! it loads, which it may call through a register. Data between the code is told apart by the mapping symbols that
//! the ELF carries (ELF for the Arm Architecture, "Mapping symbols").
//!
//! A call through a table that is not among a function's own words, such as one of `dyn` functions, is not seen; the
//! dash has none.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use object::Endianness::Little;
use object::elf::{FileHeader32, PT_LOAD, SHF_EXECINSTR, STT_FUNC};
use object::read::elf::{FileHeader, ProgramHeader, SectionHeader, Sym};

/// A function of the program.
pub struct Function {
    /// Its name, readable.
    pub name: String,
    /// Its first byte.
    pub start: u32,
    end: u32,
}

/// A call, or a branch that leaves a function.
pub struct Call {
    /// The address of the instruction.
    pub at: u32,
    /// The place of the function it stands in.
    pub from: usize,
    /// The place of the function it leads to.
    pub to: usize,
}

/// The program's functions and their calls.
pub struct Calls {
    /// In order of their addresses.
    pub functions: Vec<Function>,
    /// In order of the calling functions.
    pub calls: Vec<Call>,
    /// All that is flashed.
    pub flash_bytes: u64,
    /// All that the linker places in RAM.
    pub static_ram_bytes: u64,
}

impl Calls {
    /// Reads an ELF file.
    pub fn read(elf: &Path) -> Self {
        let bytes = std::fs::read(elf).unwrap();
        let header = FileHeader32::<object::Endianness>::parse(&*bytes).unwrap();
        let sections = header.sections(Little, &*bytes).unwrap();
        let symbols = sections.symbols(Little, &*bytes, object::elf::SHT_SYMTAB).unwrap();
        let (mut functions, mut marks) = (BTreeMap::new(), BTreeMap::new());
        let mut stack_end = 0;
        for symbol in symbols.iter() {
            let name =
                String::from_utf8_lossy(symbols.symbol_name(Little, symbol).unwrap_or_default()).into_owned();
            let address = symbol.st_value(Little);
            match name.as_bytes() {
                [b'$', kind @ (b't' | b'd'), rest @ ..] if rest.is_empty() || rest[0] == b'.' => {
                    marks.insert(address, *kind == b't');
                }
                b"_stack_end" => stack_end = address,
                _ if symbol.st_type() == STT_FUNC => {
                    let start = address & !1;
                    let function =
                        Function { name: readable(&name), start, end: start + symbol.st_size(Little) };
                    functions.entry(start).or_insert(function);
                }
                _ => {}
            }
        }
        let mut memory = Memory::default();
        for section in sections.iter().filter(|section| section.sh_flags(Little) & SHF_EXECINSTR != 0) {
            memory.0.insert(section.sh_addr(Little), section.data(Little, &*bytes).unwrap().to_vec());
        }
        let loaded = header.program_headers(Little, &*bytes).unwrap().iter();
        let flash_bytes = loaded.filter(|segment| segment.p_type(Little) == PT_LOAD);
        let flash_bytes = flash_bytes.map(|segment| u64::from(segment.p_filesz(Little))).sum();
        let functions: Vec<Function> = functions.into_values().collect();
        let calls = Reading { functions: &functions, marks: &marks, memory: &memory }.calls();
        Self { functions, calls, flash_bytes, static_ram_bytes: u64::from(stack_end - 0x2000_0000) }
    }

    /// The place of the first function of which something holds.
    pub fn position(&self, holds: impl Fn(&Function) -> bool) -> Option<usize> {
        self.functions.iter().position(holds)
    }

    /// The functions that call one of these.
    pub fn callers_of<'a>(&'a self, these: &'a BTreeSet<usize>) -> impl Iterator<Item = usize> + 'a {
        self.calls.iter().filter(|call| these.contains(&call.to)).map(|call| call.from)
    }

    /// This function, and all that can be reached from it.
    pub fn reached_from(&self, place: usize) -> BTreeSet<usize> {
        let (mut reached, mut open) = (BTreeSet::from([place]), vec![place]);
        while let Some(place) = open.pop() {
            let next = self.calls.iter().filter(|call| call.from == place).map(|call| call.to);
            open.extend(next.filter(|to| reached.insert(*to)));
        }
        reached
    }
}

fn readable(name: &str) -> String {
    format!("{:#}", rustc_demangle::demangle(name))
}

/// Sections of code, by their addresses.
#[derive(Default)]
struct Memory(BTreeMap<u32, Vec<u8>>);

impl Memory {
    fn half(&self, at: u32) -> Option<u16> {
        let (start, bytes) = self.0.range(..=at).next_back()?;
        let offset = (at - start) as usize;
        Some(u16::from_le_bytes(bytes.get(offset..offset + 2)?.try_into().unwrap()))
    }

    fn word(&self, at: u32) -> Option<u32> {
        Some(u32::from(self.half(at)?) | u32::from(self.half(at + 2)?) << 16)
    }
}

/// A program while it is read.
struct Reading<'a> {
    functions: &'a [Function],
    /// True where code begins, false where data does.
    marks: &'a BTreeMap<u32, bool>,
    memory: &'a Memory,
}

impl Reading<'_> {
    fn calls(&self) -> Vec<Call> {
        let mut calls = Vec::new();
        for (from, function) in self.functions.iter().enumerate() {
            let mut at = function.start;
            while at < function.end.max(function.start + 2) {
                if !self.is_code(at) {
                    at += 2;
                    continue;
                }
                let Some((length, targets)) = self.instruction(at) else { break };
                let outside = targets.filter(|target| !(function.start..function.end).contains(target));
                calls.extend(outside.and_then(|target| self.function_at(target)).map(|to| Call {
                    at,
                    from,
                    to,
                }));
                at += length;
            }
        }
        calls
    }

    fn is_code(&self, at: u32) -> bool {
        self.marks.range(..=at).next_back().is_none_or(|(_, is_code)| *is_code)
    }

    /// The function that begins at or holds an address.
    fn function_at(&self, address: u32) -> Option<usize> {
        let place = self.functions.partition_point(|function| function.start <= address).checked_sub(1)?;
        let function = &self.functions[place];
        (address == function.start || address < function.end).then_some(place)
    }

    /// How long the instruction is, and where it may lead.
    fn instruction(&self, at: u32) -> Option<(u32, Option<u32>)> {
        let first = self.memory.half(at)?;
        let pc = at + 4;
        Some(match first >> 11 {
            // BL, in two halves; other instructions of four bytes do not branch.
            0b11110 => {
                let second = self.memory.half(at + 2)?;
                (4, (second & 0xD000 == 0xD000).then(|| pc.wrapping_add_signed(link_offset(first, second))))
            }
            0b11101 | 0b11111 => (4, None),
            // B without a condition, and with one.
            0b11100 => (2, Some(pc.wrapping_add_signed(signed(u32::from(first & 0x7FF) << 1, 12)))),
            0b11010 | 0b11011 if first >> 8 & 0xF < 0xE => {
                (2, Some(pc.wrapping_add_signed(signed(u32::from(first & 0xFF) << 1, 9))))
            }
            // LDR of a word near by: the address of a function, with the bit that says so.
            0b01001 => {
                let word = self.memory.word((pc & !3) + u32::from(first & 0xFF) * 4)?;
                let start = (word & 1 == 1).then_some(word & !1);
                (2, start.filter(|start| self.functions.binary_search_by_key(start, |f| f.start).is_ok()))
            }
            _ => (2, None),
        })
    }
}

/// The offset of a BL (encoding T1).
fn link_offset(first: u16, second: u16) -> i32 {
    let (first, second) = (u32::from(first), u32::from(second));
    let sign = first >> 10 & 1;
    let bit = |of: u32| u32::from(of & 1 == sign);
    let (one, two) = (bit(second >> 13), bit(second >> 11));
    let offset = sign << 24 | one << 23 | two << 22 | (first & 0x3FF) << 12 | (second & 0x7FF) << 1;
    signed(offset, 25)
}

/// The low `width` bits as a two's complement number.
fn signed(bits: u32, width: u32) -> i32 {
    (bits << (32 - width)) as i32 >> (32 - width)
}

/// Source: ARMv6-M Architecture Reference Manual, BL (T1): F7FF FFFE is a call to itself, F000 F800 to what follows.
#[test]
fn a_call_to_itself_and_one_to_what_follows_are_read_right() {
    assert_eq!(link_offset(0xF7FF, 0xFFFE), -4);
    assert_eq!(link_offset(0xF000, 0xF800), 0);
    assert_eq!(link_offset(0xF001, 0xF801), 0x1002);
}
