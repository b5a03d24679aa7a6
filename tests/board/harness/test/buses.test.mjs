// Bus time and outputs, from the registers that a program sets.

import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { I2cBus } from '../buses/i2c.mjs';
import { Panel } from '../parts/panel.mjs';
import { readPins } from '../pins.mjs';
import { bareChip } from './thumb.mjs';

const I2C0 = 0x40044000;
const [TAR, DATA_CMD, FS_HIGH, FS_LOW, ENABLE, STATUS, TX_ABRT_SOURCE] = [0x04, 0x10, 0x1c, 0x20, 0x6c, 0x70, 0x80];
const STOP = 1 << 9;
const PWM3 = 0x40050000 + 3 * 0x14;
const [CSR, DIV, CC, TOP] = [0x00, 0x04, 0x0c, 0x10];
const GPIO_CTRL = (gpio) => 0x40014004 + 8 * gpio;

let chip;
let mcu;
let clock;
let log;
beforeEach(() => {
    chip = bareChip();
    ({ mcu, clock, log } = chip);
});

/** Sets the bus up: 200 cycles low and 92 high, to which the block adds 7 + 7 (spike filter) and 1: 307 a bit. */
function panelBus() {
    const pins = readPins();
    const panel = new Panel(log);
    new I2cBus(chip, 0, ['panel_sda', 'panel_scl'].map((name) => pins.get(name)), [panel], log);
    [4, 5].forEach((gpio) => mcu.writeUint32(GPIO_CTRL(gpio), 3));
    [[FS_HIGH, 92], [FS_LOW, 200], [ENABLE, 1]].forEach(([register, value]) => mcu.writeUint32(I2C0 + register, value));
    return panel;
}

function transfer(address, ...bytes) {
    mcu.writeUint32(I2C0 + TAR, address);
    bytes.forEach((byte, i) => mcu.writeUint32(I2C0 + DATA_CMD, byte | (i === bytes.length - 1 ? STOP : 0)));
    const began = clock.nanos;
    while (mcu.readUint32(I2C0 + STATUS) & 1) clock.advance(clock.due - clock.nanos);
    return clock.nanos - began;
}

test('a transfer takes nine bits a byte, address included, a start and a stop', () => {
    const panel = panelBus();
    const nanos = transfer(0x3c, 0x00, 0xaf, 0x8d, 0x14);
    assert.equal(panel.state.lit, true);
    assert.ok(Math.abs(nanos - (1 + 5 * 9 + 1) * 307 * 8) < 1);
    assert.deepEqual(log.violations, []);
});

test('an address that nobody has is not acknowledged', () => {
    panelBus();
    transfer(0x3d, 0);
    assert.equal(mcu.readUint32(I2C0 + TX_ABRT_SOURCE) & 1, 1);
});

// RP2040 data sheet, PWM: frequency = clock / (divider * (top + 1)), duty = compare / (top + 1).
test('a PWM output has its pitch and its duty', () => {
    mcu.writeUint32(GPIO_CTRL(22), 4);
    const writes = [[DIV, 125 << 4], [TOP, 499], [CC, 250], [CSR, 1]];
    writes.forEach(([register, value]) => mcu.writeUint32(PWM3 + register, value));
    assert.deepEqual(chip.pwm.output(22), { hz: 2000, permille: 500 });
    mcu.writeUint32(PWM3 + CC, 0);
    assert.deepEqual(chip.pwm.output(22), { hz: 0, permille: 0 });
    mcu.writeUint32(PWM3 + CC, 500);
    assert.deepEqual(chip.pwm.output(22), { hz: 0, permille: 1000 });
});

test('a PWM output that was stopped keeps the level that it had', () => {
    mcu.writeUint32(GPIO_CTRL(22), 4);
    const writes = [[DIV, 125 << 4], [TOP, 499], [CC, 250], [CSR, 1]];
    writes.forEach(([register, value]) => mcu.writeUint32(PWM3 + register, value));
    clock.advance(100_000);
    mcu.writeUint32(PWM3 + CSR, 0);
    assert.deepEqual(chip.pwm.output(22), { hz: 0, permille: 1000 });
});
