//! From which source a place in the program comes, through all inlining.
//!
//! Knows the debug information of the ELF (DWARF) by way of a library. Addresses in, origins out.

use std::path::Path;

use addr2line::Context;
use addr2line::gimli::{Dwarf, EndianSlice, LittleEndian, SectionId};
use object::Endianness::Little;
use object::elf::FileHeader32;
use object::read::elf::{FileHeader, SectionHeader};

/// Whose source it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// The language's own.
    Core,
    /// A library, by its name.
    Library(String),
    /// This project's.
    Ours,
    /// Nobody says: assembly, or what the compiler adds.
    Unknown,
}

/// The program's debug information.
pub struct Origins(Context<EndianSlice<'static, LittleEndian>>);

impl Origins {
    /// Reads it from an ELF file.
    pub fn read(elf: &Path) -> Self {
        // Kept until the tests end: what is looked up borrows from it.
        let bytes: &'static [u8] = std::fs::read(elf).unwrap().leak();
        let header = FileHeader32::<object::Endianness>::parse(bytes).unwrap();
        let sections = header.sections(Little, bytes).unwrap();
        let section = |id: SectionId| -> Result<_, addr2line::gimli::Error> {
            let found = sections.section_by_name(Little, id.name().as_bytes());
            let data = found.map_or(&[][..], |(_, section)| section.data(Little, bytes).unwrap());
            Ok(EndianSlice::new(data, LittleEndian))
        };
        Self(Context::from_dwarf(Dwarf::load(section).unwrap()).unwrap())
    }

    /// Whose the function is that holds an address, whatever was inlined there.
    pub fn outermost(&self, address: u32) -> Origin {
        self.frames(address).pop().map_or(Origin::Unknown, |(origin, _)| origin)
    }

    /// Who wrote what happens at an address: the innermost source that is not the language's own, and what it is.
    pub fn written_at(&self, address: u32) -> (Origin, String) {
        let frames = self.frames(address);
        let found = frames.iter().find(|(origin, _)| *origin != Origin::Core);
        found.or(frames.last()).cloned().unwrap_or((Origin::Unknown, format!("{address:#x}")))
    }

    /// What was inlined at an address, innermost first.
    fn frames(&self, address: u32) -> Vec<(Origin, String)> {
        let mut frames = Vec::new();
        let mut found = self.0.find_frames(u64::from(address)).skip_all_loads().unwrap();
        while let Some(frame) = found.next().unwrap() {
            let (file, line) =
                frame.location.map_or(("", 0), |place| (place.file.unwrap_or(""), place.line.unwrap_or(0)));
            let name =
                frame.function.map(|function| function.demangle().unwrap().into_owned()).unwrap_or_default();
            frames.push((origin(file), format!("{name} at {file}:{line}")));
        }
        frames
    }
}

/// By the path of a source file: the language's lies under `library`, libraries under the registry's sources.
fn origin(file: &str) -> Origin {
    let library = file.split_once("/registry/src/").and_then(|(_, path)| path.split('/').nth(1));
    match library {
        _ if file.is_empty() => Origin::Unknown,
        Some(library) => {
            Origin::Library(library.rsplit_once('-').map_or(library, |(name, _)| name).to_owned())
        }
        None if file.contains("/library/core/") || file.contains("/library/alloc/") => Origin::Core,
        None if file.contains("compiler-builtins") || file.contains("compiler_builtins") => Origin::Core,
        None => Origin::Ours,
    }
}
