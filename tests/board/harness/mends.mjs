// What rp2040js 1.4.1 does otherwise than the chip, put right from outside, on each new instance.
//
// Each mend says what is wrong and how we know; test/mends.test.mjs fails without it. The receiving side of the UART
// is a mend as well, and stands in uart.mjs.

const SBCS = 0b0100000110;
const ADCS = 0b0100000101;
const SIGN = 0x80000000;

/** Applies every mend of the processor and the timer. */
export function mend(mcu) {
    mendSleep(mcu.core);
    mendOverflowFlag(mcu.core);
    mendAlarms(mcu.peripherals[0x40054], mcu.clock);
    for (const i2c of mcu.i2c) mendAbort(i2c);
}

// WFI ends when an enabled interrupt is pending, masked by PRIMASK or not; its handler runs only once interrupts are
// unmasked (ARMv6-M Architecture Reference Manual, WFI). rp2040js sleeps on when one is pending already, and runs
// the handler within the critical section. Race-free sleep, `cpsid i; if idle { wfi }; cpsie i`, rests on both.
// The other half is in the run loop of chip.mjs, which asks `wakes` before it lets a sleeper wait.
function mendSleep(core) {
    const check = core.checkForInterrupts;
    core.checkForInterrupts = function () {
        if (!this.waiting) return check.call(this);
        if (wakes(this)) {
            this.waiting = false;
            this.interruptsUpdated = true;
        }
        return false;
    };
}

/** Whether something pends that ends a sleep. */
export function wakes(core) {
    return (core.pendingInterrupts & core.enabledInterrupts) !== 0 || core.pendingSystick || core.pendingPendSV
        || core.pendingNMI;
}

// ADCS and SBCS come here with the carry already added to the second operand. 0x7fffffff and a carry make
// 0x80000000, which is then taken for a negative number, and V comes out wrong: a signed 64-bit comparison with
// i64::MAX gives the opposite answer. Only for that operand need we look which instruction it was.
function mendOverflowFlag(core) {
    const add = core.addUpdateFlags;
    const subtract = core.substractUpdateFlags;
    const runs = (operation) => core.readUint16((core.PC - 2) & ~1) >> 6 === operation;
    core.addUpdateFlags = function (augend, addend) {
        const carried = addend === SIGN && this.C && runs(ADCS);
        const result = add.call(this, augend, addend);
        if (carried) this.V = augend < SIGN;
        return result;
    };
    core.substractUpdateFlags = function (minuend, subtrahend) {
        const borrowed = subtrahend === SIGN && !this.C && runs(SBCS);
        const result = subtract.call(this, minuend, subtrahend);
        if (borrowed) this.V = minuend >= SIGN;
        return result;
    };
}

// An alarm fires when the timer's low word comes to equal it (RP2040 data sheet, Timer). rp2040js counts whole
// microseconds from the middle of one and fires up to a microsecond early, when the timer still reads less.
function mendAlarms(timer, clock) {
    const write = timer.writeUint32;
    timer.writeUint32 = function (offset, value) {
        write.call(this, offset, value);
        const alarm = this.alarms[(offset - 0x10) >> 2];
        if (!alarm || offset < 0x10 || offset > 0x1c) return;
        const microsAhead = (value - Math.floor(clock.nanos / 1000)) >>> 0;
        const intoMicro = clock.nanos % 1000;
        alarm.clockAlarm.schedule(microsAhead === 0 ? 0 : microsAhead * 1000 - intoMicro);
    };
}

// An aborted transfer empties the queue of bytes to send, and an empty queue raises TX_EMPTY (RP2040 data sheet, I2C,
// IC_RAW_INTR_STAT). rp2040js empties it without a word, and a program that waits for the flag waits for ever.
function mendAbort(i2c) {
    const TX_EMPTY = 1 << 4;
    const abort = i2c.abort;
    i2c.abort = function (reason) {
        abort.call(this, reason);
        this.setInterrupts(TX_EMPTY);
    };
}
