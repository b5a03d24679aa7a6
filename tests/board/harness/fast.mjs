// The commonest instructions, done quickly. rp2040js decodes each instruction anew by a long chain of comparisons;
// this file decodes by table and keeps to registers, RAM and flash. Whatever it does not know, or what reaches a
// peripheral, it leaves to rp2040js, instruction by instruction: the package stays the authority, and
// test/fast.test.mjs runs both side by side. Cycles are counted as the package counts them.

import { KINDS, passes } from './decode.mjs';

const RAM_START = 0x20000000;
const FLASH_START = 0x10000000;
const FLASH_BYTES = 0x1000000;
const CYCLE_NANOS = 8;
/** An instruction that is always left to the package: it stands for code that is fetched from elsewhere. */
const WFI = 0xbf30;

/** Makes the function that runs a chip's instructions until an alarm is due or something else wants attention. */
export function makeBurst(chip) {
    const { core, clock, mcu } = chip;
    const { registers: r } = core;
    const ram8 = mcu.sram;
    const ram16 = new Uint16Array(ram8.buffer);
    const ram32 = new Uint32Array(ram8.buffer);
    const flash8 = mcu.flash;
    const flash16 = mcu.flash16;
    const flash32 = new Uint32Array(flash8.buffer);
    const ramBytes = ram8.length;
    const { calledAt } = chip;

    const inRam = (address) => ((address - RAM_START) >>> 0) < ramBytes;
    const inFlash = (address) => ((address - FLASH_START) >>> 0) < FLASH_BYTES;

    /** How many registers a list names. */
    const listed = new Uint8Array(512).map((_, list) => [...list.toString(2)].filter((bit) => bit === '1').length);

    // One long switch on purpose: the compiler makes a jump table of it, and keeps everything in registers.
    return function burst() {
        let spent = 0;
        let count = 0;
        let { returnTo } = chip;
        // The flags while we run: sign and zero as the last result's, carry as 0 or 1, overflow as a sign.
        let nz = core.N ? -1 : core.Z ? 0 : 1;
        let c = core.C ? 1 : 0;
        let v = core.V ? -1 : 0;
        let budget = core.interruptsUpdated ? 0 : Math.ceil((clock.due - clock.nanos) / CYCLE_NANOS);
        for (;;) {
            const pc = r[15];
            const opcode = inFlash(pc) ? flash16[(pc & 0xffffff) >> 1] : inRam(pc) ? ram16[(pc - RAM_START) >> 1] : WFI;
            const low = opcode & 7;
            const middle = (opcode >> 3) & 7;
            let cycles = 1;
            let next = pc + 2;
            let address;
            let x;
            let y;
            // Careful: the package executes the instruction, at the right time, and what it changed is looked at.
            careful: {
                if (budget === 0) break careful;
                switch (KINDS[opcode]) {
                    case 1: { // LSLS (immediate)
                        const shift = (opcode >> 6) & 31;
                        const value = r[middle];
                        if (shift !== 0) c = (value >>> (32 - shift)) & 1;
                        r[low] = nz = value << shift;
                        break;
                    }
                    case 2: { // LSRS (immediate)
                        const shift = (opcode >> 6) & 31;
                        const value = r[middle];
                        c = (value >>> ((shift - 1) & 31)) & 1;
                        r[low] = nz = shift === 0 ? 0 : (value >>> shift) | 0;
                        break;
                    }
                    case 3: { // ASRS (immediate)
                        const shift = (opcode >> 6) & 31;
                        const value = r[middle] | 0;
                        c = (value >>> ((shift - 1) & 31)) & 1;
                        r[low] = nz = shift === 0 ? value >> 31 : value >> shift;
                        break;
                    }
                    case 4: // ADDS (register)
                        x = r[middle];
                        y = r[(opcode >> 6) & 7];
                        r[low] = nz = (x + y) | 0;
                        c = x + y > 0xffffffff ? 1 : 0;
                        v = (x ^ nz) & (y ^ nz);
                        break;
                    case 5: // SUBS (register)
                        x = r[middle];
                        y = r[(opcode >> 6) & 7];
                        r[low] = nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 6: // ADDS (3 bits)
                        x = r[middle];
                        y = (opcode >> 6) & 7;
                        r[low] = nz = (x + y) | 0;
                        c = x + y > 0xffffffff ? 1 : 0;
                        v = (x ^ nz) & (y ^ nz);
                        break;
                    case 7: // SUBS (3 bits)
                        x = r[middle];
                        y = (opcode >> 6) & 7;
                        r[low] = nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 8: r[(opcode >> 8) & 7] = nz = opcode & 0xff; break; // MOVS
                    case 9: // CMP (8 bits)
                        x = r[(opcode >> 8) & 7];
                        y = opcode & 0xff;
                        nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 10: // ADDS (8 bits)
                        x = r[(opcode >> 8) & 7];
                        y = opcode & 0xff;
                        r[(opcode >> 8) & 7] = nz = (x + y) | 0;
                        c = x + y > 0xffffffff ? 1 : 0;
                        v = (x ^ nz) & (y ^ nz);
                        break;
                    case 11: // SUBS (8 bits)
                        x = r[(opcode >> 8) & 7];
                        y = opcode & 0xff;
                        r[(opcode >> 8) & 7] = nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 12: r[low] = nz = r[low] & r[middle]; break; // ANDS
                    case 13: r[low] = nz = r[low] ^ r[middle]; break; // EORS
                    case 14: { // LSLS (register)
                        const shift = r[middle] & 0xff;
                        const value = r[low];
                        if (shift !== 0) c = shift > 32 ? 0 : (value >>> (32 - shift)) & 1;
                        r[low] = nz = shift > 31 ? 0 : value << shift;
                        break;
                    }
                    case 15: { // LSRS (register)
                        const shift = r[middle] & 0xff;
                        const value = r[low];
                        if (shift !== 0) c = shift > 32 ? 0 : (value >>> (shift - 1)) & 1;
                        r[low] = nz = shift > 31 ? 0 : (value >>> shift) | 0;
                        break;
                    }
                    case 16: // ADCS
                        x = r[low];
                        y = r[middle];
                        r[low] = nz = (x + y + c) | 0;
                        c = x + y + c > 0xffffffff ? 1 : 0;
                        v = (x ^ nz) & (y ^ nz);
                        break;
                    case 17: // SBCS
                        x = r[low];
                        y = r[middle];
                        r[low] = nz = (x - y - 1 + c) | 0;
                        c = x >= y + 1 - c ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 18: nz = r[low] & r[middle]; break; // TST
                    case 19: // RSBS
                        x = 0;
                        y = r[middle];
                        r[low] = nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 20: // CMP (register)
                        x = r[low];
                        y = r[middle];
                        nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 21: r[low] = nz = r[low] | r[middle]; break; // ORRS
                    case 22: r[low] = nz = Math.imul(r[low], r[middle]); break; // MULS
                    case 23: r[low] = nz = r[low] & ~r[middle]; break; // BICS
                    case 24: r[low] = nz = ~r[middle]; break; // MVNS
                    case 25: // CMP (high)
                        x = r[((opcode >> 4) & 8) | low];
                        y = r[(opcode >> 3) & 15];
                        nz = (x - y) | 0;
                        c = x >= y ? 1 : 0;
                        v = (x ^ y) & (x ^ nz);
                        break;
                    case 26: r[((opcode >> 4) & 8) | low] = r[(opcode >> 3) & 15]; break; // MOV (high)
                    case 27: r[((opcode >> 4) & 8) | low] += r[(opcode >> 3) & 15]; break; // ADD (high)
                    case 28: // BX
                        next = r[(opcode >> 3) & 15];
                        if (next >>> 28 === 15) break careful;
                        next = (next & ~1) >>> 0;
                        cycles = 2;
                        break;
                    case 29: // BLX
                        next = (r[(opcode >> 3) & 15] & ~1) >>> 0;
                        r[14] = (pc + 2) | 1;
                        cycles = 2;
                        break;
                    case 30: // LDR (literal)
                        address = ((pc + 4) & ~3) + ((opcode & 0xff) << 2);
                        if (!inFlash(address)) break careful;
                        r[(opcode >> 8) & 7] = flash32[(address & 0xffffff) >> 2];
                        cycles = 2;
                        break;
                    case 31: // LDR (immediate)
                    case 39: // LDR (register)
                        address = (r[middle] + (opcode & 0x2000 ? (opcode >> 4) & 0x7c : r[(opcode >> 6) & 7])) >>> 0;
                        if (address & 3) break careful;
                        cycles = 2;
                        if (inRam(address)) {
                            r[low] = ram32[(address - RAM_START) >> 2];
                        } else if (inFlash(address)) {
                            r[low] = flash32[(address & 0xffffff) >> 2];
                        } else {
                            // A peripheral: it sees the right time, and what it may have changed is looked at at once.
                            clock.nanos += spent * CYCLE_NANOS;
                            spent = budget = 0;
                            r[low] = mcu.readUint32(address);
                            cycles = 1 + core.cyclesIO(address);
                        }
                        break;
                    case 32: // STR (immediate)
                    case 40: // STR (register)
                        address = (r[middle] + (opcode & 0x2000 ? (opcode >> 4) & 0x7c : r[(opcode >> 6) & 7])) >>> 0;
                        if (address & 3) break careful;
                        cycles = 2;
                        if (inRam(address)) {
                            ram32[(address - RAM_START) >> 2] = r[low];
                        } else {
                            // A peripheral: it sees the right time, and what it may have changed is looked at at once.
                            clock.nanos += spent * CYCLE_NANOS;
                            spent = budget = 0;
                            mcu.writeUint32(address, r[low]);
                            cycles = 1 + core.cyclesIO(address, true);
                        }
                        break;
                    case 33: // LDRB (immediate)
                    case 41: // LDRB (register)
                        address = (r[middle] + (opcode & 0x2000 ? (opcode >> 6) & 31 : r[(opcode >> 6) & 7])) >>> 0;
                        if (inRam(address)) r[low] = ram8[address - RAM_START];
                        else if (inFlash(address)) r[low] = flash8[address & 0xffffff];
                        else break careful;
                        cycles = 2;
                        break;
                    case 34: // STRB (immediate)
                    case 42: // STRB (register)
                        address = (r[middle] + (opcode & 0x2000 ? (opcode >> 6) & 31 : r[(opcode >> 6) & 7])) >>> 0;
                        if (!inRam(address)) break careful;
                        ram8[address - RAM_START] = r[low];
                        cycles = 2;
                        break;
                    case 35: // LDRH (immediate)
                    case 44: // LDRH (register)
                        address = (r[middle] + (opcode & 0x8000 ? (opcode >> 5) & 62 : r[(opcode >> 6) & 7])) >>> 0;
                        if (address & 1) break careful;
                        if (inRam(address)) r[low] = ram16[(address - RAM_START) >> 1];
                        else if (inFlash(address)) r[low] = flash16[(address & 0xffffff) >> 1];
                        else break careful;
                        cycles = 2;
                        break;
                    case 36: // STRH (immediate)
                    case 43: // STRH (register)
                        address = (r[middle] + (opcode & 0x8000 ? (opcode >> 5) & 62 : r[(opcode >> 6) & 7])) >>> 0;
                        if (address & 1 || !inRam(address)) break careful;
                        ram16[(address - RAM_START) >> 1] = r[low];
                        cycles = 2;
                        break;
                    case 37: // LDR (stack)
                        address = (r[13] + ((opcode & 0xff) << 2)) >>> 0;
                        if (!inRam(address)) break careful;
                        r[(opcode >> 8) & 7] = ram32[(address - RAM_START) >> 2];
                        cycles = 2;
                        break;
                    case 38: // STR (stack)
                        address = (r[13] + ((opcode & 0xff) << 2)) >>> 0;
                        if (!inRam(address)) break careful;
                        ram32[(address - RAM_START) >> 2] = r[(opcode >> 8) & 7];
                        cycles = 2;
                        break;
                    case 45: r[(opcode >> 8) & 7] = r[13] + ((opcode & 0xff) << 2); break; // ADD (to stack pointer)
                    case 46: // ADD, SUB (stack pointer)
                        r[13] += opcode & 0x80 ? -((opcode & 0x7f) << 2) : (opcode & 0x7f) << 2;
                        break;
                    case 47: r[low] = (r[middle] << 16) >> 16; break; // SXTH
                    case 48: r[low] = (r[middle] << 24) >> 24; break; // SXTB
                    case 49: r[low] = r[middle] & 0xffff; break; // UXTH
                    case 50: r[low] = r[middle] & 0xff; break; // UXTB
                    case 51: { // PUSH
                        const list = opcode & 0x1ff;
                        address = (r[13] - 4 * listed[list]) >>> 0;
                        if (!inRam(address) || !inRam(r[13] - 4)) break careful;
                        r[13] = address;
                        let word = (address - RAM_START) >> 2;
                        for (let i = 0; i < 8; i++) if (list & (1 << i)) ram32[word++] = r[i];
                        if (list & 0x100) ram32[word] = r[14];
                        cycles += listed[list & 0xff];
                        break;
                    }
                    case 52: { // POP
                        const list = opcode & 0x1ff;
                        address = r[13];
                        const end = (address + 4 * listed[list]) >>> 0;
                        if (!inRam(address) || !inRam(end - 1)) break careful;
                        let word = (address - RAM_START) >> 2;
                        if (list & 0x100) {
                            next = ram32[(end - 4 - RAM_START) >> 2];
                            if (next >>> 28 === 15) break careful;
                            next = (next & ~1) >>> 0;
                            cycles += 2;
                        }
                        for (let i = 0; i < 8; i++) if (list & (1 << i)) r[i] = ram32[word++];
                        r[13] = end;
                        cycles += listed[list & 0xff];
                        break;
                    }
                    case 53: // B (conditional)
                        if (passes((opcode >> 8) & 15, nz, c, v)) {
                            next = pc + 4 + ((opcode << 24) >> 23);
                            cycles = 2;
                        }
                        break;
                    case 54: // B
                        next = pc + 4 + ((opcode << 21) >> 20);
                        cycles = 2;
                        break;
                    case 55: { // BL
                        const second = inFlash(pc) ? flash16[((pc + 2) & 0xffffff) >> 1]
                            : ram16[(pc + 2 - RAM_START) >> 1];
                        if ((second & 0xd000) !== 0xd000) break careful;
                        const sign = (opcode << 21) >> 31;
                        const i1 = ~((second >> 13) ^ sign) & 1;
                        const i2 = ~((second >> 11) ^ sign) & 1;
                        next = pc + 4 + ((sign << 24) | (i1 << 23) | (i2 << 22) | ((opcode & 0x3ff) << 12)
                            | ((second & 0x7ff) << 1));
                        r[14] = (pc + 4) | 1;
                        cycles = 3;
                        break;
                    }
                    case 56: // STM
                    case 57: { // LDM
                        const base = (opcode >> 8) & 7;
                        const list = opcode & 0xff;
                        address = r[base];
                        const end = address + 4 * listed[list];
                        if (address & 3 || !inRam(address) || !inRam(end - 1) || list & (1 << base)) break careful;
                        let word = (address - RAM_START) >> 2;
                        for (let i = 0; i < 8; i++) {
                            if (!(list & (1 << i))) continue;
                            if (opcode & 0x800) r[i] = ram32[word++];
                            else ram32[word++] = r[i];
                        }
                        r[base] = end;
                        cycles += listed[list];
                        break;
                    }
                    default: break careful;
                }
                r[15] = next;
                count++;
                spent += cycles;
                if (next === calledAt || next === returnTo) {
                    clock.nanos += spent * CYCLE_NANOS;
                    spent = 0;
                    chip.arrived(next);
                    returnTo = chip.returnTo;
                    budget = Math.ceil((clock.due - clock.nanos) / CYCLE_NANOS);
                }
                if (spent < budget) continue;
                break;
            }
            clock.nanos += spent * CYCLE_NANOS;
            spent = 0;
            core.N = nz < 0;
            core.Z = nz === 0;
            core.C = c === 1;
            core.V = v < 0;
            clock.nanos += core.executeInstruction() * CYCLE_NANOS;
            count++;
            nz = core.N ? -1 : core.Z ? 0 : 1;
            c = core.C ? 1 : 0;
            v = core.V ? -1 : 0;
            if (clock.nanos >= clock.due || core.waiting || core.interruptsUpdated || chip.halted !== null) break;
            budget = Math.ceil((clock.due - clock.nanos) / CYCLE_NANOS);
        }
        core.N = nz < 0;
        core.Z = nz === 0;
        core.C = c === 1;
        core.V = v < 0;
        clock.nanos += spent * CYCLE_NANOS;
        chip.instructions += count;
    };
}
