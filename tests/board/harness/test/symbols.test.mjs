// An ELF file is read as the Tool Interface Standard (ELF 1.2) lays it out.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Program } from '../symbols.mjs';

/** The smallest ELF with one segment loaded elsewhere than it runs, and three symbols. */
function elf() {
    const names = '\0gunline_feed\0_ZN8firmware4dash4Dash9feed_into17h0123456789abcdefE\0GUNLINE_DRAWN\0';
    const bytes = Buffer.alloc(0x200 + names.length);
    bytes.write('\x7fELF\x01\x01\x01', 'latin1');
    const word = (at, ...values) => values.forEach((value, i) => bytes.writeUInt32LE(value, at + 4 * i));
    bytes.writeUInt16LE(40, 18);
    word(28, 52, 0xc0);
    [[42, 32], [44, 1], [46, 40], [48, 3]].forEach(([at, value]) => bytes.writeUInt16LE(value, at));
    word(52, 1, 0x160, 0x20000000, 0x10000800, 4, 8);
    // Sections: none, the symbols, their names.
    word(0xc0 + 40, 0, 2, 0, 0, 0x170, 48, 2);
    word(0xc0 + 80, 0, 3, 0, 0, 0x200, names.length);
    word(0x160, 0xdeadbeef);
    word(0x170, 1, 0x10000401, 0x20, 0x12);
    word(0x180, names.indexOf('_ZN'), 0x10000501, 0x20, 0x12);
    word(0x190, names.indexOf('GUNLINE'), 0x20000008, 16, 0x11);
    bytes.write(names, 0x200, 'latin1');
    return bytes;
}

test('segments are loaded where they are stored, not where they run', () => {
    const [{ address, bytes }] = new Program(elf()).segments;
    assert.equal(address, 0x10000800);
    assert.equal(Buffer.from(bytes).readUInt32LE(), 0xdeadbeef);
});

test('symbols are found by name, functions by an address within them', () => {
    const program = new Program(elf());
    assert.equal(program.address('GUNLINE_DRAWN'), 0x20000008);
    assert.equal(program.nearest(0x10000412), 'gunline_feed+0x12 (0x10000412)');
    assert.equal(program.nearest(0x10000502), 'firmware::dash::Dash::feed_into+0x2 (0x10000502)');
    assert.equal(program.nearest(0x100), '0x100');
});

test('what is no program for this chip is refused', () => {
    const other = elf();
    other[18] = 62;
    assert.throws(() => new Program(Buffer.from('hello')), /not an ELF file/);
    assert.throws(() => new Program(other), /not a program for ARM/);
});
