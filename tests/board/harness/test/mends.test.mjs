// The mends of rp2040js, held against ARM's and Raspberry Pi's manuals. Each test fails when its mend is left out.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import {
    adcs, adds, again, assemble, back, bareChip, CODE, compare, load, maskInterrupts, nothing, number, put, sbcs, sleep,
    store, undefinedInstruction, unmaskInterrupts,
} from './thumb.mjs';

const RAM = 0x20000000;
const TIMER = 0x40054000;
const ISER = 0xe000e100;

/** Runs to the first undefined instruction. */
function runToUdf(made) {
    assert.throws(() => made.run(), /panicked/);
}

// The handler counts its runs in RAM and silences the alarm. The program sleeps with interrupts masked and notes the
// count before and after it unmasks them. `idle` instructions pass between setting the alarm and sleeping.
function sleeper(micros, idle) {
    return assemble([
        put(TIMER + 0x38, 1),
        put(ISER, 1),
        maskInterrupts,
        put(TIMER + 0x10, micros),
        Array(idle).fill(nothing),
        sleep,
        number(2, RAM), load(3, 2),
        unmaskInterrupts, nothing,
        load(4, 2),
        undefinedInstruction,
    ], { 0: [put(TIMER + 0x34, 1), number(0, RAM), load(1, 0), adds(1, 1), store(1, 0), back] });
}

for (const [name, idle] of [['that comes while it sleeps', 0], ['that pends already', 400]]) {
    test(`masked sleep ends at an interrupt ${name}, and the handler waits for the unmasking`, () => {
        const made = bareChip(sleeper(3, idle));
        runToUdf(made);
        assert.equal(made.core.registers[3], 0, 'the handler ran inside the critical section');
        assert.equal(made.core.registers[4], 1, 'the handler did not run after it');
        assert.ok(made.clock.nanos < 5000, 'it slept on');
    });
}

test('a sleep that nothing can end is a fault', () => {
    assert.throws(() => bareChip(assemble([maskInterrupts, sleep, again])).run(), /nothing will wake it/);
});

// AddWithCarry() of the ARMv6-M Architecture Reference Manual, A2.2.1, in whole numbers without limit.
function addWithCarry(x, y, carry) {
    const signed = (n) => BigInt.asIntN(32, n);
    const unsignedSum = x + y + carry;
    const result = BigInt.asUintN(32, unsignedSum);
    return {
        result: Number(result),
        N: (result >> 31n) === 1n,
        Z: result === 0n,
        C: unsignedSum !== result,
        V: signed(x) + signed(y) + carry !== signed(result),
    };
}

const EDGES = [0, 1, 2, 0x7ffffffe, 0x7fffffff, 0x80000000, 0x80000001, 0xfffffffe, 0xffffffff];

function checkArithmetic(instruction, reference) {
    const { core, mcu } = bareChip(assemble([instruction]));
    for (const x of EDGES) for (const y of EDGES) for (const carry of [false, true]) {
        core.PC = CODE;
        core.C = carry;
        core.registers[0] = x;
        core.registers[1] = y;
        core.executeInstruction();
        const { result, ...flags } = reference(BigInt(x), BigInt(y), carry ? 1n : 0n);
        const words = `${x.toString(16)} ${y.toString(16)} carry ${carry}`;
        assert.deepEqual({ N: core.N, Z: core.Z, C: core.C, V: core.V }, flags, words);
        if (result !== null) assert.equal(mcu.core.registers[0], result, words);
    }
}

const not = (n) => BigInt.asUintN(32, ~n);

test('ADCS sets result and flags as AddWithCarry() does', () => checkArithmetic(adcs(0, 1), addWithCarry));

test('SBCS sets result and flags as AddWithCarry() does', () => {
    checkArithmetic(sbcs(0, 1), (x, y, carry) => addWithCarry(x, not(y), carry));
});

test('CMP sets flags as AddWithCarry() does', () => {
    checkArithmetic(compare(0, 1), (x, y) => ({ ...addWithCarry(x, not(y), 1n), result: null }));
});

// RP2040 data sheet, Timer: an alarm fires when the timer's low word matches it.
test('an alarm set in the middle of a microsecond fires when the timer reads its time', () => {
    const made = bareChip(assemble([again]));
    made.clock.advance(5900);
    made.mcu.writeUint32(TIMER + 0x38, 1);
    made.mcu.writeUint32(TIMER + 0x10, 10);
    assert.equal(made.clock.due, 10_000);
    made.clock.advance(4100);
    assert.equal(made.mcu.readUint32(TIMER + 0x34), 1);
    assert.equal(made.mcu.readUint32(TIMER + 0x28), 10);
});

// RP2040 data sheet, I2C: an abort flushes the transmit queue, and an empty queue raises TX_EMPTY.
test('a display that does not answer does not leave the program waiting for its queue to empty', () => {
    const { mcu } = bareChip(assemble([again]));
    const I2C = 0x40044000;
    mcu.i2c[0].onConnect = () => mcu.i2c[0].completeConnect(false);
    mcu.writeUint32(I2C + 0x6c, 1);
    mcu.writeUint32(I2C + 0x10, 0x200);
    const raw = mcu.readUint32(I2C + 0x34);
    assert.equal(raw & (1 << 6), 1 << 6, 'TX_ABRT');
    assert.equal(raw & (1 << 4), 1 << 4, 'TX_EMPTY');
});
