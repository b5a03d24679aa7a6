// What a run leaves behind besides the chip's memory: edges at the pins, and what a part would not have stood for.
//
// The parts write here; play.mjs makes pins.csv and a part of stats.json of it. It also knows what time it is, over
// all lives of the chip.

export class Log {
    constructor() {
        this.clock = null;
        this.edges = [];
        this.kinds = new Map();
        this.notes = new Map();
    }

    /** Nanoseconds since the board was first switched on. */
    get now() {
        return this.clock === null ? 0 : this.clock.now;
    }

    /** A pin has changed: an input's level (1 is active) or an output's. */
    edge(name, level) {
        this.edges.push({ t_us: this.now / 1000, name, level });
    }

    /** A part was used as its data sheet forbids, or is wired otherwise than the table says. */
    violation(part, what) {
        const key = `${part}: ${what}`;
        const known = this.kinds.get(key);
        if (known === undefined) this.kinds.set(key, { t_us: this.now / 1000, part, what, count: 1 });
        else known.count++;
    }

    /** Violations, each kind once, with when it first happened and how often. */
    get violations() {
        return [...this.kinds.values()];
    }

    /** The emulator had something to say that stops nothing; counted. */
    note(text) {
        this.notes.set(text, (this.notes.get(text) ?? 0) + 1);
    }

    /** Notes with their counts. */
    get counted() {
        return [...this.notes].map(([text, count]) => ({ text, count }));
    }
}
