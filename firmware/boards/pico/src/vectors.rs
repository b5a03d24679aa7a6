//! The table of handlers, moved to RAM, so that an interrupt needs nothing from flash.

use core::cell::UnsafeCell;

use rp2040_hal::pac;

/// 16 exceptions and 32 interrupts.
const VECTORS: usize = 48;

/// The table, where the processor wants it: at a multiple of 256.
#[repr(C, align(256))]
struct Table(UnsafeCell<[u32; VECTORS]>);

// SAFETY: written once, before interrupts; afterwards only the processor reads it.
unsafe impl Sync for Table {}

static TABLE: Table = Table(UnsafeCell::new([0; VECTORS]));

/// Copies the table that the linker made and points the processor to the copy. To be called before interrupts are on.
pub fn move_to_ram(ppb: &pac::PPB) {
    let linked = ppb.vtor().read().bits() as *const [u32; VECTORS];
    // SAFETY: the start-up code has set the register to the linked table, which has 48 words; nobody else uses TABLE.
    unsafe { TABLE.0.get().write(linked.read()) };
    cortex_m::asm::dsb();
    // SAFETY: the table is whole and lasts for ever.
    ppb.vtor().write(|w| unsafe { w.bits(TABLE.0.get() as u32) });
}
