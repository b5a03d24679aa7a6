// The PWM block seen from its pins: what a lamp or a beeper gets, read from the registers.
//
// rp2040js plays every edge of every wave, thousands a second, which nobody here looks at. This object stops that and
// tells its listeners when a slice's registers change. A change of the compare value shows at once, where the chip
// waits for the counter to wrap: at most one period, half a millisecond for the lowest beep.

/** Number of the PWM function of a GPIO (RP2040 data sheet, GPIO functions). */
const FUNCTION_PWM = 4;

export class PwmBlock {
    constructor(chip, log) {
        this.chip = chip;
        this.pwm = chip.mcu.pwm;
        this.listeners = [];
        for (const channel of this.pwm.channels) {
            channel.alarmA.enable = false;
            channel.alarmB.enable = false;
            channel.alarmBottom.enable = false;
        }
        const { pwm } = this;
        const write = pwm.writeUint32;
        pwm.writeUint32 = (offset, value) => {
            write.call(pwm, offset, value);
            if (pwm.intEnable !== 0) log.violation('pwm', 'interrupts of the PWM block are not modelled');
            for (const listener of this.listeners) listener();
        };
    }

    /** What a GPIO gives: `hz` (0 when steady) and the share of the time that it is high, in thousandths. */
    output(index) {
        const gpio = this.chip.mcu.gpio[index];
        if (gpio.functionSelect !== FUNCTION_PWM) {
            return { hz: 0, permille: gpio.outputEnable && gpio.outputValue ? 1000 : 0 };
        }
        const slice = this.pwm.channels[(index >> 1) & 7];
        const period = slice.top + 1;
        const compare = (index & 1 ? slice.cc >>> 16 : slice.cc & 0xffff);
        const inverted = ((slice.csr >> (index & 1 ? 3 : 2)) & 1) === 1;
        if (!(slice.csr & 1)) {
            // A stopped slice holds whatever level its counter had come to.
            const high = slice.timer.counter < compare;
            return { hz: 0, permille: high !== inverted ? 1000 : 0 };
        }
        const high = Math.min(compare, period) / period;
        const permille = Math.round(1000 * (inverted ? 1 - high : high));
        const phases = slice.csr & 2 ? 2 : 1;
        const divider = ((slice.div >> 4) & 0xff || 256) + (slice.div & 0xf) / 16;
        const steady = permille === 0 || permille === 1000;
        return { hz: steady ? 0 : Math.round(this.pwm.clockFreq / (divider * period * phases)), permille };
    }
}
