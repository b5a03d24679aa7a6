// One life of the RP2040: from a reset until the next one, or until its power goes.
//
// A program, what memory held, and the reason of the reset go in; `run` executes the very instructions that are
// flashed until somebody calls `halt`. The chip sleeps by jumping to the next alarm. A panic, an access that faults on
// the real chip, and a sleep without end are a Fault that says where.
//
// rp2040js has no boot ROM: a life begins at the program's vector table, second-stage loader skipped.

import { RP2040 } from 'rp2040js';
import { Clock } from './clock.mjs';
import { makeBurst } from './fast.mjs';
import { mend, wakes } from './mends.mjs';
import { Uart } from './buses/uart.mjs';
import { PwmBlock } from './buses/pwm.mjs';

/** The system clock is 125 MHz: 8 ns a cycle. A program that sets another is refused. */
const CYCLE_NANOS = 8;
const CLOCK_HZ = 125_000_000;
const FLASH_START = 0x10000000;
const RAM_START = 0x20000000;
/** The vector table stands behind the 256 bytes of the second-stage loader. */
const VECTORS = 0x10000100;
/** Bit of the power-on state machine that lets the watchdog reset the processor (RP2040 data sheet, PSM: WDSEL). */
const PSM_PROC0 = 1 << 15;
/** Reasons in the watchdog's register. */
export const REASON_POWER = 0;

/** The program did what ends it on the real chip as well. */
export class Fault extends Error {}

export class Chip {
    /**
     * `program` is an ELF; `memory` the RAM's bytes (kept and changed); `scratch` the watchdog's eight words and
     * `reason` its register, as the reset left them; `bornAt` the time of the reset.
     */
    constructor({ program, memory, scratch, reason, bornAt }, log) {
        this.program = program;
        this.log = log;
        this.clock = new Clock(bornAt);
        this.mcu = new RP2040(this.clock);
        this.core = this.mcu.core;
        this.watchdog = this.mcu.peripherals[0x40058];
        this.halted = null;
        this.hung = false;
        this.asleepNanos = 0;
        this.wokeAt = 0;
        this.longestAwakeNanos = 0;
        this.instructions = 0;
        // A function whose calls and returns are watched: see measure.mjs.
        this.calledAt = -1;
        this.onCall = () => {};
        this.returnTo = -1;
        this.returnSp = 0;
        this.onReturn = () => {};
        this.watchForTrouble();
        mend(this.mcu);
        this.adopt(memory);
        this.watchdog.scratchData.set(scratch);
        this.watchdog.reason = reason;
        this.uart = new Uart(this.mcu.uart[0], this.clock);
        this.pwm = new PwmBlock(this, log);
        this.load();
    }

    /** The given bytes become the chip's RAM. */
    adopt(memory) {
        this.mcu.sram = memory;
        this.mcu.sramView = new DataView(memory.buffer);
        this.memory = this.mcu.sramView;
    }

    load() {
        for (const { address, bytes } of this.program.segments) {
            if (address < FLASH_START || address >= RAM_START) throw new Fault('the program is not linked for flash');
            this.mcu.flash.set(bytes, address - FLASH_START);
        }
        this.core.VTOR = VECTORS;
        this.core.reset();
    }

    watchForTrouble() {
        this.mcu.onBreak = () => this.fault('panicked (udf)', this.core.PC - 2);
        this.watchdog.onWatchdogTrigger = () => this.watchdogFires();
        this.mcu.addClockListener((hz) => {
            if (hz !== CLOCK_HZ && hz > 100_000_000) this.fault(`runs at ${hz} Hz, not ${CLOCK_HZ} Hz`);
        });
        this.mcu.logger = {
            debug: () => {},
            info: () => {},
            warn: (part, text) => this.hear(part, text),
            error: (part, text) => this.fault(`${part}: ${text}`),
        };
    }

    /** The emulator complains: what would fault on the chip ends the run, the rest is counted. */
    hear(part, text) {
        if (/invalid memory|undefined address|not implemented yet/i.test(text)) this.fault(text);
        this.log.note(`${part}: ${text}`);
    }

    fault(what, at = this.core.PC) {
        throw new Fault(`${what} at ${this.program.nearest(at)}, ${(this.clock.now / 1e6).toFixed(3)} ms`);
    }

    watchdogFires() {
        // Left on, its alarm would come again at once, and for ever.
        this.watchdog.alarm.enable = false;
        if (!(this.mcu.peripherals[0x40010].wdsel & PSM_PROC0)) this.fault('the watchdog fired but may reset nothing');
        this.halt({ why: 'watchdog', at: this.core.PC });
    }

    /** Ends `run` after the present instruction. */
    halt(why) {
        this.halted = why;
    }

    /** The program hangs from now on: only the watchdog can help. */
    hang() {
        if (!this.watchdog.enable) this.fault('told to hang, and no watchdog is running');
        this.hung = true;
        this.core.waiting = true;
        this.core.checkForInterrupts = () => false;
    }

    /** Runs until halted; returns why. */
    run() {
        const { core, clock } = this;
        const burst = makeBurst(this);
        this.halted = null;
        while (this.halted === null) {
            if (core.waiting) this.sleep();
            else burst();
            if (clock.nanos >= clock.due) clock.advance(0);
        }
        return this.halted;
    }

    /** Code has come to `calledAt` or to `returnTo`. */
    arrived(address) {
        if (address === this.calledAt) this.onCall();
        else if (this.core.SP === this.returnSp) this.onReturn();
    }

    sleep() {
        const { core, clock } = this;
        if (!this.hung && wakes(core)) {
            core.waiting = false;
            this.wokeAt = clock.nanos;
            return;
        }
        if (clock.due === Infinity) this.fault('sleeps, and nothing will wake it');
        const before = clock.nanos;
        this.longestAwakeNanos = Math.max(this.longestAwakeNanos, before - this.wokeAt);
        clock.advance(clock.due - before);
        this.asleepNanos += clock.nanos - before;
        this.wokeAt = clock.nanos;
    }

    /** A word of RAM. */
    word(address) {
        return this.memory.getUint32(address - RAM_START, true);
    }
}
