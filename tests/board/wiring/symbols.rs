//! The symbols of circuit diagrams, in the style of IEC 60617 (from memory).
//!
//! A symbol that lies in a wire takes the point where the wire comes in and gives the point where it goes
//! out, so a circuit reads like a sentence.

use super::pen::{At, Hold, Sheet};

/// Length of a symbol that lies in a wire.
const LENGTH: i32 = 60;

/// A piece of wire to the right.
pub fn wire(sheet: &Sheet, (x, y): At, length: i32) -> At {
    sheet.line("thin", &[(x, y), (x + length, y)]);
    (x + length, y)
}

/// Where wires meet.
pub fn joint(sheet: &Sheet, at: At) -> At {
    sheet.circle("black", at, 4);
    at
}

/// An open end with its name, to the left or right of it.
pub fn end(sheet: &Sheet, hold: Hold, (x, y): At, name: &str) -> At {
    let aside = match hold {
        Hold::Left => 9,
        Hold::Middle => 0,
        Hold::Right => -9,
    };
    sheet.text("strong", hold, (x + aside, y + 5), name);
    sheet.circle("part", (x, y), 4);
    (x, y)
}

/// Ground of the dash.
pub fn ground(sheet: &Sheet, (x, y): At) {
    sheet.line("thin", &[(x, y), (x, y + 10)]);
    for (row, half) in [(10, 11), (15, 7), (20, 3)] {
        sheet.line("thin", &[(x - half, y + row), (x + half, y + row)]);
    }
}

/// A supply rail above a point.
pub fn rail(sheet: &Sheet, (x, y): At, name: &str) {
    sheet.line("thin", &[(x, y), (x, y - 10)]);
    sheet.line("thin", &[(x - 11, y - 10), (x + 11, y - 10)]);
    sheet.text("small strong", Hold::Middle, (x, y - 15), name);
}

/// A resistor in a wire.
pub fn resistor(sheet: &Sheet, (x, y): At, value: &str) -> At {
    sheet.line("thin", &[(x, y), (x + 10, y)]);
    sheet.rect("part", (x + 10, y - 7), (40, 14));
    sheet.line("thin", &[(x + 50, y), (x + LENGTH, y)]);
    sheet.text("small", Hold::Middle, (x + 30, y - 13), value);
    (x + LENGTH, y)
}

/// A resistor that hangs in a wire.
pub fn hanging_resistor(sheet: &Sheet, (x, y): At, value: &str) -> At {
    sheet.line("thin", &[(x, y), (x, y + 8)]);
    sheet.rect("part", (x - 7, y + 8), (14, 38));
    sheet.line("thin", &[(x, y + 46), (x, y + 54)]);
    sheet.text("small", Hold::Left, (x + 12, y + 32), value);
    (x, y + 54)
}

/// A fuse in a wire.
pub fn fuse(sheet: &Sheet, (x, y): At, value: &str) -> At {
    sheet.rect("part", (x + 10, y - 7), (40, 14));
    sheet.line("thin", &[(x, y), (x + LENGTH, y)]);
    sheet.text("small", Hold::Middle, (x + 30, y - 13), value);
    (x + LENGTH, y)
}

/// A diode in a wire; current flows to the right.
pub fn diode(sheet: &Sheet, (x, y): At, kind: &str) -> At {
    sheet.line("thin", &[(x, y), (x + LENGTH, y)]);
    sheet.shape("part", &[(x + 21, y - 10), (x + 21, y + 10), (x + 39, y)]);
    sheet.line("thin", &[(x + 39, y - 10), (x + 39, y + 10)]);
    sheet.text("small", Hold::Middle, (x + 30, y - 16), kind);
    (x + LENGTH, y)
}

/// A diode that stands between two points below each other; current flows upwards, or downwards.
pub fn standing_diode(sheet: &Sheet, (x, top): At, bottom: i32, upwards: bool) {
    let middle = (top + bottom) / 2;
    let (base, tip) = if upwards { (middle + 9, middle - 9) } else { (middle - 9, middle + 9) };
    sheet.line("thin", &[(x, top), (x, bottom)]);
    sheet.shape("part", &[(x - 10, base), (x + 10, base), (x, tip)]);
    sheet.line("thin", &[(x - 10, tip), (x + 10, tip)]);
}

/// A transient suppressor between two points below each other.
pub fn suppressor(sheet: &Sheet, (x, top): At, bottom: i32, kind: &str) {
    standing_diode(sheet, (x, top), bottom, true);
    let tip = (top + bottom) / 2 - 9;
    sheet.line("thin", &[(x - 10, tip), (x - 14, tip + 5)]);
    sheet.line("thin", &[(x + 10, tip), (x + 14, tip - 5)]);
    sheet.text("small", Hold::Left, (x + 17, tip + 15), kind);
}

/// A capacitor between two points below each other.
pub fn capacitor(sheet: &Sheet, (x, top): At, bottom: i32, value: &str) {
    let middle = (top + bottom) / 2;
    sheet.line("thin", &[(x, top), (x, middle - 4)]);
    sheet.line("thin", &[(x - 13, middle - 4), (x + 13, middle - 4)]);
    sheet.line("thin", &[(x - 13, middle + 4), (x + 13, middle + 4)]);
    sheet.line("thin", &[(x, middle + 4), (x, bottom)]);
    sheet.text("small", Hold::Left, (x + 18, middle + 5), value);
}

/// A contact that closes, in a wire.
pub fn contact(sheet: &Sheet, (x, y): At) -> At {
    sheet.line("thin", &[(x, y), (x + 12, y)]);
    sheet.line("thin", &[(x + 12, y), (x + 46, y - 14)]);
    sheet.line("thin", &[(x + 46, y), (x + LENGTH, y)]);
    (x + LENGTH, y)
}

/// A box with words in its middle, a line each.
pub fn module(sheet: &Sheet, (x, y): At, (width, height): At, lines: &[&str]) {
    sheet.rect("part", (x, y), (width, height));
    let first = y + height / 2 + 5 - (lines.len() as i32 - 1) * 9;
    for (row, line) in (0..).zip(lines) {
        let class = if row == 0 { "strong" } else { "small" };
        sheet.text(class, Hold::Middle, (x + width / 2, first + row * 18), line);
    }
}

/// An n-channel MOSFET: gate to the left, drain above, source below. Gives drain and source.
pub fn mosfet(sheet: &Sheet, (x, y): At) -> (At, At) {
    sheet.line("thin", &[(x, y), (x + 14, y)]);
    sheet.line("thin", &[(x + 14, y - 14), (x + 14, y + 14)]);
    for row in [-14, 0, 14] {
        sheet.line("thin", &[(x + 20, y + row - 4), (x + 20, y + row + 4)]);
    }
    sheet.line("thin", &[(x + 20, y - 14), (x + 38, y - 14), (x + 38, y - 26)]);
    sheet.line("thin", &[(x + 20, y), (x + 38, y), (x + 38, y + 26)]);
    sheet.line("thin", &[(x + 20, y + 14), (x + 38, y + 14)]);
    sheet.shape("black", &[(x + 21, y), (x + 30, y - 5), (x + 30, y + 5)]);
    ((x + 38, y - 26), (x + 38, y + 26))
}

/// An optocoupler: anode and cathode to the left, collector and emitter to the right, 50 apart. Gives all
/// four, from the anode on.
pub fn optocoupler(sheet: &Sheet, (x, y): At) -> [At; 4] {
    sheet.rect("part", (x, y - 12), (112, 74));
    sheet.line("thin", &[(x, y), (x + 28, y)]);
    sheet.line("thin", &[(x, y + 50), (x + 28, y + 50)]);
    standing_diode(sheet, (x + 28, y), y + 50, false);
    for shift in [0, 9] {
        let (from, to) = ((x + 44, y + 18 + shift), (x + 62, y + 18 + shift));
        sheet.line("thin", &[from, to]);
        sheet.shape("black", &[(to.0 + 4, to.1), (to.0 - 3, to.1 - 4), (to.0 - 3, to.1 + 4)]);
    }
    sheet.line("thin", &[(x + 78, y + 10), (x + 78, y + 40)]);
    sheet.line("thin", &[(x + 78, y + 19), (x + 96, y + 6), (x + 96, y), (x + 112, y)]);
    sheet.line("thin", &[(x + 78, y + 31), (x + 96, y + 44), (x + 96, y + 50), (x + 112, y + 50)]);
    sheet.shape("black", &[(x + 95, y + 43), (x + 85, y + 41), (x + 90, y + 34)]);
    [(x, y), (x, y + 50), (x + 112, y), (x + 112, y + 50)]
}

/// A comparator: inverting input above, the other below, 40 apart. Gives both inputs and the output.
pub fn comparator(sheet: &Sheet, (x, y): At) -> [At; 3] {
    sheet.shape("part", &[(x, y - 18), (x, y + 58), (x + 70, y + 20)]);
    sheet.text("strong", Hold::Left, (x + 7, y + 5), "–");
    sheet.text("strong", Hold::Left, (x + 7, y + 45), "+");
    [(x, y), (x, y + 40), (x + 70, y + 20)]
}

/// A coil that stands between two points below each other, its windings to the right.
pub fn coil(sheet: &Sheet, (x, top): At, bottom: i32) {
    let first = (top + bottom) / 2 - 24;
    sheet.line("thin", &[(x, top), (x, first)]);
    for turn in 0..4 {
        let y = first + turn * 12;
        sheet.line("thin", &[(x, y), (x + 9, y + 2), (x + 11, y + 6), (x + 9, y + 10), (x, y + 12)]);
    }
    sheet.line("thin", &[(x, first + 48), (x, bottom)]);
}
