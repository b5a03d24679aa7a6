// The thermocouple chip's frame, high bit first (MAX31855 data sheet, Serial Interface), and the bus that it hangs on.

import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { SpiBus } from '../buses/spi.mjs';
import { Probe } from '../parts/probe.mjs';
import { readPins } from '../pins.mjs';
import { bareChip } from './thumb.mjs';

const SPI1 = 0x40040000;
const [CR0, CR1, DR, SR, CPSR] = [0x00, 0x04, 0x08, 0x0c, 0x10];
const GPIO_CTRL = (gpio) => 0x40014004 + 8 * gpio;
const [OUT_SET, OUT_CLEAR, ENABLE_SET] = [0xd0000014, 0xd0000018, 0xd0000024];

let mcu;
let clock;
let log;
let probes;
beforeEach(() => {
    const pins = readPins();
    const chip = bareChip();
    ({ mcu, clock, log } = chip);
    probes = [new Probe(0, log), new Probe(1, log)];
    const wires = ['probe_clock', 'probe_out', 'probe_in'].map((name) => pins.get(name));
    const selects = probes.map((probe, i) => [pins.get(`probe${i}_select`), probe]);
    new SpiBus(chip, 1, wires, selects, log);
    wires.forEach(({ gpio }) => mcu.writeUint32(GPIO_CTRL(gpio), 1));
    selects.forEach(([{ gpio }]) => {
        mcu.writeUint32(OUT_SET, 1 << gpio);
        mcu.writeUint32(ENABLE_SET, 1 << gpio);
        mcu.writeUint32(GPIO_CTRL(gpio), 5);
    });
    // 125 MHz / 32 = 3.9 MHz, words of 8 bits, mode 0.
    [[CPSR, 32], [CR0, 7], [CR1, 2]].forEach(([register, value]) => mcu.writeUint32(SPI1 + register, value));
});

/** Reads bytes with one chip selected, and waits for each. */
function read(gpio, count) {
    mcu.writeUint32(OUT_CLEAR, 1 << gpio);
    const bytes = Array.from({ length: count }, () => {
        mcu.writeUint32(SPI1 + DR, 0);
        while (mcu.readUint32(SPI1 + SR) & 16) clock.advance(100);
        return mcu.readUint32(SPI1 + DR);
    });
    mcu.writeUint32(OUT_SET, 1 << gpio);
    return bytes;
}

test('the selected chip answers its frame, and four bytes take 32 bits of time', () => {
    probes[1].frame = 0x0190ab04;
    const began = clock.nanos;
    assert.deepEqual(read(13, 4), [0x01, 0x90, 0xab, 0x04]);
    // 32 bits at 3.90625 MHz are 8192 ns; the test looks every 100 ns.
    assert.ok(clock.nanos - began >= 8192 && clock.nanos - began < 8700);
    assert.deepEqual(log.violations, []);
});

test('a chip that is not there leaves its line open', () => {
    assert.deepEqual(read(9, 4), [255, 255, 255, 255]);
    assert.deepEqual(log.violations, []);
});

test('a bus that is too fast, a pin without its function and a frame read too far are told', () => {
    probes[0].frame = 0;
    mcu.writeUint32(SPI1 + CPSR, 20);
    mcu.writeUint32(GPIO_CTRL(12), 5);
    read(9, 5);
    assert.deepEqual(log.violations.map(({ what }) => what), [
        'clocked at 6250000 Hz', 'GPIO 12 (probe_in) is not set to SPI', 'read on after its 32 bits',
    ]);
});
