// The display decodes what it is sent. Commands by the SSD1306 data sheet, section 9 and 10.

import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { Panel } from '../parts/panel.mjs';

let panel;
let told;
beforeEach(() => {
    told = [];
    panel = new Panel({ violation: (part, what) => told.push(what) });
    panel.ram.fill(0);
});

/** One transfer of a control byte and what follows. */
function send(...bytes) {
    panel.begin();
    bytes.forEach((byte) => panel.write(byte));
    panel.end();
}

const commands = (...bytes) => send(0x00, ...bytes);
const data = (...bytes) => send(0x40, ...bytes);
const at = (page, column, count) => [...panel.ram.subarray(page * 128 + column, page * 128 + column + count)];

test('horizontal addressing fills a window line by line and begins anew', () => {
    commands(0x20, 0, 0x21, 126, 127, 0x22, 6, 7);
    data(1, 2, 3, 4, 5);
    assert.deepEqual([at(6, 126, 2), at(7, 126, 2)], [[5, 2], [3, 4]]);
});

test('vertical addressing fills a window column by column', () => {
    commands(0x20, 1, 0x21, 10, 11, 0x22, 2, 3);
    data(1, 2, 3, 4);
    assert.deepEqual([at(2, 10, 2), at(3, 10, 2)], [[1, 3], [2, 4]]);
});

test('page addressing stays in its page and wraps to its first column', () => {
    commands(0x20, 2, 0xb3, 0x0f, 0x17);
    data(1, 2);
    assert.deepEqual([at(3, 127, 1), at(3, 0, 1)], [[1], [2]]);
});

test('single control bytes mix commands and data in one transfer', () => {
    send(0x80, 0xb1, 0x80, 0x05, 0x80, 0x10, 0xc0, 9, 0x40, 8, 7);
    assert.deepEqual(at(1, 5, 3), [9, 8, 7]);
});

test('a picture is seen once display and charge pump are on, upright when both ways are flipped', () => {
    commands(0x8d, 0x14, 0xaf, 0x81, 0x20, 0xa7);
    assert.deepEqual(panel.state, { lit: true, inverted: true, upright: false, contrast: 0x20 });
    commands(0xa1, 0xc8, 0xa6);
    assert.deepEqual(panel.state, { lit: true, inverted: false, upright: true, contrast: 0x20 });
    commands(0xae);
    assert.equal(panel.state.lit, false);
});

test('power-on leaves noise in the memory and the display off', () => {
    panel.powerOn(7);
    assert.ok(new Set(panel.ram).size > 100);
    assert.equal(panel.state.lit, false);
});

test('commands that are unknown, impossible or cut short are told', () => {
    commands(0x3c);
    commands(0x21, 33, 30);
    commands(0x81);
    send(0x01, 0xae);
    assert.deepEqual(told, [
        'unknown command 0x3c', 'columns 33 to 30', 'command 0x81 was cut short', 'control byte 0x01',
    ]);
});
