// The outputs that a person meets: warning and caution lamp, beeper, the Pico's own light.
//
// A lamp's level is the share of the time that it is lit, in thousandths; the beeper's is its pitch in hertz; other
// outputs are 1 when active. Each change goes to the log, and `level` tells the present.

const LAMPS = ['warning_lamp', 'caution_lamp'];
const BEEPER = 'beeper';
/** A tone is set by several registers, one write after another: together they are one change. */
const SETTLED_NANOS = 10_000;

export class Outputs {
    constructor(pins, log) {
        this.pins = pins;
        this.log = log;
        const plain = [...pins.values()].filter((p) => p.kind === 'output' && !p.name.endsWith('_select'));
        this.plain = plain.map((pin) => pin.name);
        this.levels = new Map([...LAMPS, BEEPER, ...this.plain].map((name) => [name, 0]));
        this.chip = null;
    }

    attach(chip) {
        this.chip = chip;
        const settled = chip.clock.createAlarm(() => this.lookAtPwm());
        const changed = () => settled.scheduled || settled.schedule(SETTLED_NANOS);
        chip.pwm.listeners.push(changed);
        for (const name of [...LAMPS, BEEPER]) this.gpio(name).addListener(changed);
        for (const name of this.plain) this.gpio(name).addListener(() => this.put(name, this.digital(name)));
        this.refresh();
    }

    /** Without power, or in reset, every output is dark. */
    detach() {
        this.chip = null;
        for (const name of this.levels.keys()) this.put(name, 0);
    }

    gpio(name) {
        return this.chip.mcu.gpio[this.pins.get(name).gpio];
    }

    digital(name) {
        const pin = this.gpio(name);
        return pin.outputEnable && pin.outputValue === this.pins.get(name).activeHigh ? 1 : 0;
    }

    lookAtPwm() {
        for (const name of LAMPS) this.put(name, this.chip.pwm.output(this.pins.get(name).gpio).permille);
        const { hz, permille } = this.chip.pwm.output(this.pins.get(BEEPER).gpio);
        if (hz === 0 && permille !== 0) this.log.violation(BEEPER, 'held at a steady high level');
        this.put(BEEPER, hz);
    }

    refresh() {
        this.lookAtPwm();
        for (const name of this.plain) this.put(name, this.digital(name));
    }

    put(name, level) {
        if (this.levels.get(name) === level) return;
        this.levels.set(name, level);
        this.log.edge(name, level);
    }

    /** What an output does now. */
    level(name) {
        if (this.chip !== null) this.refresh();
        return this.levels.get(name);
    }
}
