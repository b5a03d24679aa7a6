// The GNSS receiver's serial line: its bytes as the stimulus times them, and what the program sends to it.
//
// Knows the UART and its two pins. A byte that comes while the program does not listen is gone, as is one at another
// speed; both are counted.

/** Number of the UART function of a GPIO (RP2040 data sheet, GPIO functions). */
const FUNCTION_UART = 2;
const BAUD = 115200;
/** Half a bit in ten is where framing breaks; both ends share it. (from memory) */
const TOLERANCE = 0.025;

export class Receiver {
    constructor(pins, log) {
        this.pins = pins;
        this.log = log;
        this.counts = { sent: 0, unheard: 0, overruns: 0 };
        /** What the program told the receiver. */
        this.told = [];
        this.chip = null;
    }

    attach(chip) {
        this.detach();
        this.chip = chip;
        chip.uart.onSent = (byte) => this.told.push(byte);
    }

    /** The chip stops: what its UART lost is added up. */
    detach() {
        if (this.chip !== null) this.counts.overruns += this.chip.uart.overruns;
        this.chip = null;
    }

    /** A byte's stop bit has ended. */
    send(value) {
        this.counts.sent++;
        const { chip } = this;
        if (chip === null || chip.hung || !chip.uart.listening || !this.wired) {
            this.counts.unheard++;
            return;
        }
        const baud = chip.uart.uart.baudRate;
        if (Math.abs(baud / BAUD - 1) > TOLERANCE) {
            this.log.violation('receiver', `the program listens at ${baud} baud`);
            this.counts.unheard++;
            return;
        }
        chip.uart.receive(value);
    }

    get wired() {
        return this.chip.mcu.gpio[this.pins.get('receiver_rx').gpio].functionSelect === FUNCTION_UART;
    }
}
