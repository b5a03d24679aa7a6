#!/usr/bin/env node
// Plays a stimulus file to the board's program on an emulated chip, and writes down what came of it.
//
//   node play.mjs --elf ELF --stimulus FILE [--nor IN.bin] --out DIR [--usb SCRIPT] [--count NAME] [--json]
//
// README.md has the formats. Exit status: 0 played to the end; 2 arguments or files are wrong; 3 the program
// panicked, hung or was reset unasked. A green run shows that the program agrees with the host under this model of
// the chip. It does not show that it works on a Pico.

import { parseArgs } from 'node:util';
import { Bench } from './bench.mjs';
import { Fault } from './chip.mjs';
import { inputNames, readPins } from './pins.mjs';
import { wholeChip } from './parts/nor.mjs';
import { parseUsbScript, UsbHost } from './parts/usb.mjs';
import { NOR_BYTES, reading, statistics, UsageError, write } from './results.mjs';
import { parseStimulus } from './stimulus.mjs';
import { Program } from './symbols.mjs';

function readArguments() {
    const string = { type: 'string' };
    const { values } = parseArgs({
        options: { elf: string, stimulus: string, nor: string, out: string, usb: string, count: string,
            json: { type: 'boolean' } },
    });
    for (const name of ['elf', 'stimulus', 'out']) {
        if (values[name] === undefined) throw new UsageError(`--${name} is missing`);
    }
    return values;
}

function prepare(options) {
    const pins = readPins();
    const bench = new Bench({
        program: reading(options.elf, (bytes) => new Program(bytes)),
        stimulus: reading(options.stimulus, (bytes) => parseStimulus(bytes.toString('utf8'), inputNames(pins))),
        nor: options.nor === undefined ? new Uint8Array(NOR_BYTES).fill(0xff) : reading(options.nor, wholeChip),
        pins,
    });
    if (options.count !== undefined && !bench.meter.countInstead(options.count)) {
        throw new UsageError(`the program has no function with '${options.count}' in its name`);
    }
    if (options.usb !== undefined) {
        const script = reading(options.usb, (bytes) => parseUsbScript(bytes.toString('utf8')));
        bench.usb = new UsbHost(script, bench.log);
    }
    return bench;
}

/** Plays; a Fault is the program's end, and no accident of ours. */
function play(bench) {
    try {
        bench.play();
    } catch (error) {
        if (!(error instanceof Fault)) throw error;
        return error.message;
    }
    const unasked = bench.resets.find((reset) => !reset.asked);
    return unasked === undefined ? null : `reset unasked by its watchdog at ${unasked.at}, ${unasked.t_us / 1000} ms`;
}

function main() {
    const options = readArguments();
    const bench = prepare(options);
    const begins = process.hrtime.bigint();
    const fault = play(bench);
    const stats = statistics(bench, fault, Number(process.hrtime.bigint() - begins) / 1e9);
    write(bench, stats, options.out);
    if (options.json) process.stdout.write(`${JSON.stringify(stats)}\n`);
    if (fault !== null) process.stderr.write(`the program ${fault}\n`);
    return fault === null ? 0 : 3;
}

try {
    process.exitCode = main();
} catch (error) {
    const usage = error instanceof UsageError || error.code?.startsWith('ERR_PARSE_ARGS');
    process.stderr.write(`play: ${usage ? error.message : error.stack}\n`);
    process.exitCode = 2;
}
