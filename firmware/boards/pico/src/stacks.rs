//! Two stacks: one for the loop, and a deep one for the moments when something large is made.
//!
//! To make a dash takes more of the stack than a whole heat does, and so does the lane that judges its settings: both
//! are built there. Those moments have a stack of their own, which lies among the static data and is counted there; so the loop's
//! stack is as deep as a heat needs it, and that can be measured. Neither way comes back: nothing of the stack that is
//! left is needed any more. A boat that is taken over in mid-run has its lanes laid there too, by a call that comes back.
//!
//! Knows the processor's stack pointer and nothing else.

use core::cell::UnsafeCell;
use core::ptr::addr_of;

use crate::last_words;

/// Without a run-in 17.6 kB are used, most of it for a dash that is moved to its room. A run-in with two lanes is larger
/// and is moved to its own: more than 20 kB (`tests/all board` prints how much).
const DEEP_BYTES: usize = if cfg!(feature = "run-in") { 32 } else { 20 } * 1024;

/// Fills the deep stack's end. Where it is gone, the stack was not deep enough, and what lies below may be spoilt.
const MARK: u32 = 0x0DEE_9ACE;

/// So many words of it: a single one is stepped over by a function that leaves part of its frame unwritten.
const MARKS: usize = 256;

/// Memory for the deep stack.
#[repr(C, align(8))]
struct Deep(UnsafeCell<[u8; DEEP_BYTES]>);

// SAFETY: only the processor's stack pointer reaches into it, and there is one core in use.
unsafe impl Sync for Deep {}

// Not cleared at the start: that would cost time.
#[unsafe(link_section = ".uninit.deep_stack")]
#[unsafe(no_mangle)]
static GUNLINE_DEEP_STACK: Deep = Deep(UnsafeCell::new([0; DEEP_BYTES]));

/// What is gone on with.
pub type Next = extern "C" fn() -> !;

/// Goes on with `next` on the deep stack.
pub fn dive(next: Next) -> ! {
    // SAFETY: the address is the end of memory that is a stack and nothing else, a multiple of 8, and whoever used it
    // before has gone on elsewhere. `next` is code.
    unsafe {
        (0..MARKS).for_each(|word| end_of_deep().add(word).write_volatile(MARK));
        cortex_m::asm::bootstrap(
            GUNLINE_DEEP_STACK.0.get().cast::<u8>().add(DEEP_BYTES).cast(),
            next as *const u32,
        )
    }
}

/// Goes on with `next` on the loop's stack.
pub fn surface(next: Next) -> ! {
    unsafe extern "C" {
        static _stack_start: u32;
    }
    whole();
    // SAFETY: the linker's symbol is the end of the stack that the program began on; what stood there is abandoned.
    unsafe { cortex_m::asm::bootstrap(addr_of!(_stack_start), next as *const u32) }
}

/// Calls a function on the deep stack and comes back. From the deep stack it is an ordinary call.
pub fn lend<T>(work: &mut T, call: extern "C" fn(&mut T)) {
    let here = cortex_m::register::msp::read();
    let (end, start) = (end_of_deep() as u32, end_of_deep() as u32 + DEEP_BYTES as u32);
    if (end..=start).contains(&here) {
        return call(work);
    }
    // SAFETY: the deep stack is used by nobody while the loop turns, its start is a multiple of 8, and the loop's stack is
    // put back by a register that any call preserves. Handlers go on with whatever stack they find.
    unsafe {
        (0..MARKS).for_each(|word| end_of_deep().add(word).write_volatile(MARK));
        core::arch::asm!(
            "mov r5, sp",
            "mov sp, r4",
            "blx r1",
            "mov sp, r5",
            in("r0") core::ptr::from_mut(work),
            in("r1") call,
            in("r4") start,
            out("r5") _,
            clobber_abi("C"),
        );
    }
    whole();
}

/// Says so if the deep stack was used up.
fn whole() {
    // SAFETY: whoever dives has written them, and they lie within the stack.
    if (0..MARKS).any(|word| unsafe { end_of_deep().add(word).read_volatile() } != MARK) {
        last_words::say(format_args!("the deep stack is not deep enough"));
    }
}

/// The first of the words that the deep stack may not reach.
const fn end_of_deep() -> *mut u32 {
    GUNLINE_DEEP_STACK.0.get().cast()
}
