//! The dash on a Raspberry Pi Pico: this file brings the board up, and then turns the wheel for ever.
//!
//! ```text
//!   pins, receiver ── stamps ──> wheel ── door ──> dash        (the library; it decides)
//!   probes, shafts ── sensors ──>  │                │
//!                                  │<── decisions ──┘
//!       lamps, beeper <── signs ───┤
//!       display       <── show  ───┤
//!       NOR chip      <── store ───┤
//!       USB           <── host  ───┤
//!       watchdog      <── keeper ──┘
//! ```
//!
//! Interrupt handlers stamp and queue, and nothing else; all work is done in one loop, which sleeps between two
//! turns. What the dash decides is the library's business: this program only carries to and fro.

#![no_std]
#![no_main]
#![deny(missing_docs)]

mod clock;
mod door;
mod host;
mod keeper;
mod last_words;
mod log;
mod pins;
mod probes;
mod program;
mod sensors;
mod show;
mod signs;
mod stacks;
mod stamps;
mod store;
mod usb;
mod vectors;
mod wheel;

use core::mem::MaybeUninit;
use core::ptr::addr_of_mut;

use embedded_hal::spi::MODE_0;
use embedded_hal_bus::spi::ExclusiveDevice;
use firmware::bench::Bench;
use firmware::dash::Dash;
use firmware::engine::suffered::Accounts;
use firmware::input::Input;
use firmware::io::panel::Panel;
use firmware::resume::{self, Boot, Plan, RESTART_SD, Scratch};
use firmware::settings::Settings;
use firmware::shelf::BYTES_MAX;
use firmware::talk::{Restart, Talk};
use rp2040_hal::clocks::{Clock as _, init_clocks_and_plls};
use rp2040_hal::fugit::{HertzU32, RateExtU32 as _};
use rp2040_hal::gpio::{
    FunctionI2C, FunctionSioOutput, FunctionSpi, FunctionUart, Pin, PullNone, PullUp, bank0,
};
use rp2040_hal::spi::Enabled;
use rp2040_hal::uart::{self, DataBits, StopBits, UartConfig, UartPeripheral};
use rp2040_hal::usb::UsbBus;
use rp2040_hal::{self as hal, I2C, Sio, Spi, Timer, Watchdog, pac, pwm};
use usb_device::bus::UsbBusAllocator;

use crate::clock::Clock;
use crate::door::Door;
use crate::host::Host;
use crate::keeper::Keeper;
use crate::pins::Pins;
use crate::probes::Probes;
use crate::sensors::Sensors;
use crate::show::Show;
use crate::signs::Signs;
use crate::stamps::Stamps;
use crate::store::Store;
use crate::usb::Usb;
use crate::wheel::{Own, Wheel};

/// The crystal on the Pico.
const CRYSTAL_HZ: u32 = 12_000_000;
/// What the clocks are set to: as fast as the RP2040 is meant to run.
const SYSTEM_HZ: u32 = 125_000_000;
/// The display's bus: the fastest that its data sheet allows (SSD1306; from memory).
const PANEL_HZ: u32 = 400_000;
/// The storage chip's bus: 10.4 MHz when divided down, which short wires carry well.
const STORE_HZ: u32 = 12_000_000;
/// The thermocouple chips' bus: they stand 5 MHz (MAX31855 data sheet; from memory).
const PROBES_HZ: u32 = 4_000_000;
/// The receiver's line.
const RECEIVER_BAUD: u32 = 115_200;

type PanelBus =
    I2C<pac::I2C0, (Pin<bank0::Gpio4, FunctionI2C, PullUp>, Pin<bank0::Gpio5, FunctionI2C, PullUp>)>;
type StoreWire<Gpio> = Pin<Gpio, FunctionSpi, PullNone>;
type StoreBus =
    Spi<Enabled, pac::SPI0, (StoreWire<bank0::Gpio19>, StoreWire<bank0::Gpio16>, StoreWire<bank0::Gpio18>)>;
type StoreChip = ExclusiveDevice<StoreBus, Pin<bank0::Gpio17, FunctionSioOutput, PullNone>, Timer>;

/// Where everything large stands. Filled by `bring_up`, in this order.
struct Rooms {
    buffer: [u8; BYTES_MAX],
    store: MaybeUninit<Store<StoreChip>>,
    settings: MaybeUninit<Settings>,
    dash: MaybeUninit<Dash>,
    panel: MaybeUninit<Panel<PanelBus>>,
    sensors: MaybeUninit<Sensors>,
    usb: MaybeUninit<UsbBusAllocator<UsbBus>>,
    talk: MaybeUninit<Talk>,
    bench: MaybeUninit<Bench>,
    wheel: MaybeUninit<Wheel<StoreChip, PanelBus>>,
}

static mut ROOMS: Rooms = Rooms {
    buffer: [0; BYTES_MAX],
    store: MaybeUninit::uninit(),
    settings: MaybeUninit::uninit(),
    dash: MaybeUninit::uninit(),
    panel: MaybeUninit::uninit(),
    sensors: MaybeUninit::uninit(),
    usb: MaybeUninit::uninit(),
    talk: MaybeUninit::uninit(),
    bench: MaybeUninit::uninit(),
    wheel: MaybeUninit::uninit(),
};

/// The second stage of the boot loader: sets up the Pico's flash chip, a relative of the W25Q080, to be read in place.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

#[hal::entry]
fn main() -> ! {
    stacks::dive(bring_up)
}

/// Makes everything, and begins to turn.
extern "C" fn bring_up() -> ! {
    // SAFETY: nothing else runs yet, and this runs once. What lives on is reached through the wheel.
    let rooms: &'static mut Rooms = unsafe { &mut *addr_of_mut!(ROOMS) };
    let Rooms { buffer, store, settings, dash, panel, sensors, usb, talk, bench, wheel } = rooms;

    let Some(mut pac) = pac::Peripherals::take() else { stop() };
    let start = last_words::read(&pac.WATCHDOG);
    vectors::move_to_ram(&pac.PPB);

    // The clocks first: everything else is timed by them.
    let mut watchdog = Watchdog::new(pac.WATCHDOG);
    let (oscillator, plls) = (pac.XOSC, (pac.PLL_SYS, pac.PLL_USB));
    let clocks = init_clocks_and_plls(
        CRYSTAL_HZ,
        oscillator,
        pac.CLOCKS,
        plls.0,
        plls.1,
        &mut pac.RESETS,
        &mut watchdog,
    );
    let Ok(clocks) = clocks else { stop() };
    let peripheral = clocks.peripheral_clock.freq();
    let timer = Timer::new(pac.TIMER, &mut pac.RESETS, &clocks);
    let (mut keeper, scratch) = Keeper::new(watchdog);

    // Then what stamps, so that no press is lost while the rest is brought up.
    let bank = Sio::new(pac.SIO).gpio_bank0;
    let pins = Pins::new(hal::gpio::Pins::new(pac.IO_BANK0, pac.PADS_BANK0, bank, &mut pac.RESETS));
    let stamps = listen(pac.UART0, pins.receiver_rx, &mut pac.RESETS, peripheral);

    // What outlived the power, and from it where the clock goes on.
    let bus = Spi::<_, _, _, 8>::new(pac.SPI0, (pins.store_out, pins.store_in, pins.store_clock));
    let bus = bus.init(&mut pac.RESETS, peripheral, STORE_HZ.Hz(), MODE_0);
    let Ok(device) = ExclusiveDevice::new(bus, pins.store_select, timer);
    let store = Store::mount(store, device, timer);
    let (settings_now, settings_from) = store.settings(buffer, settings);
    let plan = go_on(start.restart, scratch, store);
    let suffered = store.newest_suffered();
    let clock = Clock::new(plan.base);
    let mut door = Door::new(door::begin(dash, settings_now), store, bench.write(Bench::new()), clock);
    log::started(start.restart, settings_from, plan.resume.is_some());
    if let Some(resume) = plan.resume {
        door.take(plan.base, Input::Resume(resume));
    }
    if let Some(accounts) = suffered.filter(|accounts| *accounts != Accounts::default()) {
        door.take(plan.base, Input::Suffered(accounts));
    }

    let system = clocks.system_clock.freq();
    let bus = I2C::i2c0(pac.I2C0, pins.panel_sda, pins.panel_scl, PANEL_HZ.Hz(), &mut pac.RESETS, system);
    let show = Show::new(panel, bus, start.words, clock.now());
    let slices = pwm::Slices::new(pac.PWM, &mut pac.RESETS);
    let signs = Signs::new(slices, pins.beeper, (pins.warning_lamp, pins.caution_lamp), pins.heartbeat);
    let bus = Spi::<_, _, _, 8>::new(pac.SPI1, (pins.probe_out, pins.probe_in, pins.probe_clock));
    let bus = bus.init(&mut pac.RESETS, peripheral, PROBES_HZ.Hz(), MODE_0);
    let sensors = Sensors::new(sensors, Probes::new(bus, timer, pins.probe0_select, pins.probe1_select));
    let bus = UsbBus::new(pac.USBCTRL_REGS, pac.USBCTRL_DPRAM, clocks.usb_clock, true, &mut pac.RESETS);
    let host =
        Host::new(Usb::new(usb.write(UsbBusAllocator::new(bus))), talk, door.store.runs(), settings_from);
    let own = Own::new(start.restart, settings_now.gun.debounce);
    keeper.begin();
    wheel.write(Wheel { stamps, sensors, door, show, signs, host, keeper, clock, buffer, own });
    stacks::surface(turn)
}

/// Turns for ever, or until settings have come.
extern "C" fn turn() -> ! {
    let wheel = wheel();
    loop {
        let until = wheel.turn();
        if wheel.host.goes_deep() {
            stacks::dive(judge);
        }
        if wheel.host.has_new_settings() {
            stacks::dive(begin_anew);
        }
        if wheel.is_bench_over() {
            stacks::dive(leave_bench);
        }
        stamps::sleep(wheel.clock, until);
    }
}

/// Judges settings that a host has sent, and goes on turning; perhaps on the bench.
extern "C" fn judge() -> ! {
    // SAFETY: as for `begin_anew`.
    wheel().judge(unsafe { &mut *addr_of_mut!(ROOMS.settings) });
    stacks::surface(turn)
}

/// Leaves the bench for the settings that were in force before, and goes on turning.
extern "C" fn leave_bench() -> ! {
    // SAFETY: as for `begin_anew`; a board on the bench has written them.
    wheel().leave_bench(unsafe { (*addr_of_mut!(ROOMS.settings)).assume_init_ref() });
    stacks::surface(turn)
}

/// Puts new settings into force, and goes on turning.
extern "C" fn begin_anew() -> ! {
    // SAFETY: `bring_up` is over, the loop stands still, and this room is lent to nobody.
    wheel().begin_anew(unsafe { &mut *addr_of_mut!(ROOMS.settings) });
    stacks::surface(turn)
}

/// The wheel, which is made before this is called.
fn wheel() -> &'static mut Wheel<StoreChip, PanelBus> {
    // SAFETY: `bring_up` has written it. The loop and `begin_anew` take turns, and each is over when the other begins.
    unsafe { (*addr_of_mut!(ROOMS.wheel)).assume_init_mut() }
}

/// Where the clock goes on, and what the fresh dash is told.
#[inline(never)]
fn go_on(restart: Restart, scratch: Option<Scratch>, store: &mut Store<StoreChip>) -> Plan {
    let boot = match restart {
        Restart::Power => Boot::Cold,
        Restart::Watchdog | Restart::Panic => Boot::Soft { gap: keeper::GAP, sd: RESTART_SD },
    };
    resume::plan(boot, scratch, store.carried())
}

/// The receiver's line, and with it the interrupts of all lines.
fn listen(
    uart: pac::UART0,
    wire: Pin<bank0::Gpio1, FunctionUart, PullNone>,
    resets: &mut pac::RESETS,
    peripheral: HertzU32,
) -> Stamps {
    // The board only listens: it never tells the receiver anything.
    let wires = uart::Pins::default().rx(wire);
    let config = UartConfig::new(RECEIVER_BAUD.Hz(), DataBits::Eight, None, StopBits::One);
    if let Ok(mut line) = UartPeripheral::new(uart, wires, resets).enable(config, peripheral) {
        // With its buffer of 32 bytes, so that none is lost while interrupts are off. The price on the chip: the last
        // bytes of a message are stamped up to 0.3 ms late.
        line.set_fifos(true);
        line.enable_rx_interrupt();
    }
    Stamps::begin()
}

/// A fault that cannot be. The watchdog does not run yet; the display stays dark.
fn stop() -> ! {
    loop {
        cortex_m::asm::wfi();
    }
}
