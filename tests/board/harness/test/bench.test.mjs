// The whole bench with tiny programs: what survives a watchdog's bite and a power cut, what a stuck program gives.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, BOOT_ROM_NANOS } from '../bench.mjs';
import { Fault } from '../chip.mjs';
import { readPins } from '../pins.mjs';
import { parseStimulus } from '../stimulus.mjs';
import { adds, again, assemble, load, number, put, sleep, store, undefinedInstruction } from './thumb.mjs';

const SCRATCH0 = 0x4005800c;
const COUNTER = 0x20000100;
const IO_BANK0 = 0x40014000;
const PADS = 0x4001c000;

function bench(program, ...lines) {
    const stimulus = parseStimulus(['gunline-stimulus 1', ...lines].join('\n'), ['button']);
    return new Bench({ program, stimulus, nor: new Uint8Array(1 << 16).fill(0xff), pins: readPins() });
}

const increment = (address) => [number(0, address), load(1, 0), adds(1, 1), store(1, 0)];

// Counts its starts in a scratch word and in RAM, starts a watchdog of 100 ms (200000 half microseconds, RP2040-E1)
// that may reset all but the oscillators, and sleeps.
const counting = assemble([
    increment(SCRATCH0), increment(COUNTER),
    put(0x40010008, 0x1fffc), put(0x40058004, 200_000), put(0x40058000, 1 << 30),
    sleep, again,
]);

test('a watchdog reset keeps scratch words and RAM and starts the timer anew; a power cut keeps neither', () => {
    const played = bench(counting, '10000 reset watchdog', '150000 power off 20000', '200000 end');
    const starts = [];
    const detach = played.detach.bind(played);
    played.detach = () => {
        const { chip } = played;
        starts.push({
            born: chip.clock.bornAt, scratch: chip.watchdog.scratchData[0], counted: chip.word(COUNTER),
            reason: chip.watchdog.reason,
        });
        detach();
    };
    played.play();
    const [power, bitten, cut] = starts;
    assert.deepEqual([power.scratch, bitten.scratch, cut.scratch], [1, 2, 1]);
    assert.equal(bitten.counted, power.counted + 1);
    assert.notEqual(cut.counted, bitten.counted + 1);
    assert.equal(bitten.reason, 1, 'the watchdog timer was the reason');
    // The watchdog ran since shortly after the start: it bites at 100 ms, and the boot ROM takes its time.
    assert.ok(Math.abs(bitten.born - 100e6 - BOOT_ROM_NANOS) < 10e3);
    assert.equal(cut.born, 170e6 + BOOT_ROM_NANOS);
    assert.deepEqual(played.resets.map(({ cause, asked }) => [cause, asked]), [
        ['power', true], ['watchdog', true], ['power', true],
    ]);
});

test('a bite that nobody asked for is told apart', () => {
    const played = bench(counting, '120000 end');
    played.play();
    assert.deepEqual(played.resets.map(({ asked }) => asked), [true, false]);
});

test('an undefined instruction, a wild access and a hang without a watchdog end the run and say where', () => {
    const panics = assemble([undefinedInstruction]);
    const strays = assemble([number(0, 0x60000000), load(1, 0), again]);
    const hangs = assemble([sleep, again]);
    const where = (e) => e instanceof Fault && /panicked.*0x100001c0/.test(e.message);
    assert.throws(() => bench(panics, '1000 end').play(), where);
    assert.throws(() => bench(strays, '1000 end').play(), /invalid memory address: 60000000/i);
    assert.throws(() => bench(hangs, '10 reset watchdog', '1000 end').play(), /no watchdog is running/);
});

test('a program that never sleeps, without a watchdog, is found to hang', () => {
    assert.throws(() => bench(assemble([again]), '9000000 end').play(), /hangs/);
});

// The button pulls GPIO 3 low. Its edge flags stand in INTR0, four bits a pin: edge low is bit 2, edge high bit 3.
test('an edge reaches its pin at its time, at the level that the table gives it', () => {
    const clears = [put(PADS + 4 + 4 * 3, 0x4a), put(IO_BANK0 + 0xf0, 0xc000)];
    const played = bench(assemble([clears, sleep, again]), '500 pin button 1', '800 pin button 0', '900 end');
    const seen = [];
    const detach = played.detach.bind(played);
    played.detach = () => {
        seen.push((played.chip.mcu.readUint32(IO_BANK0 + 0xf0) >>> 12) & 0xc);
        detach();
    };
    played.play();
    assert.deepEqual(played.log.edges, [
        { t_us: 500, name: 'button', level: 1 }, { t_us: 800, name: 'button', level: 0 },
    ]);
    assert.deepEqual(seen, [0xc]);
});

test('two runs of the same are the same', () => {
    const run = () => {
        const resets = ['10000 reset watchdog', '110000 look a', '150000 power off 20000', '175000 look b'];
        const played = bench(counting, ...resets, '200000 end');
        played.play();
        return JSON.stringify([played.looks, played.resets, played.log.edges, played.meter.figures()]);
    };
    assert.equal(run(), run());
});
