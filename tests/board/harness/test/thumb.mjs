// Tiny programs for the tests, put together from Thumb instructions (ARMv6-M Architecture Reference Manual, A6.7).

import { Chip } from '../chip.mjs';
import { Log } from '../log.mjs';

/** Where the code of a tiny program begins: behind a vector table of 48 words. */
export const CODE = 0x100001c0;

export const movs = (rd, value) => 0x2000 | (rd << 8) | value;
export const adds = (rd, value) => 0x3000 | (rd << 8) | value;
export const load = (rt, rn) => 0x6800 | (rn << 3) | rt;
export const store = (rt, rn) => 0x6000 | (rn << 3) | rt;
export const adcs = (rdn, rm) => 0x4140 | (rm << 3) | rdn;
export const sbcs = (rdn, rm) => 0x4180 | (rm << 3) | rdn;
export const compare = (rn, rm) => 0x4280 | (rm << 3) | rn;
export const maskInterrupts = 0xb672;
export const unmaskInterrupts = 0xb662;
export const sleep = 0xbf30;
export const nothing = 0xbf00;
export const undefinedInstruction = 0xde00;
export const again = 0xe7fe;
export const back = 0x4770;

/** A 32-bit number into a register; stands in a list of instructions. */
export const number = (rt, value) => ({ rt, value });

/** Stores a number at an address; spoils r0 and r1. */
export const put = (address, value) => [number(0, address), number(1, value), store(1, 0)];

/** A program from instructions, with handlers by interrupt number. Looks like symbols.mjs's Program. */
export function assemble(instructions, handlers = {}) {
    const image = new DataView(new ArrayBuffer(4096));
    const code = CODE - 0x10000100;
    image.setUint32(0, 0x20040000, true);
    image.setUint32(4, CODE | 1, true);
    let at = place(image, code, instructions.flat(Infinity));
    for (const [irq, handler] of Object.entries(handlers)) {
        image.setUint32(4 * (16 + Number(irq)), (0x10000100 + at) | 1, true);
        at = place(image, at, handler.flat(Infinity));
    }
    return {
        segments: [{ address: 0x10000100, bytes: new Uint8Array(image.buffer) }],
        address: () => undefined,
        nearest: (address) => `0x${address.toString(16)}`,
    };
}

/** Puts code into the image, its numbers behind it; gives the next free place, on a word's boundary. */
function place(image, start, code) {
    let literal = (start + 2 * code.length + 3) & ~3;
    code.forEach((instruction, i) => {
        const at = start + 2 * i;
        if (typeof instruction === 'number') {
            image.setUint16(at, instruction, true);
            return;
        }
        const words = (literal - ((at + 4) & ~3)) / 4;
        image.setUint16(at, 0x4800 | (instruction.rt << 8) | words, true);
        image.setUint32(literal, instruction.value, true);
        literal += 4;
    });
    return literal;
}

/** A chip with a program and without parts. */
export function bareChip(program = assemble([again])) {
    const log = new Log();
    const memory = new Uint8Array(264 * 1024);
    const chip = new Chip({ program, memory, scratch: new Uint32Array(8), reason: 0, bornAt: 0 }, log);
    log.clock = chip.clock;
    return chip;
}
