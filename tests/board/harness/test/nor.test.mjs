// The storage chip forgives nothing. Commands by the W25Q128 data sheet, from memory.

import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { ERASE_NANOS, Nor, PROGRAM_NANOS, RESET_NANOS, wholeChip } from '../parts/nor.mjs';

let nor;
let log;
beforeEach(() => {
    log = { now: 0, told: [], violation: (part, what) => log.told.push(what) };
    nor = new Nor(new Uint8Array(1 << 16).fill(0xff), log);
});

/** One command from select to deselect; the bytes that came back. */
function send(...bytes) {
    nor.select(true);
    const answer = bytes.map((byte) => nor.exchange(byte));
    nor.select(false);
    return answer;
}

function program(address, bytes) {
    send(0x06);
    send(0x02, 0, address >> 8, address & 0xff, ...bytes);
}

const read = (address, count) => send(0x03, 0, address >> 8, address & 0xff, ...Array(count).fill(0)).slice(4);
const pass = (nanos) => (log.now += nanos);

test('it gives its name and its size', () => {
    assert.deepEqual(send(0x9f, 0, 0, 0).slice(1), [0xef, 0x40, 16]);
});

test('an image of another size than a chip has is refused', () => {
    assert.equal(wholeChip(new Uint8Array(1 << 16)).length, 1 << 16);
    for (const length of [0, 1 << 15, (1 << 16) + 1, 1 << 25]) {
        assert.throws(() => wholeChip(new Uint8Array(length)), /64 KiB to 16 MiB/);
    }
});

test('a program is there when it is no longer busy, and not before', () => {
    program(0x1234, [1, 2, 3]);
    assert.equal(send(0x05, 0)[1], 0b11);
    assert.deepEqual([...nor.memory.subarray(0x1234, 0x1237)], [255, 255, 255]);
    pass(PROGRAM_NANOS);
    assert.equal(send(0x05, 0)[1], 0);
    assert.deepEqual(read(0x1234, 4), [1, 2, 3, 255]);
    assert.deepEqual(log.told, []);
});

test('an erase sets its sector and no other', () => {
    nor.memory.fill(0);
    send(0x06);
    send(0x20, 0, 0x10, 0);
    pass(ERASE_NANOS);
    assert.equal(nor.busy, false);
    assert.deepEqual([0x0fff, 0x1000, 0x1fff, 0x2000].map((at) => nor.memory[at]), [0, 255, 255, 0]);
});

test('a program without write enable does nothing and is told', () => {
    send(0x02, 0, 0, 0, 7);
    assert.equal(nor.busy, false);
    assert.match(log.told[0], /without write enable/);
});

test('write enable lasts for one operation', () => {
    program(0, [1]);
    pass(PROGRAM_NANOS);
    send(0x02, 0, 0, 1, 2);
    assert.match(log.told[0], /without write enable/);
});

test('what comes while it is busy is ignored and told', () => {
    program(0, [1]);
    assert.deepEqual(read(0, 1), [255]);
    assert.match(log.told[0], /while busy/);
});

test('programming clears bits, sets none, and is told when the place was not blank', () => {
    program(0, [0b1010]);
    pass(PROGRAM_NANOS);
    program(0, [0b0110]);
    pass(PROGRAM_NANOS);
    assert.deepEqual(read(0, 1), [0b0010]);
    assert.match(log.told[0], /not blank/);
});

test('a program that runs over its page wraps to its start and is told', () => {
    program(0x01fe, [1, 2, 3]);
    pass(PROGRAM_NANOS);
    assert.deepEqual([...read(0x01fe, 2), ...read(0x0100, 1), ...read(0x0200, 1)], [1, 2, 3, 255]);
    assert.match(log.told[0], /runs over its page/);
});

test('a cut while it programs leaves the first part of the bytes', () => {
    program(0, [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
    pass(PROGRAM_NANOS * 0.45);
    nor.powerOff();
    assert.deepEqual(read(0, 10), [1, 2, 3, 4, 255, 255, 255, 255, 255, 255]);
    assert.equal(nor.busy, false);
});

test('a cut erase leaves bits that were set and some of those that were clear', () => {
    nor.memory.fill(0b10100000);
    send(0x06);
    send(0x20, 0, 0, 0);
    pass(ERASE_NANOS / 2);
    nor.powerOff();
    const sector = nor.memory.subarray(0, 4096);
    assert.ok(sector.every((byte) => (byte & 0b10100000) === 0b10100000));
    const set = sector.reduce((sum, byte) => sum + [0, 1, 2, 3, 4, 6].filter((bit) => byte & (1 << bit)).length, 0);
    // Six bits a byte with even chances: 12288 of them, ten standard deviations of 78.
    assert.ok(Math.abs(set - 12288) < 780, `${set} bits were set`);
});

test('a cut before the select goes up programs nothing', () => {
    send(0x06);
    nor.select(true);
    [0x02, 0, 0, 0, 1].forEach((byte) => nor.exchange(byte));
    nor.powerOff();
    pass(PROGRAM_NANOS);
    assert.deepEqual(read(0, 1), [255]);
});

test('a reset needs its enable, and cuts short what is being done', () => {
    send(0x99);
    assert.match(log.told[0], /without its enable/);
    program(0, [1]);
    send(0x66);
    send(0x99);
    assert.match(log.told[1], /reset while busy/);
    assert.deepEqual(send(0x9f, 0), [255, 255]);
    assert.match(log.told[2], /within its reset/);
    pass(RESET_NANOS);
    assert.equal(send(0x9f, 0)[1], 0xef);
});

test('a command that it does not know is told', () => {
    send(0xc7);
    assert.match(log.told[0], /unknown command 0xc7/);
});
