// A stimulus file becomes happenings in order of time, or an error that names its line.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { parseStimulus, StimulusError } from '../stimulus.mjs';

const parse = (...lines) => parseStimulus(['gunline-stimulus 1', ...lines].join('\n'), ['button', 'pps']);

test('every kind of event is read', () => {
    const happenings = parse(
        '# an invented heat',
        '5 pin button 1   # down',
        '10 probe 1 0190ab00',
        '20 probe 0 none',
        '30 power off 250000',
        '40 reset watchdog',
        '50 look zero',
        '60 end',
    );
    assert.deepEqual(happenings, [
        { at: 5_000, kind: 'pin', name: 'button', active: true },
        { at: 10_000, kind: 'probe', index: 1, frame: 0x0190ab00 },
        { at: 20_000, kind: 'probe', index: 0, frame: null },
        { at: 30_000, kind: 'power', off: 250_000_000 },
        { at: 40_000, kind: 'watchdog' },
        { at: 50_000, kind: 'look', label: 'zero' },
        { at: 60_000, kind: 'end' },
    ]);
});

// Ten bits at 115200 baud are 86.8 us.
test('the last byte of a line ends at its time, the others before it back to back, other events between them', () => {
    const happenings = parse('900 pin pps 1', '1000 uart 0a0b0c', '1000 end');
    assert.deepEqual(happenings.map(({ at, kind, value }) => [at, value ?? kind]), [
        [826_389, 0x0a], [900_000, 'pin'], [913_194, 0x0b], [1_000_000, 0x0c], [1_000_000, 'end'],
    ]);
});

const WRONG = [
    ['1 pin horn 1', /line 2: no input is called 'horn'; there are: button pps/],
    ['1 pin button 2', /line 2: the level must be 0 or 1/],
    ['1 pin button', /line 2: 'pin <name> <0|1>' was expected/],
    ['1000 uart 0', /line 2: bytes must be pairs/],
    ['100 uart 0a0b', /line 2: 2 bytes would have begun before/],
    ['1 probe 2 00000000', /line 2: there are probes 0 and 1/],
    ['1 probe 0 123', /line 2: a frame is 8 hexadecimal digits/],
    ['1 power off 0', /line 2: 'power off <us>' was expected/],
    ['1 reset brownout', /line 2: 'reset watchdog' was expected/],
    ['1 jump', /line 2: no such event: 'jump'/],
    ['soon end', /line 2: a time in whole microseconds/],
    ['1 look', /line 2: 'look <label>' was expected/],
];

for (const [line, message] of WRONG) {
    test(`'${line}' is refused`, () => {
        const told = (error) => error instanceof StimulusError && message.test(error.message);
        assert.throws(() => parse(line, '2000 end'), told);
    });
}

test('times that go back, bytes that overlap, a wrong head, a missing end and lines behind it are refused', () => {
    assert.throws(() => parse('5 look a', '4 look b', '9 end'), /line 3: the time 4 is before/);
    assert.throws(() => parse('1000 uart 0a', '1050 uart 0b', '9999 end'), /line 3: 1 bytes do not fit/);
    assert.throws(() => parse('1 look a'), /must close with/);
    assert.throws(() => parse('1 end', '2 look a'), /line 3: nothing may follow/);
    assert.throws(() => parseStimulus('gunline-stimulus 2\n1 end', []), /line 1: the first line/);
});
