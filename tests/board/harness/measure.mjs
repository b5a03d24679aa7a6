// What the program costs: time awake, cycles of a decision, depth of the stack, and what its own counters say.
//
// Reads the chip from outside. The statics that it knows by name are an agreement with the board's program:
// GUNLINE_DRAWN {at_us: u64, inputs: u32, settled: u32}, GUNLINE_OVERFLOWS: u32, GUNLINE_DEEP_STACK (its size is its
// symbol's), and the function gunline_feed.

const RAM_START = 0x20000000;
const PAINT = 0xa5a5a5a5;
/** What the program itself writes at the far end of its deep stack (its file stacks.rs). */
const MARK = 0x0dee9ace;
const CYCLE_NANOS = 8;

export class Meter {
    constructor(program) {
        const find = (...names) => names.map((name) => program.address(name)).find((a) => a !== undefined);
        this.functions = program.functions ?? [];
        this.feedAt = (find('gunline_feed') ?? 0) & ~1;
        this.drawnAt = find('GUNLINE_DRAWN');
        this.overflowsAt = find('GUNLINE_OVERFLOWS');
        // The stack grows down from its start towards the end of the statics.
        this.stackEnd = find('_stack_end', '__euninit', '__ebss') ?? RAM_START;
        this.stackStart = find('_stack_start') ?? RAM_START;
        this.deepest = 0;
        this.deepEnd = find('GUNLINE_DEEP_STACK') ?? RAM_START;
        this.deepStart = this.deepEnd + (program.sizes?.get('GUNLINE_DEEP_STACK') ?? 0);
        this.deepestOfDeep = 0;
        this.feeds = { count: 0, cycles: 0, max: 0, max_at_us: 0, next: 0 };
        this.powered = { nanos: 0, asleep: 0, longestAwake: 0, instructions: 0 };
        this.overflowsBefore = 0;
        this.chip = null;
    }

    /** Counts the cycles of another function, known by a part of its name; false when there is none. */
    countInstead(part) {
        const found = this.functions.find(({ name }) => name.includes(part));
        this.feedAt = found?.address ?? 0;
        return found !== undefined;
    }

    /** Before a cold start: the stacks' rooms get a pattern that is easily told from use. */
    paint(memory) {
        const view = new DataView(memory.buffer);
        for (const [end, start] of [[this.stackEnd, this.stackStart], [this.deepEnd, this.deepStart]]) {
            for (let at = end; at + 4 <= start; at += 4) view.setUint32(at - RAM_START, PAINT, true);
        }
    }

    attach(chip) {
        this.chip = chip;
        if (this.feedAt === 0) return;
        chip.calledAt = this.feedAt;
        chip.onCall = () => this.feedBegins(chip.core);
    }

    /** A life of the chip is over: its share is added up. */
    detach() {
        const { chip, powered } = this;
        if (chip === null) return;
        powered.nanos += chip.clock.nanos;
        powered.asleep += chip.asleepNanos;
        powered.longestAwake = Math.max(powered.longestAwake, chip.longestAwakeNanos);
        powered.instructions += chip.instructions;
        this.overflowsBefore += this.overflowsNow;
        this.scanStack();
        this.chip = null;
    }

    feedBegins(core) {
        const { chip } = this;
        const begins = chip.clock.nanos;
        chip.returnTo = core.LR & ~1;
        chip.returnSp = core.SP;
        chip.onReturn = () => {
            chip.returnTo = -1;
            this.feedTook((chip.clock.nanos - begins) / CYCLE_NANOS);
        };
    }

    /** Interrupts in between are counted in: they delay a decision as well. */
    feedTook(cycles) {
        this.feeds.count++;
        this.feeds.cycles += cycles;
        this.feeds.next = Math.max(this.feeds.next, Math.min(this.feeds.max, cycles));
        if (cycles <= this.feeds.max) return;
        this.feeds.max = cycles;
        this.feeds.max_at_us = this.chip.clock.now / 1000;
    }

    scanStack() {
        this.deepest = Math.max(this.deepest, this.used(this.stackEnd, this.stackStart));
        this.deepestOfDeep = Math.max(this.deepestOfDeep, this.used(this.deepEnd, this.deepStart));
    }

    /** Bytes of a stack's room from its start down to the last one that was written. */
    used(end, start) {
        let at = end;
        while (at < start && [PAINT, MARK].includes(this.chip.word(at))) at += 4;
        return start - at;
    }

    /** What the display holds, in the program's own words; null when it does not say. */
    get drawn() {
        if (this.drawnAt === undefined || this.chip === null) return null;
        const word = (offset) => this.chip.word(this.drawnAt + offset);
        return { at_us: word(0) + word(4) * 2 ** 32, inputs: word(8), settled: word(12) };
    }

    get overflowsNow() {
        return this.overflowsAt === undefined || this.chip === null ? 0 : this.chip.word(this.overflowsAt);
    }

    /** Figures for stats.json, after `detach`. */
    figures() {
        const { powered, feeds } = this;
        const share = (part, whole) => (whole === 0 ? 0 : part / whole);
        return {
            emulated_s: powered.nanos / 1e9,
            instructions: powered.instructions,
            awake_share: share(powered.nanos - powered.asleep, powered.nanos),
            longest_awake_us: powered.longestAwake / 1000,
            feed: {
                count: feeds.count,
                mean_cycles: Math.round(share(feeds.cycles, feeds.count)),
                max_cycles: feeds.max,
                max_at_us: feeds.max_at_us,
                next_cycles: feeds.next,
            },
            stack_high_water_bytes: this.deepest,
            deep_stack_high_water_bytes: this.deepestOfDeep,
            overflows: this.overflowsBefore,
        };
    }
}
