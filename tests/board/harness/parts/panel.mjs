// The display: an SSD1306 with 128 x 64 dots, as it decodes what comes over I2C.
//
// Bytes go in; its memory and its state come out. `ram` is the memory by page (8 rows) and column, low bit on top, as
// the program addresses it: whether the picture stands upright on the glass is told by `state`. Commands by the
// SSD1306 data sheet, tables of commands and I2C interface. What it does not know is a violation.

import { fillWithNoise } from '../noise.mjs';

const COLUMNS = 128;
const PAGES = 8;

/** Commands of more than one byte, and how many bytes follow. */
const FOLLOWING = new Map([
    [0x20, 1], [0x21, 2], [0x22, 2], [0x81, 1], [0x8d, 1], [0xa8, 1], [0xd3, 1], [0xd5, 1], [0xd9, 1], [0xda, 1],
    [0xdb, 1],
]);
/** Single commands that change nothing that is looked at: scroll off, mux and timing defaults, no operation. */
const IDLE = new Set([0x2e, 0xe3]);

export class Panel {
    constructor(log, address = 0x3c) {
        this.name = 'panel';
        this.address = address;
        // The data sheet says 400 kHz; parts of this class are commonly run at 1 MHz (common practice, no source).
        this.maxHz = 1_000_000;
        this.log = log;
        this.ram = new Uint8Array(COLUMNS * PAGES);
        this.powerOn(1);
    }

    /** Power has come: memory holds anything, the display is off, all else is as after reset. */
    powerOn(seed) {
        fillWithNoise(this.ram, seed);
        this.on = false;
        this.pumped = false;
        this.inverted = false;
        this.allOn = false;
        this.contrast = 0x7f;
        this.flipped = { columns: false, rows: false };
        this.shift = { startLine: 0, offset: 0, rows: 64 };
        this.mode = 2;
        this.columns = [0, COLUMNS - 1];
        this.pages = [0, PAGES - 1];
        this.column = 0;
        this.page = 0;
        this.writes = 0;
        this.begin();
    }

    /** Whether a picture is to be seen, and how. Upright is how such modules are commonly mounted: both flipped. */
    get state() {
        return {
            lit: this.on && this.pumped && !this.allOn,
            inverted: this.inverted,
            upright: this.flipped.columns && this.flipped.rows && this.shift.startLine === 0
                && this.shift.offset === 0 && this.shift.rows === 64,
            contrast: this.contrast,
        };
    }

    /** A transfer begins: the next byte is a control byte. */
    begin() {
        this.expects = 'control';
        this.single = false;
        this.command = null;
    }

    end() {
        if (this.command !== null) this.bad(`command ${hex(this.command)} was cut short`);
    }

    write(byte) {
        if (this.expects === 'control') {
            this.single = (byte & 0x80) !== 0;
            this.expects = byte & 0x40 ? 'data' : 'command';
            if (byte & 0x3f) this.bad(`control byte ${hex(byte)}`);
            return;
        }
        if (this.expects === 'data') this.store(byte);
        else this.commandByte(byte);
        if (this.single) this.expects = 'control';
    }

    commandByte(byte) {
        if (this.command === null) {
            this.command = byte;
            this.rest = [];
        } else {
            this.rest.push(byte);
        }
        if (this.rest.length < (FOLLOWING.get(this.command) ?? 0)) return;
        const command = this.command;
        this.command = null;
        this.obey(command, this.rest);
    }

    obey(command, [first, second]) {
        if (command <= 0x0f) this.column = (this.column & 0x70) | command;
        else if (command <= 0x1f) this.column = ((command & 0x07) << 4) | (this.column & 0x0f);
        else if (command >= 0x40 && command <= 0x7f) this.shift.startLine = command & 0x3f;
        else if (command >= 0xb0 && command <= 0xb7) this.page = command & 7;
        else this.obeyLong(command, first, second);
    }

    obeyLong(command, first, second) {
        switch (command) {
            case 0x20: this.mode = first & 3; if (this.mode === 3) this.bad('addressing mode 3'); break;
            case 0x21: this.setColumns(first & 0x7f, second & 0x7f); break;
            case 0x22: this.setPages(first & 7, second & 7); break;
            case 0x81: this.contrast = first; break;
            case 0x8d: this.pumped = (first & 4) !== 0; break;
            case 0xa0: case 0xa1: this.flipped.columns = command === 0xa1; break;
            case 0xa4: case 0xa5: this.allOn = command === 0xa5; break;
            case 0xa6: case 0xa7: this.inverted = command === 0xa7; break;
            case 0xa8: this.shift.rows = (first & 0x3f) + 1; break;
            case 0xae: case 0xaf: this.on = command === 0xaf; break;
            case 0xc0: case 0xc8: this.flipped.rows = command === 0xc8; break;
            case 0xd3: this.shift.offset = first & 0x3f; break;
            default:
                if (!FOLLOWING.has(command) && !IDLE.has(command)) this.bad(`unknown command ${hex(command)}`);
        }
    }

    setColumns(from, to) {
        if (from > to) this.bad(`columns ${from} to ${to}`);
        this.columns = [from, to];
        this.column = from;
    }

    setPages(from, to) {
        if (from > to) this.bad(`pages ${from} to ${to}`);
        this.pages = [from, to];
        this.page = from;
    }

    store(byte) {
        this.ram[this.page * COLUMNS + this.column] = byte;
        this.writes++;
        if (this.mode === 0) this.stepColumn() && this.stepPage();
        else if (this.mode === 1) this.stepPage() && this.stepColumn();
        else this.column = (this.column + 1) % COLUMNS;
    }

    /** To the next column of the window; true when that was the last. */
    stepColumn() {
        const wraps = this.column === this.columns[1];
        this.column = wraps ? this.columns[0] : (this.column + 1) % COLUMNS;
        return wraps;
    }

    stepPage() {
        const wraps = this.page === this.pages[1];
        this.page = wraps ? this.pages[0] : (this.page + 1) % PAGES;
        return wraps;
    }

    bad(what) {
        this.log.violation(this.name, what);
    }
}

function hex(byte) {
    return `0x${byte.toString(16).padStart(2, '0')}`;
}
