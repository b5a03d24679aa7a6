// What goes into an emulation and what comes out of it: files read, files written. For play.mjs and live.mjs.

import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** A blank chip of 16 MiB, when no image is given. */
export const NOR_BYTES = 16 * 1024 * 1024;

export class UsageError extends Error {}

/** Reads one of the files and says which one was wrong. */
export function reading(file, read) {
    try {
        return read(readFileSync(file));
    } catch (error) {
        throw new UsageError(`${file}: ${error.message}`);
    }
}

/** Figures of a run. */
export function statistics(bench, fault, wallSeconds) {
    const { log, nor, receiver, probes, resets } = bench;
    return {
        ...bench.meter.figures(),
        wall_s: wallSeconds,
        fault,
        resets,
        violations: log.violations,
        nor: { ...nor.counts, erased_at_us: nor.erasedAt },
        receiver: { ...receiver.counts, told: Buffer.from(receiver.told).toString('hex') },
        probe_reads: probes.map((probe) => probe.reads),
        panel_bytes: bench.panel.writes,
        emulator_notes: log.counted,
    };
}

/** Writes everything that came of a run into a folder. */
export function write(bench, stats, out) {
    mkdirSync(out, { recursive: true });
    const pretty = (value) => `${JSON.stringify(value, null, 1)}\n`;
    const rows = bench.log.edges.map(({ t_us: at, name, level }) => `${at},${name},${level}\n`);
    writeFileSync(join(out, 'nor.bin'), bench.nor.memory);
    writeFileSync(join(out, 'looks.json'), pretty(bench.looks));
    writeFileSync(join(out, 'pins.csv'), `t_us,name,level\n${rows.join('')}`);
    writeFileSync(join(out, 'stats.json'), pretty(stats));
    if (bench.usb !== null) writeFileSync(join(out, 'usb.json'), pretty(bench.usb.received));
}
