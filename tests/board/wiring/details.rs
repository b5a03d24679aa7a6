//! The circuits between the parts and the pins: how the boat's voltages are kept away from the board.
//!
//! Values are worked out in docs/wiring.md. Where they are common practice without a source, that page says
//! so. Which pin is meant comes from the table of pins.

use super::pen::{At, Hold, Sheet};
use super::symbols::{
    capacitor, coil, comparator, contact, diode, end, fuse, ground, hanging_resistor, joint, module, mosfet,
    optocoupler, rail, resistor, standing_diode, suppressor, wire,
};
use super::table::Pin;

/// All details, below `top`.
pub fn draw(sheet: &Sheet, pins: &[Pin], top: i32) {
    let (high, low) = (top, top + 236);
    panel(sheet, (30, high), (650, 224), "A  Supply from the boat's 24 or 28 V");
    supply(sheet, (78, high + 78));
    panel(sheet, (692, high), (518, 224), "B  Gun contact, isolated");
    gun_contact(sheet, pins, (740, high + 84));
    panel(sheet, (30, low), (300, 250), "C  Each of the three buttons");
    button(sheet, pins, (66, low + 112));
    panel(sheet, (342, low), (308, 250), "D  Lamps and beeper");
    driver(sheet, pins, (392, low + 154));
    panel(sheet, (662, low), (548, 250), "E  N1 and N2 pickups");
    pickup(sheet, pins, (720, low + 92));
}

/// A pin by its name: what is printed beside it, and its number.
fn pin_of(pins: &[Pin], name: &str) -> String {
    let pin = pins.iter().find(|pin| pin.name == name).unwrap_or_else(|| panic!("no pin {name}"));
    format!("GP{} ({})", pin.gpio, pin.header)
}

/// Several pins in one line.
fn pins_of(pins: &[Pin], names: [&str; 3]) -> String {
    let [first, second, third] = names.map(|name| pin_of(pins, name));
    format!("pins: {first}, {second}, {third}")
}

fn panel(sheet: &Sheet, at: At, size: At, title: &str) {
    sheet.rect("panel", at, size);
    sheet.text("head", Hold::Left, (at.0 + 12, at.1 + 24), title);
}

fn supply(sheet: &Sheet, (x, y): At) {
    let low = y + 92;
    let plus = end(sheet, Hold::Right, (x, y), "+");
    let minus = end(sheet, Hold::Right, (x, low), "–");
    sheet.text("small", Hold::Right, (x - 4, y + 50), "boat");
    let fused = wire(sheet, fuse(sheet, plus, "1 A slow"), 20);
    let right_way = diode(sheet, fused, "100 V, 1 A");
    let clamped = joint(sheet, wire(sheet, right_way, 12));
    suppressor(sheet, clamped, low, "33 V");
    let converter = wire(sheet, clamped, 66);
    sheet.line("thin", &[minus, (converter.0, low)]);
    joint(sheet, (clamped.0, low));
    module(sheet, (converter.0, y - 22), (140, 136), &["DC-DC", "isolated", "18–75 V in", "5 V, 3 W out"]);
    let five = joint(sheet, wire(sheet, (converter.0 + 140, y), 26));
    sheet.line("thin", &[five, (five.0, y - 14)]);
    sheet.text("small strong", Hold::Middle, (five.0, y - 20), "5 V");
    let held = joint(sheet, diode(sheet, five, ""));
    sheet.text("small", Hold::Middle, (held.0 - 30, y + 26), "Schottky");
    capacitor(sheet, held, low, "4700 µF");
    let out = wire(sheet, held, 34);
    end(sheet, Hold::Left, out, "VSYS (39)");
    let ground_at = joint(sheet, (held.0, low));
    sheet.line("thin", &[(converter.0 + 140, low), (held.0 + 34, low)]);
    end(sheet, Hold::Left, (held.0 + 34, low), "GND (38)");
    ground(sheet, ground_at);
}

fn gun_contact(sheet: &Sheet, pins: &[Pin], (x, y): At) {
    let plus = end(sheet, Hold::Right, (x, y), "+");
    sheet.text("small", Hold::Right, (x - 4, y + 30), "boat");
    let limited = resistor(sheet, plus, "4.7 kΩ, 0.5 W");
    let anode = joint(sheet, wire(sheet, limited, 24));
    let [_, cathode, collector, emitter] = optocoupler(sheet, (anode.0 + 34, y));
    sheet.line("thin", &[anode, (anode.0 + 34, y)]);
    standing_diode(sheet, anode, y + 50, true);
    sheet.line("thin", &[cathode, (anode.0, y + 50)]);
    joint(sheet, (anode.0, y + 50));
    let closes = contact(sheet, (x, y + 50));
    sheet.line("thin", &[closes, (anode.0, y + 50)]);
    sheet.text("small", Hold::Left, (x + 6, y + 72), "gun contact");
    end(sheet, Hold::Right, (x, y + 50), "–");
    ground(sheet, wire(sheet, emitter, 16));
    let pin = joint(sheet, resistor(sheet, wire(sheet, collector, 6), "1 kΩ"));
    pull_up_and_filter(sheet, pin);
    end(sheet, Hold::Left, wire(sheet, pin, 46), &pin_of(pins, "gun_contact"));
    sheet.text(
        "small",
        Hold::Left,
        (x - 36, y + 116),
        "The loop is the boat's: it never touches the dash's ground.",
    );
}

/// What every slow input has at its pin: 10 kΩ to 3.3 V and 100 nF to ground.
fn pull_up_and_filter(sheet: &Sheet, (x, y): At) {
    let top = y - 54;
    rail(sheet, (x, top + 4), "3V3");
    let _ = hanging_resistor(sheet, (x, top), "10 kΩ");
    capacitor(sheet, (x, y), y + 56, "100 nF");
    ground(sheet, (x, y + 56));
}

fn button(sheet: &Sheet, pins: &[Pin], (x, y): At) {
    sheet.line("thin", &[(x, y), (x, y + 16)]);
    ground(sheet, (x, y + 16));
    let pressed = contact(sheet, (x, y));
    let pin = joint(sheet, resistor(sheet, pressed, "1 kΩ"));
    pull_up_and_filter(sheet, pin);
    end(sheet, Hold::Left, wire(sheet, pin, 46), "pin");
    let words = pins_of(pins, ["button", "acknowledge", "page"]);
    sheet.text("small", Hold::Left, (x - 24, y + 126), &words);
}

fn driver(sheet: &Sheet, pins: &[Pin], (x, y): At) {
    let pin = end(sheet, Hold::Right, (x, y), "pin");
    let gate = joint(sheet, resistor(sheet, pin, "100 Ω"));
    sheet.line("thin", &[gate, (gate.0, y + 4)]);
    sheet.rect("part", (gate.0 - 7, y + 10), (14, 30));
    sheet.line("thin", &[(gate.0, y + 4), (gate.0, y + 10)]);
    sheet.text("small", Hold::Right, (gate.0 - 12, y + 30), "100 kΩ");
    ground(sheet, (gate.0, y + 40));
    let (drain, source) = mosfet(sheet, wire(sheet, gate, 22));
    sheet.line("thin", &[source, (source.0, y + 40)]);
    ground(sheet, (source.0, y + 40));
    // The load, with the diode that a beeper with a coil needs.
    let top = y - 92;
    rail(sheet, (drain.0, top), "5 V");
    sheet.line("thin", &[(drain.0, top), (drain.0, top + 14)]);
    sheet.circle("part", (drain.0, top + 28), 14);
    sheet.line("thin", &[(drain.0 - 10, top + 18), (drain.0 + 10, top + 38)]);
    sheet.line("thin", &[(drain.0 + 10, top + 18), (drain.0 - 10, top + 38)]);
    sheet.line("thin", &[(drain.0, top + 42), drain]);
    sheet.text("small", Hold::Right, (drain.0 - 20, top + 33), "LED lamp or beeper");
    let aside = drain.0 + 40;
    joint(sheet, (drain.0, top + 4));
    joint(sheet, (drain.0, top + 54));
    sheet.line("thin", &[(drain.0, top + 4), (aside, top + 4)]);
    sheet.line("thin", &[(drain.0, top + 54), (aside, top + 54)]);
    standing_diode(sheet, (aside, top + 4), top + 54, true);
    sheet.text("small", Hold::Left, (aside - 20, top + 76), "beeper only");
    let words = pins_of(pins, ["warning_lamp", "caution_lamp", "beeper"]);
    sheet.text("small", Hold::Left, (x - 38, y + 84), &words);
}

fn pickup(sheet: &Sheet, pins: &[Pin], (x, y): At) {
    let low = y + 86;
    coil(sheet, (x, y), low);
    sheet.text("small", Hold::Right, (x - 6, y + 40), "pickup");
    sheet.text("small", Hold::Right, (x + 478, y - 68), "comparators for 3.3 V, push-pull");
    let limited = resistor(sheet, (x, y), "2 × 47 kΩ");
    let signal = joint(sheet, wire(sheet, limited, 16));
    sheet.line("thin", &[(x, low), (signal.0 + 60, low)]);
    standing_diode(sheet, signal, low, true);
    let second = joint(sheet, wire(sheet, signal, 30));
    standing_diode(sheet, second, low, false);
    let filtered = joint(sheet, wire(sheet, second, 30));
    capacitor(sheet, filtered, low, "1 nF");
    for column in [signal.0, second.0, filtered.0] {
        joint(sheet, (column, low));
    }
    let middle = joint(sheet, (filtered.0 + 74, low));
    sheet.line("thin", &[(filtered.0, low), middle]);
    sheet.text("small", Hold::Left, (x + 6, low + 22), "middle of 3.3 V:");
    sheet.text("small", Hold::Left, (x + 6, low + 39), "2 × 10 kΩ and 10 µF");
    let [inverting, other, output] = comparator(sheet, (filtered.0 + 150, y));
    sheet.line("thin", &[filtered, inverting]);
    // From the middle through 10 kΩ to the other input; 220 kΩ from the output: the hysteresis.
    sheet.line("thin", &[middle, (middle.0, other.1)]);
    let biased = resistor(sheet, (middle.0, other.1), "10 kΩ");
    sheet.line("thin", &[biased, other]);
    joint(sheet, biased);
    let back = y + 100;
    sheet.line("thin", &[biased, (biased.0, back)]);
    let fed = resistor(sheet, (biased.0 + 10, back), "220 kΩ");
    sheet.line("thin", &[(biased.0, back), (biased.0 + 10, back)]);
    let out = joint(sheet, wire(sheet, output, 14));
    sheet.line("thin", &[fed, (out.0, back), out]);
    end(sheet, Hold::Left, wire(sheet, out, 14), &pin_of(pins, "n1"));
    sheet.text("strong", Hold::Left, (out.0 + 23, out.1 + 24), &pin_of(pins, "n2"));
}
