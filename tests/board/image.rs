//! The memory of the board's SPI NOR chip as a file holds it: settings go in before a run, the journal comes out.
//!
//! Both are done by the library's own code, on a chip that is never busy and never fails.

use firmware::journal::ring::{Chip, Found, Geometry, PAGE, Ring};
use firmware::settings::Settings;
use firmware::shelf::{Progress, Shelf};

/// A W25Q128: 16 MiB, sectors of 4 KiB.
const SECTORS: u32 = 4_096;
const SECTOR: usize = 4_096;

/// The chip's memory.
pub struct Image(pub Vec<u8>);

impl Image {
    /// A chip as it comes from the shop.
    pub fn blank() -> Self {
        Self(vec![0xFF; SECTORS as usize * SECTOR])
    }

    /// The same with settings on its shelf.
    pub fn with(settings: &Settings) -> Self {
        let mut image = Self::blank();
        let mut buffer = [0; Settings::ENCODED_MAX];
        let (mut shelf, found) = Shelf::load(&mut image, &mut [0; firmware::shelf::BYTES_MAX]).unwrap();
        assert_eq!(found, None);
        shelf.store(settings.encode(&mut buffer)).unwrap();
        for _ in 0..1_000 {
            match shelf.poll(&mut image, true).unwrap() {
                Progress::Stored => return image,
                Progress::Failed => panic!("the shelf refused the settings"),
                _ => {}
            }
        }
        panic!("the shelf never finished");
    }

    /// All frames of the journal, oldest first.
    pub fn journal(&mut self) -> Vec<u8> {
        let (ring, _) = Ring::<16>::mount(self).expect("a journal");
        let (mut cursor, mut page, mut bytes) = (ring.oldest(), [0; PAGE], Vec::new());
        loop {
            match ring.read_back(self, &mut cursor, &mut page).unwrap() {
                Found::Piece(piece) => bytes.extend_from_slice(piece.bytes),
                Found::Nothing => {}
                Found::Busy => panic!("this chip is never busy"),
                Found::End => return bytes,
            }
        }
    }
}

impl Chip for Image {
    type Error = std::convert::Infallible;

    fn geometry(&self) -> Geometry {
        Geometry { sectors: SECTORS, pages_per_sector: (SECTOR / PAGE) as u32 }
    }

    fn is_busy(&mut self) -> Result<bool, Self::Error> {
        Ok(false)
    }

    fn read(&mut self, address: u32, buffer: &mut [u8]) -> Result<(), Self::Error> {
        buffer.copy_from_slice(&self.0[address as usize..][..buffer.len()]);
        Ok(())
    }

    fn begin_program(&mut self, address: u32, page: &[u8; PAGE]) -> Result<(), Self::Error> {
        let cells = &mut self.0[address as usize..][..PAGE];
        cells.iter_mut().zip(page).for_each(|(cell, byte)| *cell &= byte);
        Ok(())
    }

    fn begin_erase(&mut self, address: u32) -> Result<(), Self::Error> {
        self.0[address as usize..][..SECTOR].fill(0xFF);
        Ok(())
    }
}
