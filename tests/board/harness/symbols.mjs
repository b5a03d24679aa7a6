// Reads the ELF file that is flashed: what is loaded where, and what the linker called it.
//
// Knows the 32-bit little-endian ELF format (Tool Interface Standard, ELF 1.2) as far as a linked ARM program needs
// it. Bytes in; segments and symbols out.

const PT_LOAD = 1;
const SHT_SYMTAB = 2;
const STT_FUNC = 2;

/** A linked program: `segments` to load, and its symbols by name and by address. */
export class Program {
    /** @param {Uint8Array} bytes a whole ELF file; throws an Error that says what is wrong with it. */
    constructor(bytes) {
        this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
        this.bytes = bytes;
        if (bytes.length < 52 || this.word(0) !== 0x464c457f) throw new Error('not an ELF file');
        if (bytes[4] !== 1 || bytes[5] !== 1) throw new Error('not a 32-bit little-endian ELF file');
        if (this.half(18) !== 40) throw new Error('not a program for ARM');
        this.segments = this.readSegments();
        this.readSymbols();
    }

    half(at) {
        return this.view.getUint16(at, true);
    }

    word(at) {
        return this.view.getUint32(at, true);
    }

    readSegments() {
        const segments = [];
        const size = this.half(42);
        for (let i = 0, at = this.word(28); i < this.half(44); i++, at += size) {
            const length = this.word(at + 16);
            if (this.word(at) !== PT_LOAD || length === 0) continue;
            const offset = this.word(at + 4);
            segments.push({ address: this.word(at + 12), bytes: this.bytes.subarray(offset, offset + length) });
        }
        return segments;
    }

    readSymbols() {
        /** Address by name, and size in bytes. */
        this.addresses = new Map();
        this.sizes = new Map();
        /** Functions in order of address, for `nearest`. */
        this.functions = [];
        const size = this.half(46);
        for (let i = 0, at = this.word(32); i < this.half(48); i++, at += size) {
            if (this.word(at + 4) !== SHT_SYMTAB) continue;
            const strings = this.word(this.word(32) + size * this.word(at + 24) + 16);
            this.readTable(this.word(at + 16), this.word(at + 20), strings);
        }
        this.functions.sort((a, b) => a.address - b.address);
    }

    readTable(offset, length, strings) {
        for (let at = offset; at < offset + length; at += 16) {
            const name = this.text(strings + this.word(at));
            const address = this.word(at + 4);
            if (name === '' || name.startsWith('$')) continue;
            this.addresses.set(name, address);
            this.sizes.set(name, this.word(at + 8));
            // Bit 0 of a function's address only says "Thumb code".
            if ((this.bytes[at + 12] & 0xf) === STT_FUNC) this.functions.push({ name, address: address & ~1 });
        }
    }

    text(at) {
        return Buffer.from(this.bytes.subarray(at, this.bytes.indexOf(0, at))).toString('latin1');
    }

    /** Address of a symbol, or undefined. */
    address(name) {
        return this.addresses.get(name);
    }

    /** The function that an address lies in, in words: `name+0x12`. */
    nearest(address) {
        let low = 0;
        let high = this.functions.length;
        while (low < high) {
            const middle = (low + high) >> 1;
            if (this.functions[middle].address <= address) low = middle + 1;
            else high = middle;
        }
        const hex = `0x${(address >>> 0).toString(16)}`;
        if (low === 0) return hex;
        const { name, address: start } = this.functions[low - 1];
        return `${readable(name)}+0x${(address - start).toString(16)} (${hex})`;
    }
}

/** A Rust symbol of the older mangling as a path, without its hash; anything else as it is. */
function readable(name) {
    if (!name.startsWith('_ZN')) return name;
    const parts = [];
    let rest = name.slice(3);
    for (let m = /^\d+/.exec(rest); m; m = /^\d+/.exec(rest)) {
        const start = m[0].length;
        const end = start + Number(m[0]);
        parts.push(rest.slice(start, end));
        rest = rest.slice(end);
    }
    if (/^h[0-9a-f]{16}$/.test(parts.at(-1) ?? '')) parts.pop();
    return parts.join('::').replaceAll('..', '::');
}
