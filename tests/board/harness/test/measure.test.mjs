// What a program costs is measured from outside.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench } from '../bench.mjs';
import { readPins } from '../pins.mjs';
import { parseStimulus } from '../stimulus.mjs';
import { again, assemble, CODE, nothing, number, sleep } from './thumb.mjs';

const RAM = 0x20000000;
/** PUSH {r0-r7, lr}, nine words, and the POP {r0-r7, pc} that fits it. */
const [save, restore] = [0xb5ff, 0xbdff];
/** BLX r2. */
const callR2 = 0x4790;

function measured(program, symbols) {
    const stimulus = parseStimulus('gunline-stimulus 1\n1000 end', []);
    program.address = (name) => symbols[name];
    const bench = new Bench({ program, stimulus, nor: new Uint8Array(1 << 16), pins: readPins() });
    bench.play();
    return bench.meter.figures();
}

test('a call takes the cycles of its instructions, and its frame is the stack that was used', () => {
    const body = [save, nothing, nothing, nothing, restore];
    const main = [number(2, 0), callR2, sleep, again];
    const at = CODE + 2 * main.length;
    main[0] = number(2, at | 1);
    const figures = measured(assemble([...main, ...body]), {
        gunline_feed: at | 1, _stack_end: RAM + 0x1000, _stack_start: RAM + 0x40000,
    });
    // Cycles as the package counts them: PUSH 1 + 8, three times 1, POP 1 + 8 + 2.
    assert.deepEqual(figures.feed, { count: 1, mean_cycles: 23, max_cycles: 23, max_at_us: figures.feed.max_at_us, next_cycles: 0 });
    assert.equal(figures.stack_high_water_bytes, 36);
});

test('time awake is time that instructions took', () => {
    const figures = measured(assemble([Array(100).fill(nothing), sleep, again]), {});
    // A hundred instructions of one cycle, WFI with two: 816 ns of 1 ms.
    assert.ok(Math.abs(figures.awake_share - 816 / 1e6) < 1e-9);
    assert.equal(figures.instructions, 101);
});
