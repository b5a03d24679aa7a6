// Reads a stimulus file: what happens to the board from outside, and when.
//
// Text goes in; a list of happenings comes out, in order of time, in nanoseconds since the board was first switched
// on. A mistake is an Error that names its line. README.md has the format.

const FIRST_LINE = 'gunline-stimulus 1';

/** Ten bits at 115200 baud. */
export const BYTE_NANOS = 1e10 / 115200;

/** A mistake in a stimulus file. */
export class StimulusError extends Error {
    constructor(line, message) {
        super(`line ${line}: ${message}`);
        this.line = line;
    }
}

/**
 * Parses the text of a stimulus file. `inputs` are the names of the pins that it may drive.
 * Each happening has `at` and `kind`: pin (name, active), byte (value), probe (index, frame or null for no answer),
 * power (off), watchdog, look (label), end.
 */
export function parseStimulus(text, inputs) {
    const reader = new Reader(new Set(inputs));
    const lines = text.split('\n');
    if (lines[0].trim() !== FIRST_LINE) throw new StimulusError(1, `the first line must be '${FIRST_LINE}'`);
    for (let number = 2; number <= lines.length; number++) {
        const words = lines[number - 1].split('#', 1)[0].trim().split(/\s+/);
        if (words[0] !== '') reader.line(number, words);
    }
    if (!reader.ended) throw new StimulusError(lines.length, "the file must close with '<t> end'");
    // Bytes come before the time of their line: they are put in order. The sort keeps the order of equals.
    return reader.happenings.sort((a, b) => a.at - b.at);
}

class Reader {
    constructor(inputs) {
        this.inputs = inputs;
        this.happenings = [];
        this.number = 0;
        this.at = 0;
        this.lineFree = 0;
        this.ended = false;
    }

    line(number, [time, verb, ...words]) {
        this.number = number;
        if (this.ended) this.fail("nothing may follow 'end'");
        if (!/^\d+$/.test(time)) this.fail(`a time in whole microseconds was expected, not '${time}'`);
        const at = Number(time) * 1000;
        if (!Number.isSafeInteger(at)) this.fail(`the time ${time} is too large`);
        if (at < this.at) this.fail(`the time ${time} is before that of the line above`);
        this.at = at;
        const read = { pin: this.pin, uart: this.uart, probe: this.probe, power: this.power, reset: this.reset,
            look: this.look, end: this.end }[verb];
        if (!read) this.fail(`no such event: '${verb ?? ''}'`);
        read.call(this, words);
    }

    fail(message) {
        throw new StimulusError(this.number, message);
    }

    push(kind, more = {}, at = this.at) {
        this.happenings.push({ at, kind, ...more });
    }

    want(words, count, shape) {
        if (words.length !== count) this.fail(`'${shape}' was expected`);
        return words;
    }

    pin(words) {
        const [name, level] = this.want(words, 2, 'pin <name> <0|1>');
        if (!this.inputs.has(name)) this.fail(`no input is called '${name}'; there are: ${[...this.inputs].join(' ')}`);
        if (level !== '0' && level !== '1') this.fail(`the level must be 0 or 1, not '${level}'`);
        this.push('pin', { name, active: level === '1' });
    }

    uart(words) {
        const [hex] = this.want(words, 1, 'uart <hex>');
        if (!/^([0-9a-f]{2})+$/i.test(hex)) this.fail('bytes must be pairs of hexadecimal digits');
        const bytes = Buffer.from(hex, 'hex');
        const starts = this.at - bytes.length * BYTE_NANOS;
        if (starts < 0) this.fail(`${bytes.length} bytes would have begun before the board was switched on`);
        // Whole microseconds in the file, so the line's own rounding is forgiven.
        if (starts < this.lineFree - 1000) {
            const micros = ((this.lineFree - starts) / 1000).toFixed(0);
            this.fail(`${bytes.length} bytes do not fit: the line is busy for ${micros} us more`);
        }
        this.lineFree = this.at;
        bytes.forEach((value, i) => {
            this.push('byte', { value }, this.at - Math.round((bytes.length - 1 - i) * BYTE_NANOS));
        });
    }

    probe(words) {
        const [index, frame] = this.want(words, 2, 'probe <index> <8 hex digits or none>');
        if (index !== '0' && index !== '1') this.fail(`there are probes 0 and 1, not '${index}'`);
        if (frame !== 'none' && !/^[0-9a-f]{8}$/i.test(frame)) this.fail("a frame is 8 hexadecimal digits, or 'none'");
        this.push('probe', { index: Number(index), frame: frame === 'none' ? null : parseInt(frame, 16) });
    }

    power(words) {
        const [off, time] = this.want(words, 2, 'power off <us>');
        if (off !== 'off' || !/^[1-9]\d*$/.test(time)) this.fail("'power off <us>' was expected");
        this.push('power', { off: Number(time) * 1000 });
    }

    reset(words) {
        if (this.want(words, 1, 'reset watchdog')[0] !== 'watchdog') this.fail("'reset watchdog' was expected");
        this.push('watchdog');
    }

    look(words) {
        this.push('look', { label: this.want(words, 1, 'look <label>')[0] });
    }

    end(words) {
        this.want(words, 0, 'end');
        this.push('end');
        this.ended = true;
    }
}
