// A thermocouple chip: a MAX31855, which answers every read with its 32 bits, high bit first, whatever it is sent.
//
// The stimulus says what the frame is; what it means is the program's to know. A chip that does not answer leaves its
// line open. (MAX31855 data sheet, Serial Interface: 5 MHz at most; the clock rests low.)

export class Probe {
    constructor(index, log) {
        this.name = `probe${index}`;
        this.maxHz = 5_000_000;
        this.modes = [0, 1];
        this.log = log;
        /** The frame that it answers, or null when it does not. */
        this.frame = null;
        this.latched = null;
        this.taken = 0;
        this.reads = 0;
    }

    /** The frame is held while the chip is selected. */
    select(on) {
        if (on) this.latched = this.frame;
        else if (this.taken > 0) this.reads++;
        this.taken = 0;
    }

    exchange() {
        const byte = this.taken++;
        // Nobody is there: the program may ask what it likes.
        if (this.latched === null) return 0xff;
        if (byte >= 4) this.log.violation(this.name, 'read on after its 32 bits');
        if (byte >= 4) return 0xff;
        return (this.latched >>> (24 - 8 * byte)) & 0xff;
    }
}
