// Which instruction a halfword is, looked up instead of worked out. fast.mjs has a case for each number given here.
//
// Encodings and conditions by the ARMv6-M Architecture Reference Manual, A5.2 and A7.3.

/** Loads, stores and branches, by the upper five bits. */
const BY_FIVE_BITS = {
    0b01001: 30, 0b01100: 32, 0b01101: 31, 0b01110: 34, 0b01111: 33, 0b10000: 36, 0b10001: 35, 0b10010: 38,
    0b10011: 37, 0b10101: 45, 0b11000: 56, 0b11001: 57, 0b11010: 53, 0b11011: 53, 0b11100: 54, 0b11110: 55,
};

/** Shifts, moves and sums with constants; three-register sums stand between them. */
const CONSTANTS = [1, 2, 3, 0, 8, 9, 10, 11];
/** Operations on two low registers. */
const PROCESSING = [12, 13, 14, 15, 0, 16, 17, 0, 18, 19, 20, 0, 21, 22, 23, 24];

function kindOf(opcode) {
    const five = opcode >> 11;
    if (five === 3) return 4 + ((opcode >> 9) & 3);
    if (five < 8) return CONSTANTS[five];
    if (opcode >> 10 === 0b010000) return PROCESSING[(opcode >> 6) & 15];
    if (opcode >> 10 === 0b010001) return highKind(opcode);
    if (opcode >> 12 === 0b0101) return [40, 43, 42, 0, 39, 44, 41, 0][(opcode >> 9) & 7];
    // A branch with condition 14 or 15 is none: those are UDF and SVC.
    if (opcode >> 9 === 0b1101111) return 0;
    return BY_FIVE_BITS[five] ?? miscellaneousKind(opcode);
}

/** Operations on high registers; what writes or reads the program counter is left to the package. */
function highKind(opcode) {
    const rm = (opcode >> 3) & 15;
    const rd = ((opcode >> 4) & 8) | (opcode & 7);
    if (rm === 15) return 0;
    if ((opcode >> 8 & 3) === 3) return (opcode & 7) !== 0 ? 0 : opcode & 0x80 ? 29 : 28;
    return rd === 13 || rd === 15 ? 0 : [27, 25, 26][(opcode >> 8) & 3];
}

function miscellaneousKind(opcode) {
    if (opcode >> 8 === 0b10110000) return 46;
    if (opcode >> 8 === 0b10110010) return 47 + ((opcode >> 6) & 3);
    if (opcode >> 9 === 0b1011010) return 51;
    return opcode >> 9 === 0b1011110 ? 52 : 0;
}

/** What to do with each of the 65536 halfwords: a case of `burst`, or 0 for what is left to the package. */
export const KINDS = Uint8Array.from({ length: 0x10000 }, (_, opcode) => kindOf(opcode));

/** Whether a branch's condition holds, with the flags as `burst` keeps them. */
export function passes(condition, nz, c, v) {
    switch (condition) {
        case 0: return nz === 0;
        case 1: return nz !== 0;
        case 2: return c === 1;
        case 3: return c === 0;
        case 4: return nz < 0;
        case 5: return nz >= 0;
        case 6: return v < 0;
        case 7: return v >= 0;
        case 8: return c === 1 && nz !== 0;
        case 9: return c === 0 || nz === 0;
        case 10: return nz < 0 === v < 0;
        case 11: return nz < 0 !== v < 0;
        case 12: return nz !== 0 && nz < 0 === v < 0;
        default: return nz === 0 || nz < 0 !== v < 0;
    }
}
