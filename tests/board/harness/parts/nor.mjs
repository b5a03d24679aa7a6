// The storage chip: a JEDEC SPI NOR of the W25Q class, and no more forgiving than one.
//
// Bytes go in and out while it is selected; the memory changes afterwards, while it is busy. Programming can only
// clear bits. A cut of the power leaves what had been done so far. What a real chip ignores or garbles without a
// word is told as a violation. Commands, and times where they are typical, from memory of the W25Q128 data sheet.

import { noise } from '../noise.mjs';

const PAGE = 256;
const SECTOR = 4096;

/** Typical times: page program, sector erase; after a reset the chip hears nothing for a while. */
export const PROGRAM_NANOS = 700_000;
export const ERASE_NANOS = 45_000_000;
export const RESET_NANOS = 30_000;

const WRITE_ENABLE = 0x06;
const WRITE_DISABLE = 0x04;
const READ_STATUS = 0x05;
const READ = 0x03;
const PROGRAM = 0x02;
const ERASE_SECTOR = 0x20;
const READ_ID = 0x9f;
const ENABLE_RESET = 0x66;
const RESET = 0x99;
const WHILE_BUSY = [READ_STATUS, ENABLE_RESET, RESET];
const KNOWN = [WRITE_ENABLE, WRITE_DISABLE, READ, PROGRAM, ERASE_SECTOR, READ_ID, ...WHILE_BUSY];

/** The bytes of a chip, if there are as many as a chip can have. */
export function wholeChip(bytes) {
    const bits = Math.log2(bytes.length);
    const isChip = Number.isInteger(bits) && bits >= 16 && bits <= 24;
    if (!isChip) throw new Error('a storage chip has 64 KiB to 16 MiB, a power of two');
    return new Uint8Array(bytes);
}

export class Nor {
    /** `memory` is the whole chip: see `wholeChip`. */
    constructor(memory, log) {
        this.name = 'nor';
        this.maxHz = 50_000_000;
        this.modes = [0, 3];
        this.memory = memory;
        this.id = [0xef, 0x40, Math.log2(memory.length)];
        this.log = log;
        this.counts = { reads: 0, programs: 0, erases: 0 };
        this.erasedAt = [];
        this.powerOn();
    }

    powerOn() {
        this.command = null;
        this.selected = false;
        this.mayWrite = false;
        this.mayReset = false;
        this.deafUntil = 0;
        this.work = null;
    }

    /** The power goes: what is half done stays half done. */
    powerOff() {
        this.settle();
        if (this.work !== null) this.cut();
        this.powerOn();
    }

    get busy() {
        this.settle();
        return this.work !== null;
    }

    /** Does what has been finished by now. */
    settle() {
        if (this.work === null || this.log.now < this.work.ends) return;
        this.work.finish();
        this.work = null;
        this.mayWrite = false;
    }

    cut() {
        const { begins, ends, partly } = this.work;
        partly((this.log.now - begins) / (ends - begins));
        this.work = null;
        this.mayWrite = false;
    }

    select(on) {
        if (on === this.selected) return;
        this.selected = on;
        if (on) {
            this.command = null;
            this.taken = 0;
        } else if (this.command !== null) {
            this.execute();
        }
    }

    /** One byte each way. */
    exchange(byte) {
        if (this.command === null) return this.begin(byte);
        this.taken++;
        switch (this.ignored ? null : this.command) {
            case READ_STATUS: return (this.busy ? 1 : 0) | (this.mayWrite ? 2 : 0);
            case READ_ID: return this.id[this.taken - 1] ?? 0;
            case READ: return this.read(byte);
            case PROGRAM: return this.load(byte);
            case ERASE_SECTOR: return this.addressByte(byte);
            case null: return 0xff;
            default: return this.bad(`a byte after command ${hex(this.command)}`);
        }
    }

    begin(byte) {
        this.command = byte;
        this.address = 0;
        this.data = [];
        this.ignored = false;
        if (this.log.now < this.deafUntil) this.ignore(`command ${hex(byte)} within its reset`);
        else if (!KNOWN.includes(byte)) this.ignore(`unknown command ${hex(byte)}`);
        else if (this.busy && !WHILE_BUSY.includes(byte)) this.ignore(`command ${hex(byte)} while busy`);
        return 0xff;
    }

    ignore(why) {
        this.ignored = true;
        this.bad(why);
    }

    addressByte(byte) {
        if (this.taken <= 3) this.address = ((this.address << 8) | byte) % this.memory.length;
        else this.bad('bytes after the address of an erase');
        return 0xff;
    }

    read(byte) {
        if (this.taken <= 3) return this.addressByte(byte);
        this.counts.reads++;
        return this.memory[(this.address + this.taken - 4) % this.memory.length];
    }

    load(byte) {
        if (this.taken <= 3) return this.addressByte(byte);
        this.data.push(byte);
        return 0xff;
    }

    /** The select goes up: what the command asks for begins. */
    execute() {
        const { command } = this;
        this.command = null;
        if (this.ignored) return;
        const mayReset = this.mayReset;
        this.mayReset = command === ENABLE_RESET;
        switch (command) {
            case WRITE_ENABLE: this.mayWrite = true; break;
            case WRITE_DISABLE: this.mayWrite = false; break;
            case PROGRAM: this.program(); break;
            case ERASE_SECTOR: this.erase(); break;
            case RESET: if (mayReset) this.reset(); else this.bad('reset without its enable'); break;
            default:
        }
    }

    program() {
        if (this.taken < 4) return this.bad('a program without a byte');
        if (!this.mayWrite) return this.bad(`program at ${hex(this.address)} without write enable`);
        const start = this.address - (this.address % PAGE);
        const over = (this.address % PAGE) + this.data.length > PAGE;
        if (over) this.bad(`program at ${hex(this.address)} runs over its page`);
        // As the chip does it: the address wraps in the page, and the last byte for a place counts.
        const image = new Map(this.data.map((byte, i) => [start + ((this.address + i) % PAGE), byte]));
        const places = [...image];
        const used = places.find(([at, byte]) => byte !== 0xff && this.memory[at] !== 0xff);
        if (used) this.bad(`program over what is not blank, at ${hex(used[0])}`);
        const put = (count) => {
            for (const [at, byte] of places.slice(0, count)) this.memory[at] &= byte;
        };
        this.counts.programs++;
        this.start(PROGRAM_NANOS, () => put(places.length), (share) => put(Math.floor(share * places.length)));
    }

    erase() {
        if (this.taken !== 3) return this.bad('an erase without its whole address');
        if (!this.mayWrite) return this.bad(`erase at ${hex(this.address)} without write enable`);
        if (this.address % SECTOR !== 0) this.bad(`erase at ${hex(this.address)}, which is no sector's start`);
        const start = this.address - (this.address % SECTOR);
        const sector = this.memory.subarray(start, start + SECTOR);
        this.counts.erases++;
        this.erasedAt.push(Math.round(this.log.now / 1000));
        this.start(ERASE_NANOS, () => sector.fill(0xff), (share) => eraseSome(sector, share, start + this.log.now));
    }

    start(nanos, finish, partly) {
        this.work = { begins: this.log.now, ends: this.log.now + nanos, finish, partly };
    }

    reset() {
        if (this.busy) {
            this.bad('reset while busy: what it was doing is cut short');
            this.cut();
        }
        this.mayWrite = false;
        this.deafUntil = this.log.now + RESET_NANOS;
    }

    bad(what) {
        this.log.violation(this.name, what);
        return 0xff;
    }
}

/** An erase that was cut: each bit that was clear is set with the share of the time as its chance. */
function eraseSome(sector, share, seed) {
    const draw = noise(seed);
    const limit = share * 2 ** 32;
    for (let i = 0; i < sector.length; i++) {
        for (let bit = 1; bit < 256; bit <<= 1) {
            if (draw() < limit) sector[i] |= bit;
        }
    }
}

function hex(number) {
    return `0x${number.toString(16).padStart(2, '0')}`;
}
