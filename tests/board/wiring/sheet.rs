//! The whole sheet: the Pico in the middle, its parts on both sides in the order of its pins, the details
//! below.
//!
//! Parts, pins and wires come from the table of pins; this file only adds how a part is called and what else
//! it needs. Since parts stand in the order of the pins, no two wires cross, but for the bus that two chips
//! share.

use std::collections::BTreeMap;

use super::details;
use super::pen::{At, Hold, Sheet};
use super::pico::{HEADER, SUPPLY};
use super::table::Pin;

/// The Pico's outline: its upper left corner and size.
const BOARD: At = (430, 150);
const BOARD_SIZE: At = (380, 1138);
/// The first pin's row, and from row to row.
const FIRST: i32 = 196;
const PITCH: i32 = 55;
/// Between these the parts stand.
const TOP: i32 = 150;
const BOTTOM: i32 = 1288;
/// A part's width, its place on either side, and its inner heights.
const WIDTH: i32 = 290;
const LEFT: i32 = 30;
const RIGHT: i32 = 920;
const TITLE: i32 = 28;
const ROW: i32 = 25;
const FOOT: i32 = 8;
/// From a wire's bend to the next one's.
const LANE: i32 = 8;

/// A part on the sheet.
struct Part {
    title: String,
    notes: Vec<&'static str>,
    terminals: Vec<Terminal>,
}

/// Where a wire ends at a part.
struct Terminal {
    words: String,
    header: u8,
    kind: String,
    /// True where the wire comes by way of another part.
    is_branch: bool,
}

/// The drawing.
pub fn draw(pins: &[Pin]) -> String {
    let sheet = Sheet::new("Wiring of the Gunline board");
    heading(&sheet);
    board(&sheet, pins);
    let (left, right) = parts(pins);
    side(&sheet, &left, LEFT);
    side(&sheet, &right, RIGHT);
    details::draw(&sheet, pins, 1338);
    foot(&sheet);
    sheet.finish()
}

fn heading(sheet: &Sheet) {
    sheet.text("title", Hold::Left, (30, 52), "Wiring of the board");
    let lines = [
        "Read docs/wiring.md first: cautions, values and the order of work stand there. Disconnect the boat's battery.",
        "Drawn from firmware/boards/pico/pins.toml, from which the program takes its pins too. The Pico is seen from",
        "above. Every GND of this sheet is one ground, the dash's own; the boat's minus is another, and never joins it.",
    ];
    for (row, line) in (0..).zip(lines) {
        sheet.text("", Hold::Left, (30, 80 + row * 20), line);
    }
}

fn foot(sheet: &Sheet) {
    let words = "Advice only: race officials decide, the engine maker's manual rules. Values are for a demonstration; \
                 check them against your own parts.";
    sheet.text("small", Hold::Left, (30, 1854), words);
}

/// The header's row on the sheet: pins 1 to 20 downwards on the left, 21 to 40 upwards on the right.
fn row_of(header: u8) -> i32 {
    let row = if header <= 20 { header - 1 } else { 40 - header };
    FIRST + i32::from(row) * PITCH
}

fn board(sheet: &Sheet, pins: &[Pin]) {
    let (x, y) = BOARD;
    let right = x + BOARD_SIZE.0;
    sheet.rect("board", BOARD, BOARD_SIZE);
    sheet.rect("part", (620 - 42, y - 12), (84, 48));
    sheet.text("small", Hold::Middle, (620, y + 17), "USB");
    sheet.upward("head", (626, 640), "Raspberry Pi Pico");
    if let Some(own) = pins.iter().find(|pin| pin.header == 0) {
        let words = format!("on the Pico: GP{} {}", own.gpio, own.name);
        sheet.text("small quiet", Hold::Middle, (620, y + BOARD_SIZE.1 - 12), &words);
    }
    for (number, printed) in (1_u8..).zip(HEADER) {
        let used = pins.iter().find(|pin| pin.header == number);
        let name = used.map_or("", |pin| pin.name.as_str());
        let is_wired = used.is_some() || SUPPLY.iter().any(|(header, _)| *header == number);
        let class = if is_wired { "strong" } else { "quiet" };
        let row = row_of(number);
        let (hold, pad, printed_at, name_at) = if number <= 20 {
            (Hold::Left, x, x + 40, x + 86)
        } else {
            (Hold::Right, right - 32, right - 40, right - 86)
        };
        sheet.rect("part", (pad, row - 10), (32, 20));
        sheet.text("small", Hold::Middle, (pad + 16, row + 5), &number.to_string());
        sheet.text(class, hold, (printed_at, row + 5), printed);
        sheet.text("small", hold, (name_at, row + 5), name);
    }
}

/// The parts of both sides, each in the order in which their pins stand on the sheet.
fn parts(pins: &[Pin]) -> (Vec<Part>, Vec<Part>) {
    let mut found: BTreeMap<String, Vec<Terminal>> = BTreeMap::new();
    let wired = || pins.iter().filter(|pin| pin.header != 0);
    for pin in wired().filter(|pin| !is_shared(pin)) {
        found.entry(pin.part().to_owned()).or_default().push(terminal(pin, false));
    }
    for pin in wired().filter(|pin| is_shared(pin)) {
        let singular = pin.part().trim_end_matches('s');
        let mut chips: Vec<_> = found.iter_mut().filter(|(part, _)| part.ends_with(singular)).collect();
        chips.sort_by_key(|(_, terminals)| terminals[0].header);
        for (place, (_, terminals)) in chips.into_iter().enumerate() {
            terminals.push(terminal(pin, place > 0));
        }
    }
    let supply = SUPPLY.map(|(header, words)| Terminal {
        words: words.to_owned(),
        header,
        kind: "supply".to_owned(),
        is_branch: false,
    });
    found.insert("supply".to_owned(), supply.into());
    let mut all: Vec<Part> = found.into_iter().map(|(name, terminals)| part(&name, terminals)).collect();
    all.sort_by_key(|part| {
        part.terminals.iter().filter(|end| !end.is_branch).map(|end| row_of(end.header)).min()
    });
    all.into_iter().partition(|part| part.terminals.iter().all(|end| end.header <= 20))
}

/// A wire to more than one chip.
fn is_shared(pin: &Pin) -> bool {
    pin.part().ends_with("chips")
}

fn terminal(pin: &Pin, is_branch: bool) -> Terminal {
    let kind = format!("{:?}", pin.kind).to_lowercase();
    Terminal { words: pin.terminal().to_owned(), header: pin.header, kind, is_branch }
}

fn part(name: &str, mut terminals: Vec<Terminal>) -> Part {
    terminals.sort_by_key(|end| row_of(end.header));
    let mut title = name.to_owned();
    title[..1].make_ascii_uppercase();
    Part { title, notes: notes(name), terminals }
}

/// What a part needs beside its wires.
fn notes(part: &str) -> Vec<&'static str> {
    match part {
        "GNSS receiver" => vec!["3V3, GND; V_BCKP to a coin cell", "115200 baud, 10 fixes a second"],
        "display" => vec!["3V3, GND; SSD1306, 128×64, 0x3C"],
        "gun contact" => vec!["detail B"],
        "igniters' line" | "start fuel's line" | "starter's lower voltage" | "starter's higher voltage" => {
            vec!["optional; like detail B"]
        }
        "start button" | "acknowledge button" | "page button" => vec!["detail C"],
        "first thermocouple chip" | "second thermocouple chip" => vec!["3V3, GND; ungrounded type K"],
        "SPI NOR flash" => vec!["3V3, GND; WP and HOLD to 3V3"],
        "N1 pickup" | "N2 pickup" => vec!["detail E"],
        "beeper" => vec!["passive, detail D"],
        "master warning lamp" | "master caution lamp" => vec!["LED for 5 V, detail D"],
        "supply" => vec![],
        other => panic!("the drawing does not know the part {other:?}"),
    }
}

impl Part {
    fn height(&self) -> i32 {
        let rows = (self.terminals.len() + self.notes.len()) as i32;
        TITLE + rows * ROW + FOOT
    }
}

/// One side's parts from top to bottom, evenly spaced, and the wires to them.
fn side(sheet: &Sheet, parts: &[Part], x: i32) {
    let used: i32 = parts.iter().map(Part::height).sum();
    let gaps = (parts.len() as i32 - 1).max(1);
    let mut ends: Vec<(&Terminal, i32)> = Vec::new();
    let mut y = TOP;
    for (place, part) in (1..).zip(parts) {
        rows(sheet, part, (x, y), &mut ends);
        y += part.height();
        y += (BOTTOM - TOP - used) * place / gaps - (BOTTOM - TOP - used) * (place - 1) / gaps;
    }
    wires(sheet, &ends, x < BOARD.0);
}

/// A part with its words, and where its terminals came to stand.
fn rows<'a>(sheet: &Sheet, part: &'a Part, (x, y): At, ends: &mut Vec<(&'a Terminal, i32)>) {
    let is_left = x < BOARD.0;
    sheet.rect("part", (x, y), (WIDTH, part.height()));
    sheet.text("head", Hold::Left, (x + 12, y + 20), &part.title);
    let mut row = y + TITLE + ROW / 2;
    for terminal in &part.terminals {
        let (edge, hold, inside) = if is_left { (x + WIDTH, Hold::Right, -14) } else { (x, Hold::Left, 14) };
        sheet.text("", hold, (edge + inside, row + 5), &terminal.words);
        let (far, away) = if is_left { (x + 12, Hold::Left) } else { (x + WIDTH - 12, Hold::Right) };
        sheet.text("small quiet", away, (far, row + 5), &format!("pin {}", terminal.header));
        ends.push((terminal, row));
        row += ROW;
    }
    for note in &part.notes {
        sheet.text("small", Hold::Left, (x + 12, row + 5), note);
        row += ROW;
    }
}

/// Wires from the Pico's pins to the terminals, each with one bend, in lanes that keep them from crossing:
/// of those that go up the lower bends farther out, of those that go down the upper.
fn wires(sheet: &Sheet, ends: &[(&Terminal, i32)], is_left: bool) {
    let direct: Vec<_> = ends.iter().filter(|(end, _)| !end.is_branch).collect();
    let ups: Vec<bool> = direct.iter().map(|(end, row)| *row < row_of(end.header)).collect();
    for (place, (end, row)) in direct.iter().enumerate() {
        let is_alike = |up: &&bool| **up == ups[place];
        let lane = if ups[place] {
            ups[..place].iter().rev().take_while(is_alike).count()
        } else {
            ups[place + 1..].iter().take_while(is_alike).count()
        };
        let out = 14 + lane as i32 * LANE;
        let (pin, bend, edge) = if is_left {
            (BOARD.0, BOARD.0 - out, LEFT + WIDTH)
        } else {
            let pin = BOARD.0 + BOARD_SIZE.0;
            (pin, pin + out, RIGHT)
        };
        let pin_row = row_of(end.header);
        let class = format!("wire {}", end.kind);
        sheet.line(&class, &[(pin, pin_row), (bend, pin_row), (bend, *row), (edge, *row)]);
        sheet.circle("black", (edge, *row), 4);
    }
    branches(sheet, ends);
}

/// What two chips share goes on from the first one's terminal to the second one's.
fn branches(sheet: &Sheet, ends: &[(&Terminal, i32)]) {
    let edge = LEFT + WIDTH;
    for (lane, (end, row)) in (1..).zip(ends.iter().filter(|(end, _)| end.is_branch)) {
        let first = ends.iter().find(|(other, _)| !other.is_branch && other.header == end.header);
        let from = first.map_or(*row, |(_, row)| *row);
        let column = edge + 4 + lane * LANE;
        sheet.line(&format!("wire {}", end.kind), &[(column, from), (column, *row), (edge, *row)]);
        sheet.circle("black", (column, from), 4);
        sheet.circle("black", (edge, *row), 4);
    }
}
