// The UART's registers as the receiver's bytes meet them: a FIFO with levels, a time-out and overruns.
//
// rp2040js interrupts at every byte and never loses one. The PL011 of the RP2040 has 32 places, interrupts when its
// FIFO is filled to a level, or when bytes wait and none has come for 32 bit times, and drops what finds no room.
// Sending takes time as well; interrupts of the sending side are not modelled. (ARM PrimeCell UART PL011, Technical
// Reference Manual, chapters 2 and 3.)
//
// This object replaces the registers' read and write of one rp2040js UART and leaves the rest to it.

const DR = 0x00;
const RSR = 0x04;
const FR = 0x18;
const LCR_H = 0x2c;
const IFLS = 0x34;
const RIS = 0x3c;
const MIS = 0x40;
const ICR = 0x44;

const RX = 1 << 4;
const TIMEOUT = 1 << 6;
const OVERRUN = 1 << 10;
const OVERRUN_IN_DR = 1 << 11;

const PLACES = 32;
/** Bytes at which the interrupt comes, by the three bits of IFLS. */
const LEVELS = [4, 8, 16, 24, 28];

export class Uart {
    constructor(uart, clock) {
        this.uart = uart;
        this.clock = clock;
        this.queue = [];
        this.level = LEVELS[2];
        this.raw = 0;
        this.overrun = false;
        this.sendingUntil = 0;
        /** Bytes that found no room. */
        this.overruns = 0;
        /** Called with every byte that the program sends. */
        this.onSent = () => {};
        this.silence = clock.createAlarm(() => this.wentSilent());
        const packageRead = uart.readUint32;
        const packageWrite = uart.writeUint32;
        uart.readUint32 = (offset) => this.read(offset) ?? packageRead.call(uart, offset);
        uart.writeUint32 = (offset, value) => this.write(offset, value) || packageWrite.call(uart, offset, value);
        uart.checkInterrupts = () => this.interrupt();
    }

    /** Whether the program has switched the receiving side on. */
    get listening() {
        return this.uart.enabled && this.uart.rxEnabled;
    }

    get places() {
        return this.uart.fifosEnabled ? PLACES : 1;
    }

    get bitNanos() {
        return 1e9 / this.uart.baudRate;
    }

    /** A byte's stop bit has ended on the line. */
    receive(value) {
        if (this.queue.length >= this.places) {
            this.overruns++;
            this.overrun = true;
            this.raw |= OVERRUN;
        } else {
            this.queue.push(value);
            if (this.queue.length >= Math.min(this.level, this.places)) this.raw |= RX;
        }
        this.silence.schedule(32 * this.bitNanos);
        this.interrupt();
    }

    wentSilent() {
        if (this.queue.length === 0 || !this.uart.fifosEnabled) return;
        this.raw |= TIMEOUT;
        this.interrupt();
    }

    interrupt() {
        const { uart } = this;
        uart.rp2040.setInterrupt(uart.irq, (this.raw & uart.interruptMask) !== 0);
    }

    take() {
        const value = this.queue.shift() ?? 0;
        if (this.queue.length < Math.min(this.level, this.places)) this.raw &= ~RX;
        if (this.queue.length === 0) this.raw &= ~TIMEOUT;
        this.interrupt();
        const error = this.overrun ? OVERRUN_IN_DR : 0;
        this.overrun = false;
        return value | error;
    }

    /** Bytes that wait to be sent or are being sent. */
    get sending() {
        return Math.max(0, Math.ceil((this.sendingUntil - this.clock.nanos) / (10 * this.bitNanos)));
    }

    get flags() {
        const { sending, queue } = this;
        return (sending === 0 ? 0 : 1 << 3) | (queue.length === 0 ? 1 << 4 : 0) | (sending > this.places ? 1 << 5 : 0)
            | (queue.length >= this.places ? 1 << 6 : 0) | (sending <= 1 ? 1 << 7 : 0);
    }

    send(value) {
        if (this.sending > this.places) return;
        this.sendingUntil = Math.max(this.sendingUntil, this.clock.nanos) + 10 * this.bitNanos;
        this.onSent(value & 0xff);
    }

    /** A register that this model answers; undefined for the others. */
    read(offset) {
        switch (offset) {
            case DR: return this.take();
            case RSR: return 0;
            case FR: return this.flags;
            case IFLS: return LEVELS.indexOf(this.level) << 3 | 2;
            case RIS: return this.raw;
            case MIS: return this.raw & this.uart.interruptMask;
            default: return undefined;
        }
    }

    /** Whether a write was for this model alone. */
    write(offset, value) {
        switch (offset) {
            case DR: this.send(value); return true;
            case RSR: return true;
            case IFLS: this.level = LEVELS[(value >> 3) & 7] ?? LEVELS[2]; return true;
            case ICR:
                this.raw &= ~this.uart.rawWriteValue;
                this.interrupt();
                return true;
            case LCR_H:
                // Switching the FIFO off empties it.
                if (!(value & (1 << 4))) this.queue.length = 0;
                return false;
            default: return false;
        }
    }
}
