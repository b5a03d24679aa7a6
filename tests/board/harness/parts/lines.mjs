// The inputs: buttons, gun contact, pulse per second, tachometer pickups. Each is a level that the stimulus sets.
//
// What lies behind a line (bounce, pulse trains) is in the stimulus already. A line rests inactive and keeps its level
// over the chip's resets and power cuts: the world outside does not wait.

export class Lines {
    constructor(pins, log) {
        this.pins = pins;
        this.log = log;
        this.active = new Map([...pins.values()].filter((p) => p.kind === 'input').map((p) => [p.name, false]));
        this.chip = null;
    }

    attach(chip) {
        this.chip = chip;
        for (const [name, active] of this.active) this.drive(name, active);
    }

    detach() {
        this.chip = null;
    }

    set(name, active) {
        if (this.active.get(name) === active) return;
        this.active.set(name, active);
        this.log.edge(name, active ? 1 : 0);
        if (this.chip === null) return;
        this.drive(name, active);
        this.checkPull(name);
    }

    drive(name, active) {
        const { gpio, activeHigh } = this.pins.get(name);
        this.chip.mcu.gpio[gpio].setInputValue(active === activeHigh);
    }

    /** Once the program reads a line it must have set the pull that the wiring relies on. */
    checkPull(name) {
        const { gpio, pull } = this.pins.get(name);
        const pin = this.chip.mcu.gpio[gpio];
        if (!pin.inputEnable || pin.irqEnableMask === 0) return;
        const set = pin.pullupEnabled ? 'up' : pin.pulldownEnabled ? 'down' : 'none';
        if (set !== pull) this.log.violation(name, `its pull is '${set}', the table says '${pull}'`);
    }
}
