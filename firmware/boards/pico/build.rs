//! Makes what the program cannot say itself: the memory map and the typed pins.
//!
//! With `GUNLINE_BUDGETS` set, as `tests/all` does with the compiler that the budgets are measured on, they are the memory
//! map's limits and the linker refuses a larger program. Another compiler's core may be larger: it gets what the chip has.
//! Reads `budgets.toml` and `pins.toml`; writes `memory.x` for the linker and `pins.rs` for the program.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs};

use serde::Deserialize;

/// `budgets.toml`, as far as the linker can hold the program to it.
#[derive(Deserialize)]
struct Budgets {
    #[serde(flatten)]
    whole: Limits,
    without_run_in: Limits,
}

/// What a program may cost.
#[derive(Deserialize)]
struct Limits {
    flash_bytes: u32,
    static_ram_bytes: u32,
}

/// What a Pico has: 2 MiB of flash, and all memory but a stack of 16 KiB.
const THE_CHIP: Limits = Limits { flash_bytes: 2 << 20, static_ram_bytes: 248 << 10 };

/// `pins.toml`.
#[derive(Deserialize)]
struct Table {
    pin: Vec<Pin>,
}

#[derive(Deserialize)]
struct Pin {
    gpio: u8,
    name: String,
    kind: Kind,
    active: Option<Level>,
    pull: Option<Pull>,
    to: String,
}

#[derive(Deserialize, Clone, Copy, PartialEq)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Input,
    Output,
    Uart,
    Spi,
    I2c,
    Pwm,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "lowercase")]
enum Level {
    Low,
    High,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "lowercase")]
enum Pull {
    Up,
    Down,
    None,
}

fn main() {
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo tells where to write"));
    let budgets: Budgets = read("budgets.toml");
    let table: Table = read("pins.toml");
    println!("cargo:rerun-if-env-changed=GUNLINE_BUDGETS");
    let has_run_in = env::var_os("CARGO_FEATURE_RUN_IN").is_some();
    let limits = match env::var_os("GUNLINE_BUDGETS") {
        // What is written for a probe's log is for a developer's desk, not for the boat.
        _ if env::var_os("CARGO_FEATURE_LOG").is_some() => THE_CHIP,
        None => THE_CHIP,
        Some(_) if has_run_in => budgets.whole,
        Some(_) => budgets.without_run_in,
    };
    write(&out.join("memory.x"), &memory(&limits));
    write(&out.join("pins.rs"), &pins(&table.pin));
    link_arguments(&out);
}

fn link_arguments(out: &Path) {
    println!("cargo:rustc-link-search={}", out.display());
    for argument in [
        // cortex-m-rt's own script, which includes memory.x.
        "-Tlink.x",
        // Flash is read through a cache by page; without this the linker would align sections to the host's pages.
        "--nmagic",
        // The compiler divides by software: 300 cycles. The RP2040 has a divider beside the core, for which the
        // HAL has a routine that interrupts may use too. The HAL would put it in place itself, together with
        // routines of the boot ROM that this program does without, so that it does not depend on the ROM's version.
        "--defsym=__aeabi_uidiv=_rphal_unsigned_divmod",
        "--defsym=__aeabi_uidivmod=_rphal_unsigned_divmod",
        "--defsym=__aeabi_idiv=_rphal_signed_divmod",
        "--defsym=__aeabi_idivmod=_rphal_signed_divmod",
    ] {
        println!("cargo:rustc-link-arg={argument}");
    }
    if env::var_os("CARGO_FEATURE_LOG").is_some() {
        // Where the log's texts stand: in the ELF, but not on the board.
        println!("cargo:rustc-link-arg=-Tdefmt.x");
    }
}

fn read<T: serde::de::DeserializeOwned>(name: &str) -> T {
    println!("cargo:rerun-if-changed={name}");
    let text = fs::read_to_string(name).unwrap_or_else(|error| panic!("{name}: {error}"));
    toml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn write(path: &Path, text: &str) {
    fs::write(path, text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
}

/// The RP2040's memory, as long as the limits allow.
fn memory(limits: &Limits) -> String {
    let Limits { flash_bytes, static_ram_bytes } = limits;
    format!(
        "MEMORY {{
    /* The boot ROM loads these 256 bytes first and checks their CRC. */
    BOOT2 : ORIGIN = 0x10000000, LENGTH = 0x100
    FLASH : ORIGIN = 0x10000100, LENGTH = {flash_bytes} - 0x100
    /* Four striped banks of 64 KiB and two of 4 KiB, one after the other; the stack grows down from their end. */
    RAM : ORIGIN = 0x20000000, LENGTH = 264K
}}

SECTIONS {{
    .boot2 ORIGIN(BOOT2) : {{ KEEP(*(.boot2)); }} > BOOT2
}} INSERT BEFORE .text;

/* For the check sum over all that is flashed. */
PROVIDE(__flash_start = ORIGIN(BOOT2));

ASSERT(_stack_end - ORIGIN(RAM) <= {static_ram_bytes}, \"
static RAM is over its limit, see budgets.toml\");
"
    )
}

/// A struct with every pin of the table in its right function, and numbers for the handlers, which see registers.
fn pins(pins: &[Pin]) -> String {
    let mut fields = String::new();
    let mut values = String::new();
    let mut numbers = String::new();
    for pin in pins {
        let Pin { gpio, name, to, .. } = pin;
        let _ = writeln!(
            fields,
            "    /// GPIO {gpio}: {to}.\n    pub {name}: Pin<bank0::Gpio{gpio}, {}>,",
            shape(pin)
        );
        let _ = writeln!(values, "            {name}: {},", start(pin));
        if pin.kind == Kind::Input {
            let active_low = matches!(pin.active, Some(Level::Low));
            let _ = writeln!(
                numbers,
                "/// GPIO {gpio}: {to}.\npub const {}: Watched = Watched {{ gpio: {gpio}, active_low: {active_low} }};",
                name.to_uppercase()
            );
        }
    }
    format!(
        "/// Every pin of the board, set to its function. Inputs rest here: handlers see them as registers.
#[allow(dead_code)]
pub struct Pins {{
{fields}}}

impl Pins {{
    /// Sets every pin to its function; outputs begin inactive.
    pub fn new(bank: gpio::Pins) -> Self {{
        Self {{
{values}        }}
    }}
}}

{numbers}"
    )
}

fn pull(pin: &Pin) -> &'static str {
    match (pin.kind, pin.pull) {
        // The bus has its own resistors; these help where a display brings none.
        (Kind::I2c, _) | (_, Some(Pull::Up)) => "Up",
        (_, Some(Pull::Down)) => "Down",
        (_, Some(Pull::None) | None) => "None",
    }
}

/// A pin's type after `Gpio<number>`: its function and its resistor.
fn shape(pin: &Pin) -> String {
    let function = match pin.kind {
        Kind::Input => "FunctionSioInput",
        Kind::Output => "FunctionSioOutput",
        Kind::Uart => "FunctionUart",
        Kind::Spi => "FunctionSpi",
        Kind::I2c => "FunctionI2C",
        Kind::Pwm => "FunctionPwm",
    };
    format!("gpio::{function}, gpio::Pull{}", pull(pin))
}

/// What brings a pin from its state after reset to its function.
fn start(pin: &Pin) -> String {
    let plain = format!("bank.gpio{}.into_pull_type()", pin.gpio);
    match (pin.kind, pin.active) {
        (Kind::Output, Some(Level::Low)) => format!("{plain}.into_push_pull_output_in_state(PinState::High)"),
        (Kind::Output, _) => format!("{plain}.into_push_pull_output_in_state(PinState::Low)"),
        _ => format!("{plain}.into_function()"),
    }
}
