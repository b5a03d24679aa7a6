// The receiving side of the UART. Levels, time-out and overrun by ARM's PL011 Technical Reference Manual, 2.8 and 3.3.

import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { bareChip } from './thumb.mjs';

const UART = 0x40034000;
const [DR, FR, IBRD, FBRD, LCR_H, CR, IMSC, MIS, ICR] = [0x00, 0x18, 0x24, 0x28, 0x2c, 0x30, 0x38, 0x40, 0x44];
const RX = 1 << 4;
const TIMEOUT = 1 << 6;
const BYTE_NANOS = 86_806;

let mcu;
let uart;
let clock;
const read = (register) => mcu.readUint32(UART + register);
const write = (register, value) => mcu.writeUint32(UART + register, value);
const pends = () => (mcu.core.pendingInterrupts >>> 20) & 1;

function receive(count) {
    for (let i = 0; i < count; i++) {
        clock.advance(BYTE_NANOS);
        uart.receive(i);
    }
}

beforeEach(() => {
    ({ mcu, uart, clock } = bareChip());
    // 125 MHz / (16 * 115200) = 67 + 52/64; 8 bits, FIFO on; UART and receiver on.
    [[IBRD, 67], [FBRD, 52], [LCR_H, 0x70], [CR, 0x301], [IMSC, RX | TIMEOUT]].forEach(([r, v]) => write(r, v));
});

test('the interrupt comes with the sixteenth byte, half of the FIFO', () => {
    receive(15);
    assert.equal(pends(), 0);
    receive(1);
    assert.equal(pends(), 1);
    assert.equal(read(MIS), RX);
});

test('reading below the level takes the interrupt back', () => {
    receive(16);
    assert.equal(read(DR), 0);
    assert.equal(pends(), 0);
});

test('bytes that wait are told after 32 bit times of silence', () => {
    receive(3);
    clock.advance(31 * 8680);
    assert.equal(pends(), 0);
    clock.advance(2 * 8681);
    assert.equal(read(MIS), TIMEOUT);
    write(ICR, TIMEOUT);
    assert.equal(pends(), 0);
});

test('the thirty-third byte is lost, and the next one read says so', () => {
    receive(33);
    assert.equal(uart.overruns, 1);
    const bytes = Array.from({ length: 32 }, () => read(DR));
    assert.deepEqual(bytes.map((b) => b & 0xff), Array.from({ length: 32 }, (_, i) => i));
    assert.deepEqual(bytes.filter((b) => b & (1 << 11)).length, 1);
    assert.equal(read(FR) & (1 << 4), 1 << 4);
});

test('without its FIFO the UART holds one byte and interrupts at each', () => {
    write(LCR_H, 0x60);
    receive(1);
    assert.equal(pends(), 1);
    receive(1);
    assert.equal(uart.overruns, 1);
});

test('sending takes ten bits a byte', () => {
    const sent = [];
    uart.onSent = (byte) => sent.push(byte);
    [1, 2, 3].forEach((byte) => write(DR, byte));
    assert.deepEqual(sent, [1, 2, 3]);
    clock.advance(2.5 * BYTE_NANOS);
    assert.equal(read(FR) & 8, 8, 'busy');
    clock.advance(BYTE_NANOS);
    assert.equal(read(FR) & 8, 0, 'idle');
});
