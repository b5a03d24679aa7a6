#!/usr/bin/env node
// The board's program on an emulated chip, with its USB serial line at a TCP port of this machine, so that a host's
// program can be used with it as with a board.
//
//   node live.mjs --elf ELF [--stimulus FILE] [--nor IN.bin] [--out DIR] [--port PORT] [--speed TIMES]
//
// Says {"port": PORT} on standard output when it listens (a free port without --port). Emulated time goes on as fast as
// the machine can, but no faster than TIMES real time (1 without it). Ends when standard input ends, on SIGINT or SIGTERM,
// at the stimulus' end, or with the program: 0, or 3 when the program panicked, hung or was reset unasked. Then --out
// is written as by play.mjs. README.md has the formats.

import { createServer } from 'node:net';
import { parseArgs } from 'node:util';
import { Bench } from './bench.mjs';
import { Chip, Fault } from './chip.mjs';
import { inputNames, readPins } from './pins.mjs';
import { wholeChip } from './parts/nor.mjs';
import { UsbHost } from './parts/usb.mjs';
import { NOR_BYTES, reading, statistics, UsageError, write } from './results.mjs';
import { parseStimulus } from './stimulus.mjs';
import { Program } from './symbols.mjs';

/** So much emulated time goes by before the line is looked after. */
const SLICE_NANOS = 500_000;

/** A computer at the USB socket whose bytes come and go at a TCP port. */
class Relay extends UsbHost {
    constructor(log) {
        super([], log);
        this.socket = null;
    }

    /** A host's program has connected; the one before it is cut off. */
    connect(socket) {
        this.socket?.destroy();
        this.socket = socket;
        socket.setNoDelay(true);
        socket.on('data', (bytes) => this.say(bytes));
        socket.on('error', () => {});
        socket.on('close', () => {
            if (this.socket === socket) this.socket = null;
        });
    }

    say(bytes) {
        if (this.outbox === undefined) return;
        this.outbox.push(...bytes);
        this.flush();
    }

    take(bytes) {
        if (bytes.length > 0) this.socket?.write(Buffer.from(bytes));
    }
}

/** The board on its bench, played in slices between which the line is looked after. */
class LiveBench extends Bench {
    constructor(parts, speed) {
        super(parts);
        this.speed = speed;
        this.stopped = false;
        this.begins = process.hrtime.bigint();
    }

    async playLive() {
        let life = this.coldStart(0);
        while (life !== null) life = await this.live(life);
    }

    async live(life) {
        const chip = new Chip({ program: this.program, memory: this.memory, ...life }, this.log);
        this.log.clock = chip.clock;
        this.attach(chip);
        const slice = chip.clock.createAlarm(() => chip.halt({ why: 'slice' }));
        let ended = { why: 'slice' };
        try {
            while (ended.why === 'slice') {
                slice.schedule(SLICE_NANOS);
                ended = chip.run();
                await this.breathe(chip.clock.now);
                if (this.stopped) return null;
            }
        } finally {
            this.detach();
        }
        return this.after(chip, ended);
    }

    /** Lets the line be looked after, and waits for real time where emulated time is ahead of it. */
    breathe(now) {
        const real = Number(process.hrtime.bigint() - this.begins) * this.speed;
        const ahead = (now - real) / this.speed / 1e6;
        return new Promise((go) => (ahead >= 1 ? setTimeout(go, ahead) : setImmediate(go)));
    }
}

function readArguments() {
    const string = { type: 'string' };
    const { values } = parseArgs({
        options: { elf: string, stimulus: string, nor: string, out: string, port: string, speed: string },
    });
    if (values.elf === undefined) throw new UsageError('--elf is missing');
    const speed = Number(values.speed ?? 1);
    if (!(speed > 0)) throw new UsageError('--speed is no number above 0');
    return { ...values, speed };
}

function prepare(options) {
    const pins = readPins();
    const stimulus = options.stimulus === undefined ? []
        : reading(options.stimulus, (bytes) => parseStimulus(bytes.toString('utf8'), inputNames(pins)));
    const bench = new LiveBench({
        program: reading(options.elf, (bytes) => new Program(bytes)),
        stimulus,
        nor: options.nor === undefined ? new Uint8Array(NOR_BYTES).fill(0xff) : reading(options.nor, wholeChip),
        pins,
    }, options.speed);
    bench.usb = new Relay(bench.log);
    return bench;
}

async function play(bench) {
    try {
        await bench.playLive();
    } catch (error) {
        if (!(error instanceof Fault)) throw error;
        return error.message;
    }
    const unasked = bench.resets.find((reset) => !reset.asked);
    return unasked === undefined ? null : `reset unasked by its watchdog at ${unasked.at}, ${unasked.t_us / 1000} ms`;
}

async function main() {
    const options = readArguments();
    const bench = prepare(options);
    const stop = () => {
        bench.stopped = true;
    };
    process.on('SIGINT', stop);
    process.on('SIGTERM', stop);
    process.stdin.on('end', stop).on('error', stop).resume();
    const server = createServer((socket) => bench.usb.connect(socket));
    await new Promise((go, fail) => {
        server.on('error', fail);
        server.listen(Number(options.port ?? 0), '127.0.0.1', go);
    });
    process.stdout.write(`${JSON.stringify({ port: server.address().port })}\n`);
    const fault = await play(bench);
    bench.usb.socket?.destroy();
    server.close();
    const wall = Number(process.hrtime.bigint() - bench.begins) / 1e9;
    if (options.out !== undefined) write(bench, statistics(bench, fault, wall), options.out);
    if (fault !== null) process.stderr.write(`the program ${fault}\n`);
    return fault === null ? 0 : 3;
}

try {
    process.exit(await main());
} catch (error) {
    const usage = error instanceof UsageError || error.code?.startsWith('ERR_PARSE_ARGS');
    process.stderr.write(`live: ${usage ? error.message : error.stack}\n`);
    process.exit(2);
}
