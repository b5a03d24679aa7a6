// The quick instructions do what rp2040js does: both run from the same state, and leave the same one.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { KINDS } from '../decode.mjs';
import { makeBurst } from '../fast.mjs';
import { noise } from '../noise.mjs';
import { bareChip, CODE } from './thumb.mjs';

const RAM = 0x20000000;
/** Where pointers point, and as much of the memory as they can reach from there. */
const [FROM, LENGTH] = [0x4000, 0x800];
const EDGES = [0, 1, 2, 31, 32, 33, 255, 0x7fffffff, 0x80000000, 0x80000001, 0xfffffffe, 0xffffffff];

const chip = bareChip();
const { core, mcu, clock } = chip;
const burst = makeBurst(chip);
const due = clock.createAlarm(() => {});
const draw = noise(2031);
const pick = (list) => list[draw() % list.length];

/** A register's value: an edge, a pointer into RAM, one to where nothing is, or something small. */
function value() {
    switch (draw() % 6) {
        case 0: return pick(EDGES);
        case 1: return 0x90000000 + (draw() >>> 4);
        case 2: return draw() % 64;
        default: return RAM + FROM + 0x200 + (draw() % 0x100 & ~3);
    }
}

function state() {
    return {
        registers: [...core.registers], N: core.N, Z: core.Z, C: core.C, V: core.V,
        memory: Buffer.from(mcu.sram.slice(FROM, FROM + LENGTH)).toString('hex'),
    };
}

function restore({ registers, memory, ...flags }) {
    core.registers.set(registers);
    Object.assign(core, flags, { waiting: false, interruptsUpdated: false });
    mcu.sram.set(Buffer.from(memory, 'hex'), FROM);
}

function randomise() {
    for (let i = 0; i < 15; i++) core.registers[i] = value();
    core.registers[13] = RAM + FROM + 0x200 + (draw() % 0x100 & ~3);
    core.registers[15] = CODE;
    const nz = draw() % 3;
    Object.assign(core, { N: nz === 0, Z: nz === 1, C: draw() % 2 === 0, V: draw() % 2 === 0 });
    for (let i = 0; i < LENGTH; i++) mcu.sram[FROM + i] = draw();
}

/** Runs one instruction; gives the state after it and the cycles that it took, or the fault that it ended in. */
function after(run) {
    const began = clock.nanos;
    try {
        run();
    } catch (error) {
        return { fault: error.message.replace(/ at 0x.*/, '') };
    }
    return { ...state(), cycles: (clock.nanos - began) / 8 };
}

const quickly = () => {
    due.schedule(8);
    burst();
};
const byThePackage = () => {
    clock.nanos += core.executeInstruction() * 8;
};

/** BLX LR. The package sets LR before it reads it, and goes to the next instruction. */
const BRANCH_TO_LINK = 0x47f0;

// A shift by a register's zero leaves the carry, and one by more than 32 clears it (A2.2.1, LSL_C and LSR_C); the
// package does otherwise, and compilers do not ask.
function carryDiffers(opcode) {
    const shift = core.registers[(opcode >> 3) & 7] & 0xff;
    return [0b0100000010, 0b0100000011].includes(opcode >> 6) && (shift === 0 || shift > 32);
}

test('every quick instruction leaves registers, flags, memory and cycles as the package does', () => {
    const byKind = new Map();
    KINDS.forEach((kind, opcode) => kind && byKind.set(kind, [...(byKind.get(kind) ?? []), opcode]));
    const kinds = [...byKind.values()];
    assert.equal(kinds.length, 57);
    let faults = 0;
    for (let round = 0; round < 40_000; round++) {
        const opcode = pick(pick(kinds));
        if (opcode === BRANCH_TO_LINK) continue;
        mcu.flash16[(CODE & 0xffffff) >> 1] = opcode;
        mcu.flash16[((CODE & 0xffffff) >> 1) + 1] = pick([0xf800, 0xd000, 0x8000]) | (draw() & 0x2fff);
        randomise();
        const before = state();
        const differs = carryDiffers(opcode);
        const ours = after(quickly);
        restore(before);
        const theirs = after(byThePackage);
        faults += theirs.fault === undefined ? 0 : 1;
        if (differs && theirs.fault === undefined) ours.C = theirs.C;
        assert.deepEqual(ours, theirs, `opcode ${opcode.toString(16)} from ${JSON.stringify(before.registers)}`);
    }
    // Wild pointers are among the cases, and not most of them.
    assert.ok(faults > 100 && faults < 8_000, `${faults} faults`);
});

// BLX (register): the target is read before LR is set (ARMv6-M Architecture Reference Manual, A6.7.14).
test('a branch to the link register goes where it pointed', () => {
    mcu.flash16[(CODE & 0xffffff) >> 1] = BRANCH_TO_LINK;
    core.registers[14] = 0x10000801;
    core.registers[15] = CODE;
    quickly();
    assert.deepEqual([core.registers[15], core.registers[14]], [0x10000800, (CODE + 2) | 1]);
});
