//! The chip's language, byte for byte, on a bus that expects exactly that.
//!
//! Source of the commands: Linux kernel, `include/linux/mtd/spi-nor.h` (9Fh, 05h, 03h, 06h, 02h, 20h, 66h,
//! 99h, status bit 0) and its table of chips, `winbond.c` (w25q128: EFh 40h 18h).

use embedded_hal::spi::{ErrorKind, ErrorType};
use embedded_hal_mock::eh1::delay::{CheckedDelay, NoopDelay, Transaction as Wait};
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use std::vec;
use std::vec::Vec;

use super::*;

const W25Q128: [u8; 3] = [0xEF, 0x40, 0x18];

/// One stretch with the chip selected.
fn selected(inner: impl IntoIterator<Item = Transaction<u8>>) -> Vec<Transaction<u8>> {
    let mut all = vec![Transaction::transaction_start()];
    all.extend(inner);
    all.push(Transaction::transaction_end());
    all
}

fn write(bytes: &[u8]) -> Transaction<u8> {
    Transaction::write_vec(bytes.to_vec())
}

fn read(bytes: &[u8]) -> Transaction<u8> {
    Transaction::read_vec(bytes.to_vec())
}

/// The chip is at rest, and is reset.
fn reset() -> Vec<Transaction<u8>> {
    [status(0), selected([write(&[0x66])]), selected([write(&[0x99])])].concat()
}

fn status(is: u8) -> Vec<Transaction<u8>> {
    selected([write(&[0x05]), read(&[is])])
}

fn id(is: [u8; 3]) -> Vec<Transaction<u8>> {
    selected([write(&[0x9F]), read(&is)])
}

/// What a bus sees that starts a chip and then does something with it.
fn after_start(with: impl FnOnce(&mut Nor<Mock<u8>>), then: &[Transaction<u8>]) {
    let expected = [reset(), status(0), id(W25Q128), then.to_vec()].concat();
    let mut bus = Mock::new(&expected);
    let mut nor = Nor::new(bus.clone(), &mut NoopDelay::new()).unwrap();
    with(&mut nor);
    bus.done();
}

fn started_with(expected: &[Transaction<u8>]) -> Result<Geometry, NorFault<ErrorKind>> {
    let mut bus = Mock::new(expected);
    let started = Nor::new(bus.clone(), &mut NoopDelay::new()).map(|nor| nor.geometry());
    bus.done();
    started
}

#[test]
fn the_chip_is_reset_and_asked_who_it_is() {
    after_start(
        |nor| {
            assert_eq!(nor.id(), W25Q128);
            assert_eq!(nor.geometry(), Geometry { sectors: 4096, pages_per_sector: 16 });
        },
        &[],
    );
}

#[test]
fn the_size_follows_from_the_capacity_code() {
    let sectors = |code: u8| {
        let expected = [reset(), status(0), id([0xEF, 0x40, code])].concat();
        started_with(&expected).map(|geometry| geometry.sectors)
    };
    // Powers of two of bytes: 64 KiB, 1 MiB, 8 MiB, 16 MiB.
    assert_eq!([0x10, 0x14, 0x17, 0x18].map(sectors), [Ok(16), Ok(256), Ok(2048), Ok(4096)]);
    assert_eq!([0x19, 0x20].map(sectors), [Ok(4096), Ok(4096)], "three bytes of address reach 16 MiB");
    assert_eq!(sectors(0x0F), Err(NorFault::Unknown([0xEF, 0x40, 0x0F])));
    assert_eq!(sectors(0x21), Err(NorFault::Unknown([0xEF, 0x40, 0x21])));
}

#[test]
fn a_bus_without_a_chip_is_told() {
    for level in [0x00, 0xFF] {
        let reset = [status(level), selected([write(&[0x66])]), selected([write(&[0x99])])].concat();
        let expected = [reset, status(level), id([level; 3])].concat();
        assert_eq!(started_with(&expected), Err(NorFault::Absent));
    }
}

/// Starts a chip that is busy for so many milliseconds before its reset, and after it.
fn started_busy(before: usize, after: usize) -> Result<Geometry, NorFault<ErrorKind>> {
    let busy = |ms: usize, at_most: usize| {
        let end = if ms < at_most { status(0) } else { Vec::new() };
        [vec![status(0x03); ms.min(at_most)].concat(), end].concat()
    };
    let resetting = [selected([write(&[0x66])]), selected([write(&[0x99])])].concat();
    let answer = if after < 500 { id(W25Q128) } else { Vec::new() };
    let mut bus = Mock::new(&[busy(before, 60), resetting, busy(after, 500), answer].concat());
    let waits = |ms: usize| vec![Wait::delay_ms(1); ms];
    let mut delay =
        CheckedDelay::new(&[waits(before.min(60)), vec![Wait::delay_us(400)], waits(after)].concat());
    let started = Nor::new(bus.clone(), &mut delay).map(|nor| nor.geometry());
    bus.done();
    delay.done();
    started
}

#[test]
fn a_chip_may_finish_what_it_was_at_but_not_for_ever() {
    assert!(started_busy(3, 0).is_ok(), "a program");
    assert!(started_busy(59, 0).is_ok(), "an erase");
    assert!(started_busy(60, 0).is_ok(), "a slow erase, cut short");
    assert!(started_busy(60, 340).is_ok(), "a chip that knows no reset");
    assert_eq!(started_busy(60, 500), Err(NorFault::Stuck));
}

#[test]
fn busy_is_the_lowest_bit_of_the_status() {
    let answers = [status(0x00), status(0x01), status(0x03), status(0xFE)].concat();
    after_start(
        |nor| {
            let busy: Vec<bool> = (0..4).map(|_| nor.is_busy().unwrap()).collect();
            assert_eq!(busy, [false, true, true, false]);
        },
        &answers,
    );
}

#[test]
fn reading_sends_three_bytes_of_address_high_byte_first() {
    after_start(
        |nor| {
            let mut bytes = [0; 5];
            nor.read(0x12_34_56, &mut bytes).unwrap();
            assert_eq!(bytes, [1, 2, 3, 4, 5]);
        },
        &selected([write(&[0x03, 0x12, 0x34, 0x56]), read(&[1, 2, 3, 4, 5])]),
    );
}

#[test]
fn programming_is_enabled_first_and_not_waited_for() {
    let page: [u8; PAGE] = core::array::from_fn(|i| i as u8);
    let expected =
        [selected([write(&[0x06])]), selected([write(&[0x02, 0xFF, 0xFF, 0x00]), write(&page)])].concat();
    after_start(|nor| nor.begin_program(0xFF_FF00, &page).unwrap(), &expected);
}

#[test]
fn erasing_is_enabled_first_and_not_waited_for() {
    let expected = [selected([write(&[0x06])]), selected([write(&[0x20, 0xFF, 0xF0, 0x00])])].concat();
    after_start(|nor| nor.begin_erase(0xFF_F000).unwrap(), &expected);
}

#[test]
fn what_begins_at_no_page_or_sector_or_is_not_on_the_chip_never_reaches_the_bus() {
    after_start(
        |nor| {
            let page = [0; PAGE];
            for address in [1, 0x0F_FF80, 0x100_0000, u32::MAX] {
                assert_eq!(nor.begin_program(address, &page), Err(NorFault::Place(address)));
            }
            for address in [0x100, 0x800, 0xFF_FF00, 0x100_0000] {
                assert_eq!(nor.begin_erase(address), Err(NorFault::Place(address)));
            }
            let mut bytes = [0; 2];
            for address in [0xFF_FFFF, u32::MAX] {
                assert_eq!(nor.read(address, &mut bytes), Err(NorFault::Place(address)));
            }
        },
        &[],
    );
}

/// A bus that is not there.
struct Broken;

impl ErrorType for Broken {
    type Error = ErrorKind;
}

impl SpiDevice for Broken {
    fn transaction(&mut self, _: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        Err(ErrorKind::Other)
    }
}

#[test]
fn a_fault_of_the_bus_is_told() {
    let fault = NorFault::Bus(ErrorKind::Other);
    assert_eq!(Nor::new(Broken, &mut NoopDelay::new()).map(|_| ()), Err(fault));
    let mut nor = Nor { spi: Broken, id: W25Q128, bytes: 0x100_0000 };
    assert_eq!(nor.is_busy(), Err(fault));
    assert_eq!(nor.read(0, &mut [0]), Err(fault));
    assert_eq!(nor.begin_program(0, &[0; PAGE]), Err(fault));
    assert_eq!(nor.begin_erase(0), Err(fault));
}
