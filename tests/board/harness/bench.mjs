// The board on its bench: chip, parts and wires, a stimulus that drives them, and power that comes and goes.
//
// Wires the models by the table of pins, lets the chip live its lives one after the other, and collects what the looks
// saw. Power and resets are decided here, and nowhere else.

import { Chip, REASON_POWER } from './chip.mjs';
import { I2cBus } from './buses/i2c.mjs';
import { SpiBus } from './buses/spi.mjs';
import { Log } from './log.mjs';
import { Meter } from './measure.mjs';
import { fillWithNoise } from './noise.mjs';
import { Lines } from './parts/lines.mjs';
import { Nor } from './parts/nor.mjs';
import { Outputs } from './parts/outputs.mjs';
import { Panel } from './parts/panel.mjs';
import { Probe } from './parts/probe.mjs';
import { Receiver } from './parts/receiver.mjs';

const RAM_BYTES = 264 * 1024;
/** The longest that a sound program is awake: bring-up, with the whole storage chip looked through. */
const HANGS_NANOS = 2e9;
/**
 * From a reset until the program's first instruction and the timer's zero: the boot ROM finds the flash and checks the
 * loader. Assumed; not measured on a chip. The first start has none: there time begins with the timer.
 */
export const BOOT_ROM_NANOS = 3_000_000;

export class Bench {
    constructor({ program, stimulus, nor, pins }) {
        this.program = program;
        this.stimulus = stimulus;
        this.pins = pins;
        this.log = new Log();
        this.meter = new Meter(program);
        this.lines = new Lines(pins, this.log);
        this.outputs = new Outputs(pins, this.log);
        this.receiver = new Receiver(pins, this.log);
        this.panel = new Panel(this.log);
        this.nor = new Nor(nor, this.log);
        this.probes = [new Probe(0, this.log), new Probe(1, this.log)];
        /** A computer at the USB socket, or null; see parts/usb.mjs. */
        this.usb = null;
        this.next = 0;
        this.looks = [];
        this.resets = [];
        this.seed = 0;
        this.memory = new Uint8Array(RAM_BYTES);
    }

    /** Plays the stimulus to its end. Throws a Fault when the program does not live that long. */
    play() {
        let life = this.coldStart(0);
        while (life !== null) life = this.live(life);
    }

    /** One life of the chip; returns how the next one begins, or null at the end. */
    live(life) {
        const chip = new Chip({ program: this.program, memory: this.memory, ...life }, this.log);
        this.log.clock = chip.clock;
        this.attach(chip);
        let ended;
        try {
            ended = chip.run();
        } finally {
            this.detach();
        }
        return this.after(chip, ended);
    }

    after(chip, { why, at, off }) {
        const { now } = chip.clock;
        if (why === 'end') return null;
        if (why === 'power') {
            this.nor.powerOff();
            return this.coldStart(now + off);
        }
        const asked = chip.hung;
        const where = asked ? {} : { at: this.program.nearest(at) };
        this.resets.push({ cause: 'watchdog', t_us: now / 1000, asked, ...where });
        const scratch = chip.watchdog.scratchData.slice();
        return { scratch, reason: chip.watchdog.reason, bornAt: now + BOOT_ROM_NANOS };
    }

    /** Power comes at a time: memory and display hold noise, the scratch words are clear. */
    coldStart(at) {
        this.seed++;
        fillWithNoise(this.memory, this.seed);
        this.meter.paint(this.memory);
        this.panel.powerOn(this.seed);
        this.nor.powerOn();
        this.resets.push({ cause: 'power', t_us: at / 1000, asked: true });
        return { scratch: new Uint32Array(8), reason: REASON_POWER, bornAt: at + (at === 0 ? 0 : BOOT_ROM_NANOS) };
    }

    attach(chip) {
        const { pins, log, probes } = this;
        const rows = (...names) => names.map((name) => pins.get(name));
        this.chip = chip;
        this.meter.attach(chip);
        this.lines.attach(chip);
        this.outputs.attach(chip);
        this.receiver.attach(chip);
        new SpiBus(chip, 0, rows('store_clock', 'store_out', 'store_in'), [[pins.get('store_select'), this.nor]], log);
        new SpiBus(chip, 1, rows('probe_clock', 'probe_out', 'probe_in'),
            probes.map((probe, i) => [pins.get(`probe${i}_select`), probe]), log);
        new I2cBus(chip, 0, rows('panel_sda', 'panel_scl'), [this.panel], log);
        this.usb?.attach(chip);
        this.watchFirstPicture(chip);
        this.watchForHang(chip);
        this.alarm = chip.clock.createAlarm(() => this.happen());
        this.schedule();
    }

    detach() {
        for (const part of [this.meter, this.lines, this.outputs, this.receiver]) part.detach();
    }

    schedule() {
        if (this.next < this.stimulus.length) this.alarm.scheduleAt(this.stimulus[this.next].at);
    }

    /** Everything that is due happens. */
    happen() {
        const { now } = this.chip.clock;
        while (this.next < this.stimulus.length && this.stimulus[this.next].at <= now) {
            this.one(this.stimulus[this.next++]);
            if (this.chip.halted !== null) return;
        }
        this.schedule();
    }

    one(what) {
        switch (what.kind) {
            case 'pin': return this.lines.set(what.name, what.active);
            case 'byte': return this.receiver.send(what.value);
            case 'probe': this.probes[what.index].frame = what.frame; return undefined;
            case 'power': return this.chip.halt({ why: 'power', off: what.off });
            case 'watchdog': return this.chip.hang();
            case 'look': return this.look(what.label);
            default: return this.chip.halt({ why: 'end' });
        }
    }

    look(label) {
        this.looks.push({
            label,
            t_us: this.log.now / 1000,
            drawn: this.meter.drawn,
            panel: this.panel.state,
            ram: Buffer.from(this.panel.ram).toString('hex'),
            warning: this.outputs.level('warning_lamp'),
            caution: this.outputs.level('caution_lamp'),
            beeper: this.outputs.level('beeper'),
        });
    }

    /** A program that does not sleep for two seconds hangs, unless its watchdog will see to it. */
    watchForHang(chip) {
        const watch = chip.clock.createAlarm(() => {
            const awake = !chip.core.waiting && chip.clock.nanos - chip.wokeAt > HANGS_NANOS;
            if (awake && !chip.watchdog.enable) chip.fault('hangs');
            watch.schedule(HANGS_NANOS / 4);
        });
        watch.schedule(HANGS_NANOS);
    }

    /** Notes when, after a reset, the first whole picture stood on the display. */
    watchFirstPicture(chip) {
        const reset = this.resets.at(-1);
        const before = this.panel.writes;
        const watch = chip.clock.createAlarm(() => {
            if (this.panel.writes > before && this.panel.state.lit && this.meter.drawn?.settled === 1) {
                reset.first_picture_us = this.log.now / 1000;
                reset.first_drawn = this.meter.drawn;
            } else {
                watch.schedule(100_000);
            }
        });
        if (this.meter.drawn !== null) watch.schedule(100_000);
    }
}
