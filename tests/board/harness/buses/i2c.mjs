// An I2C bus: nine bits a byte at the clock that the program set, to the part whose address was called.
//
// Knows one I2C block of the chip, its two pins and the parts on it. A part has `address`, `name`, `maxHz`, `begin()`,
// `write(byte)` and `end()`. Nothing here is read from: a read gives an open line.

/** Number of the I2C function of a GPIO (RP2040 data sheet, GPIO functions). */
const FUNCTION_I2C = 3;

export class I2cBus {
    constructor(chip, index, pins, parts, log) {
        this.i2c = chip.mcu.i2c[index];
        this.chip = chip;
        this.pins = pins;
        this.parts = parts;
        this.log = log;
        this.part = null;
        this.next = () => {};
        this.wire = chip.clock.createAlarm(() => this.next());
        const { i2c } = this;
        i2c.onStart = () => this.after(1, () => i2c.completeStart());
        i2c.onConnect = (address) => this.after(9, () => this.connect(address));
        i2c.onWriteByte = (value) => this.after(9, () => this.write(value));
        i2c.onReadByte = () => this.after(9, () => i2c.completeRead(0xff));
        i2c.onStop = () => this.after(1, () => this.stop());
    }

    /** One bit on the wire (RP2040 data sheet, I2C, SCL high and low times; rise and fall left out). */
    get bitNanos() {
        const { i2c } = this;
        const cycles = i2c.sclHighPeriod + i2c.spikelen + 7 + i2c.sclLowPeriod + 1;
        return (cycles * 1e9) / this.chip.mcu.clkSys;
    }

    after(bits, next) {
        this.next = next;
        this.wire.schedule(bits * this.bitNanos);
    }

    connect(address) {
        this.part = this.parts.find((part) => part.address === address) ?? null;
        if (this.part !== null) {
            this.check(this.part);
            this.part.begin();
        }
        this.i2c.completeConnect(this.part !== null);
    }

    write(value) {
        this.part?.write(value);
        this.i2c.completeWrite(this.part !== null);
    }

    stop() {
        this.part?.end();
        this.part = null;
        this.i2c.completeStop();
    }

    check(part) {
        const hz = 1e9 / this.bitNanos;
        if (hz > part.maxHz) this.log.violation(part.name, `clocked at ${Math.round(hz)} Hz`);
        for (const pin of this.pins) {
            if (this.chip.mcu.gpio[pin.gpio].functionSelect !== FUNCTION_I2C) {
                this.log.violation(part.name, `GPIO ${pin.gpio} (${pin.name}) is not set to I2C`);
            }
        }
    }
}
