//! What happens at the pins, stamped at the moment it happens.
//!
//! Every handler of this program stands here. They run from RAM, as does the vector table, so that no miss of the
//! flash's cache delays a stamp, and they do no more than must be done at once: read the timer first, queue, and
//! say whether it is worth waking the loop for. What found no room is counted.
//!
//! All handlers have one priority, so none interrupts another: each queue has one writer (the handlers) and one
//! reader (the loop). Pins and bytes in, stamped events out.

use core::cell::UnsafeCell;
use core::ptr::addr_of_mut;
use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use cortex_m::peripheral::NVIC;
use firmware::engine::tach;
use firmware::input::{Pulses, TURNS};
use firmware::io::lookout::Lookout;
use firmware::io::pulses::Counter;
use firmware::units::{Instant, Span};
use heapless::spsc::{Consumer, Producer, Queue};
use rp2040_hal::pac::{self, Interrupt, interrupt};

use crate::clock::{self, Clock};
use crate::pins::{
    ACKNOWLEDGE, BUTTON, GUN_CONTACT, IGNITER, N1, N2, PAGE, PPS, START_FUEL, STARTER_HIGH, STARTER_LOW,
    Watched,
};

/// An edge of a button, a contact or the pulse per second.
#[derive(Clone, Copy)]
pub struct Edge {
    /// The bare timer when the handler began.
    pub raw: u64,
    /// Whose.
    pub pin: Watched,
    /// The button went down, the contact closed, the second began.
    pub active: bool,
}

/// A byte from the receiver.
#[derive(Clone, Copy)]
pub struct Byte {
    /// The bare timer when the handler took it.
    pub raw: u64,
    /// The byte.
    pub byte: u8,
}

/// What [`Stamps::next`] gives.
pub enum Event {
    /// From a pin.
    Edge(Edge),
    /// From the receiver.
    Byte(Byte),
}

/// Edges that can wait, and one place more, which a queue of this kind needs. A button that bounces makes some ten
/// in 5 ms (common practice, no source), and the loop takes them every few milliseconds.
type Edges = Queue<Edge, 65>;

/// Bytes that can wait, and one place more: 22 ms at 115200 baud, longer than the longest turn of the loop.
type Bytes = Queue<Byte, 257>;

/// With so many bytes waiting the loop is woken though the receiver has not paused yet.
const BYTES_ENOUGH: usize = 128;

/// A receiver that is silent for so long has ended its message: ten bytes' time at 115200 baud.
const QUIET_US: u32 = 870;

/// Something has happened that the loop should look at.
static WOKEN: AtomicBool = AtomicBool::new(true);

/// The USB controller has something for the loop.
static HOST: AtomicBool = AtomicBool::new(false);

/// Events that found no room in a queue, and bytes that the UART itself had no room for.
#[unsafe(no_mangle)]
static GUNLINE_OVERFLOWS: AtomicU32 = AtomicU32::new(0);

/// The handlers' ends of the queues.
struct Writers {
    edges: Producer<'static, Edge>,
    bytes: Producer<'static, Byte>,
}

static mut WRITERS: Option<Writers> = None;

/// The loop's ends of the queues.
pub struct Stamps {
    edges: Consumer<'static, Edge>,
    bytes: Consumer<'static, Byte>,
}

impl Stamps {
    /// Joins the queues to the handlers and lets the interrupts through. To be called once.
    pub fn begin() -> Self {
        static mut EDGES: Edges = Queue::new();
        static mut BYTES: Bytes = Queue::new();
        // SAFETY: called once, before any interrupt is unmasked: nobody else holds a reference to the three statics,
        // and afterwards only handlers use WRITERS.
        let (edges, bytes) = unsafe {
            let (edges_in, edges) = (*addr_of_mut!(EDGES)).split();
            let (bytes_in, bytes) = (*addr_of_mut!(BYTES)).split();
            WRITERS = Some(Writers { edges: edges_in, bytes: bytes_in });
            (edges, bytes)
        };
        watch(BUTTON, EITHER);
        watch(GUN_CONTACT, EITHER);
        watch(ACKNOWLEDGE, EITHER);
        watch(PAGE, EITHER);
        watch(IGNITER, EITHER);
        watch(STARTER_LOW, EITHER);
        watch(STARTER_HIGH, EITHER);
        watch(START_FUEL, EITHER);
        watch(PPS, PPS.becomes_active());
        watch(N1, N1.becomes_active());
        watch(N2, N2.becomes_active());
        clock::enable_alarms();
        for line in
            [Interrupt::IO_IRQ_BANK0, Interrupt::UART0_IRQ, Interrupt::TIMER_IRQ_0, Interrupt::TIMER_IRQ_1]
        {
            // SAFETY: the handlers have what they need, and no critical section is open.
            unsafe { NVIC::unmask(line) };
        }
        Self { edges, bytes }
    }

    /// The next edge or byte, whichever came first.
    pub fn next(&mut self) -> Option<Event> {
        match (self.edges.peek(), self.bytes.peek()) {
            (Some(edge), Some(byte)) if byte.raw < edge.raw => self.bytes.dequeue().map(Event::Byte),
            (None, _) => self.bytes.dequeue().map(Event::Byte),
            _ => self.edges.dequeue().map(Event::Edge),
        }
    }
}

/// Events lost so far for want of room.
pub fn overflows() -> u32 {
    GUNLINE_OVERFLOWS.load(Ordering::Relaxed)
}

/// Whether the USB controller has had something for the loop since the last call.
pub fn host_calls() -> bool {
    let calls = HOST.load(Ordering::Relaxed);
    HOST.store(false, Ordering::Relaxed);
    calls
}

/// Lets the USB controller speak up again.
pub fn hear_host() {
    // SAFETY: its handler only masks it again and wakes the loop; no critical section is open.
    unsafe { NVIC::unmask(Interrupt::USBCTRL_IRQ) };
}

/// Sleeps until something has happened, or until `until`.
///
/// Race-free: with interrupts off nothing can slip in between the look and the sleep, and an interrupt that is
/// pending ends the sleep all the same; its handler runs when interrupts are on again, before the next look.
pub fn sleep(clock: Clock, until: Instant) {
    let mut may_sleep = clock.wake_at(until);
    while may_sleep {
        cortex_m::interrupt::disable();
        may_sleep = !WOKEN.load(Ordering::Relaxed);
        if may_sleep {
            cortex_m::asm::wfi();
        }
        // SAFETY: no critical section is open: the loop sleeps between two pieces of work.
        unsafe { cortex_m::interrupt::enable() };
    }
    // Before the loop looks at the queues: what comes while it does wakes it again.
    WOKEN.store(false, Ordering::Relaxed);
}

/// Wakes the loop.
#[inline(always)]
fn wake() {
    WOKEN.store(true, Ordering::Relaxed);
}

#[inline(always)]
fn overflow() {
    let lost = GUNLINE_OVERFLOWS.load(Ordering::Relaxed);
    GUNLINE_OVERFLOWS.store(lost.saturating_add(1), Ordering::Relaxed);
}

/// The handlers' ends of the queues, in a handler.
#[inline(always)]
fn writers() -> Option<&'static mut Writers> {
    // SAFETY: only handlers call this, each for as long as it runs, and none interrupts another.
    unsafe { (*addr_of_mut!(WRITERS)).as_mut() }
}

/// The interrupt flags of one GPIO, four to each: level low, level high, edge low, edge high.
const FELL: u32 = 0b0100;
const ROSE: u32 = 0b1000;
const EITHER: u32 = FELL | ROSE;

impl Watched {
    /// Which of the four flags lie in which register: eight GPIOs a register.
    const fn place(self) -> (usize, u32) {
        ((self.gpio / 8) as usize, (self.gpio as u32 % 8) * 4)
    }

    /// The flag of the edge with which this pin begins to mean something.
    const fn becomes_active(self) -> u32 {
        if self.active_low { FELL } else { ROSE }
    }
}

/// Clears a pin's old edges and lets new ones through. Inlined, so that the register's number is a constant.
#[inline(always)]
fn watch(pin: Watched, edges: u32) {
    let (register, shift) = pin.place();
    // SAFETY: a flag is cleared by writing one to it; the other pins' flags get a zero, which does nothing.
    io().intr(register).write(|w| unsafe { w.bits(EITHER << shift) });
    // SAFETY: adds to what is enabled; the interrupt itself is still masked.
    io().proc0_inte(register).modify(|r, w| unsafe { w.bits(r.bits() | edges << shift) });
}

#[inline(always)]
fn io() -> &'static pac::io_bank0::RegisterBlock {
    // SAFETY: the interrupt registers of this block are used by this file alone.
    unsafe { &*pac::IO_BANK0::ptr() }
}

/// A pin's edges since the last look, and takes them off.
#[inline(always)]
fn taken(pin: Watched) -> u32 {
    let (register, shift) = pin.place();
    let edges = io().proc0_ints(register).read().bits() >> shift & EITHER;
    if edges != 0 {
        // SAFETY: see `watch`.
        io().intr(register).write(|w| unsafe { w.bits(edges << shift) });
    }
    edges
}

#[interrupt]
#[unsafe(link_section = ".data.ram.io")]
fn IO_IRQ_BANK0() {
    let raw = clock::raw();
    let Some(writers) = writers() else { return };
    line(writers, raw, BUTTON);
    line(writers, raw, GUN_CONTACT);
    if taken(PPS) != 0 {
        put_edge(writers, Edge { raw, pin: PPS, active: true });
    }
    if taken(N1) != 0 {
        N1_SHAFT.edge(raw);
    }
    if taken(N2) != 0 {
        N2_SHAFT.edge(raw);
        if N2_TURNS.edge(raw) {
            wake();
        }
    }
    line(writers, raw, ACKNOWLEDGE);
    line(writers, raw, PAGE);
    line(writers, raw, IGNITER);
    line(writers, raw, STARTER_LOW);
    line(writers, raw, STARTER_HIGH);
    line(writers, raw, START_FUEL);
}

/// A line with two edges. When both came since the last look, the one that led away from where it stands now came
/// first.
#[inline(always)]
fn line(writers: &mut Writers, raw: u64, pin: Watched) {
    let edges = taken(pin);
    if edges == 0 {
        return;
    }
    // SAFETY: reading the pins' levels has no side effects.
    let is_high = unsafe { &*pac::SIO::ptr() }.gpio_in().read().bits() >> pin.gpio & 1 != 0;
    let ends_high = if edges == EITHER { is_high } else { edges == ROSE };
    if edges == EITHER {
        put_edge(writers, Edge { raw, pin, active: ends_high == pin.active_low });
    }
    put_edge(writers, Edge { raw, pin, active: ends_high != pin.active_low });
}

/// Once and in RAM like its callers.
#[inline(never)]
#[unsafe(link_section = ".data.ram.put_edge")]
fn put_edge(writers: &mut Writers, edge: Edge) {
    if writers.edges.enqueue(edge).is_err() {
        overflow();
    }
    wake();
}

/// Takes all bytes that the UART has. The loop is woken when the receiver pauses or enough have gathered.
#[interrupt]
#[unsafe(link_section = ".data.ram.uart")]
fn UART0_IRQ() {
    let raw = clock::raw();
    let Some(writers) = writers() else { return };
    // SAFETY: after bring-up only this handler uses the UART.
    let uart = unsafe { &*pac::UART0::ptr() };
    while uart.uartfr().read().rxfe().bit_is_clear() {
        let data = uart.uartdr().read();
        if data.oe().bit_is_set() {
            overflow();
        }
        if writers.bytes.enqueue(Byte { raw, byte: data.data().bits() }).is_err() {
            overflow();
        }
    }
    clock::quiet_after(raw, QUIET_US);
    if writers.bytes.len() >= BYTES_ENOUGH {
        wake();
    }
}

/// The moment has come for which the loop asked.
#[interrupt]
#[unsafe(link_section = ".data.ram.alarm")]
fn TIMER_IRQ_0() {
    clock::silence();
    wake();
}

/// A host wants something. What it is takes longer than a handler may: the loop sees to it, and until it has, this
/// interrupt stays off.
#[interrupt]
#[unsafe(link_section = ".data.ram.usb")]
fn USBCTRL_IRQ() {
    NVIC::mask(Interrupt::USBCTRL_IRQ);
    HOST.store(true, Ordering::Relaxed);
    wake();
}

/// The receiver has paused.
#[interrupt]
#[unsafe(link_section = ".data.ram.quiet")]
fn TIMER_IRQ_1() {
    clock::silence_quiet();
    wake();
}

/// A shaft's pickup: the handler counts its edges, the loop takes the reports away.
pub struct Shaft(UnsafeCell<Counter>);

// SAFETY: the counter is used by handlers, none of which interrupts another, and by the loop with interrupts off.
unsafe impl Sync for Shaft {}

/// The gas generator's pickup.
pub static N1_SHAFT: Shaft = Shaft::new();
/// The power shaft's pickup.
pub static N2_SHAFT: Shaft = Shaft::new();

impl Shaft {
    const fn new() -> Self {
        Self(UnsafeCell::new(Counter::new()))
    }

    /// In the handler: an edge. Counters only ever see differences, so the bare timer will do. Once and in RAM like its
    /// caller.
    #[inline(never)]
    #[unsafe(link_section = ".data.ram.edge")]
    fn edge(&self, raw: u64) {
        // SAFETY: see above.
        unsafe { (*self.0.get()).edge(Instant::from_micros(raw)) }
    }

    /// What came since the last report.
    pub fn report(&self) -> Pulses {
        // SAFETY: see above.
        cortex_m::interrupt::free(|_| unsafe { (*self.0.get()).report() })
    }

    /// Whether an edge has ever come.
    pub fn is_heard(&self) -> bool {
        // SAFETY: see above.
        cortex_m::interrupt::free(|_| unsafe { (*self.0.get()).is_heard() })
    }
}

/// The power shaft's turns: the handler times each, the loop takes away what is news.
pub struct Turns(UnsafeCell<Lookout>);

// SAFETY: as for `Shaft`.
unsafe impl Sync for Turns {}

/// Those of the power shaft. It says nothing until it is told what to look out for.
pub static N2_TURNS: Turns = Turns(UnsafeCell::new(Lookout::idle()));

impl Turns {
    /// In the handler: an edge; true when the loop should look. Once and in RAM like its caller.
    #[inline(never)]
    #[unsafe(link_section = ".data.ram.turn")]
    fn edge(&self, raw: u64) -> bool {
        // SAFETY: see above.
        unsafe { (*self.0.get()).edge(Instant::from_micros(raw)) }
    }

    /// Looks out for this from now on.
    pub fn look_out(&self, watched: &tach::Watched) {
        let lookout = Lookout::new(watched);
        // SAFETY: see above.
        cortex_m::interrupt::free(|_| unsafe { *self.0.get() = lookout });
    }

    /// The last turns, if they are news and may be believed by now.
    pub fn take(&self, now: Instant) -> Option<[Span; TURNS]> {
        // SAFETY: see above.
        cortex_m::interrupt::free(|_| unsafe { (*self.0.get()).take(now) })
    }

    /// When news may be believed, on the bare timer.
    pub fn due(&self) -> Option<Instant> {
        // SAFETY: see above.
        cortex_m::interrupt::free(|_| unsafe { (*self.0.get()).due() })
    }

    /// A regular report was made. Its one long division holds interrupts up for some microseconds, twenty times a
    /// second.
    pub fn renew(&self) {
        // SAFETY: see above.
        cortex_m::interrupt::free(|_| unsafe { (*self.0.get()).renew() });
    }
}
