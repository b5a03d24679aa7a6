// An SPI bus: bytes take their time on the wire and go to the part whose chip select is low.
//
// Knows one SPI block of the chip, the pins that the table gives it, and the parts on it. A part has `exchange(byte)`,
// which gives the byte that comes back, `select(on)`, and its limits: `name`, `maxHz`, `modes`.

import { GPIOPinState } from 'rp2040js';

/** Number of the SPI function of a GPIO (RP2040 data sheet, GPIO functions). */
const FUNCTION_SPI = 1;
/** What an open line reads: it is pulled up. */
const OPEN = 0xff;

export class SpiBus {
    /** `pins` are the rows of clock, output and input in the table; `parts` are pairs of select pin and part. */
    constructor(chip, index, pins, parts, log) {
        this.spi = chip.mcu.spi[index];
        this.chip = chip;
        this.pins = pins;
        this.parts = parts;
        this.log = log;
        this.reply = OPEN;
        this.done = chip.clock.createAlarm(() => this.spi.completeTransmit(this.reply));
        this.spi.onTransmit = (value) => this.transmit(value);
        for (const [pin, part] of parts) this.watchSelect(chip.mcu.gpio[pin.gpio], part);
    }

    watchSelect(gpio, part) {
        // Out of reset no pin is driven, and a pull-up on the board holds the select high.
        part.select(false);
        gpio.addListener((state, before) => {
            const low = state === GPIOPinState.Low;
            if (low === (before === GPIOPinState.Low)) return;
            if (this.spi.busy) this.log.violation(part.name, 'chip select moved while a byte was on the bus');
            part.select(low);
        });
    }

    transmit(value) {
        const selected = this.parts.filter(([pin]) => this.chip.mcu.gpio[pin.gpio].value === GPIOPinState.Low);
        this.reply = OPEN;
        for (const [, part] of selected) {
            this.check(part);
            this.reply &= part.exchange(value);
        }
        if (selected.length > 1) this.log.violation(selected[0][1].name, 'two parts were selected at once');
        this.done.schedule((this.spi.dataBits * 1e9) / this.spi.clockFrequency);
    }

    check(part) {
        const { spi, log } = this;
        // Mode by its two bits of SSPCR0: polarity above phase.
        const mode = ((spi.control0 >> 6) & 1) << 1 | ((spi.control0 >> 7) & 1);
        if (spi.dataBits !== 8) log.violation(part.name, `words of ${spi.dataBits} bits on the bus`);
        if (!part.modes.includes(mode)) log.violation(part.name, `SPI mode ${mode}`);
        if (spi.clockFrequency > part.maxHz) log.violation(part.name, `clocked at ${spi.clockFrequency} Hz`);
        for (const pin of this.pins) {
            if (this.chip.mcu.gpio[pin.gpio].functionSelect !== FUNCTION_SPI) {
                log.violation(part.name, `GPIO ${pin.gpio} (${pin.name}) is not set to SPI`);
            }
        }
    }
}
