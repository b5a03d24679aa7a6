// The board's table of pins, read from the very file that the program is built from.
//
// Goes in: pins.toml. Comes out: each pin by its name, with its GPIO number, and which level means "active".

import { readFileSync } from 'node:fs';
import { parse } from 'smol-toml';

/** The table in the repository. */
export const PINS_FILE = new URL('../../../firmware/boards/pico/pins.toml', import.meta.url);

/** What the models here are wired to; a table without one of them is another board. */
const WIRED = [
    'receiver_rx', 'panel_sda', 'panel_scl', 'probe_clock', 'probe_out', 'probe_in', 'probe0_select',
    'probe1_select', 'store_in', 'store_select', 'store_clock', 'store_out', 'beeper', 'warning_lamp', 'caution_lamp',
];

/** Pins by name. Throws an Error when the table cannot be read or misses a pin that the models need. */
export function readPins(file = PINS_FILE) {
    const { pin: rows = [] } = parse(readFileSync(file, 'utf8'));
    const pins = new Map(rows.map((row) => [row.name, { ...row, activeHigh: row.active !== 'low' }]));
    for (const name of WIRED) {
        if (!pins.has(name)) throw new Error(`the table of pins has no '${name}'`);
    }
    return pins;
}

/** Names of the pins that a stimulus may drive. */
export function inputNames(pins) {
    return [...pins.values()].filter((pin) => pin.kind === 'input').map((pin) => pin.name);
}
