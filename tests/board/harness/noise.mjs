// Repeatable noise: what memory holds when the power comes on, and what a cut erase leaves behind. The same seed
// gives the same bytes on every machine, so that a failing run can be played again.

/** A source of 32-bit numbers (the public-domain generator mulberry32). */
export function noise(seed) {
    let state = seed >>> 0;
    return () => {
        state = (state + 0x6d2b79f5) >>> 0;
        let t = state;
        t = Math.imul(t ^ (t >>> 15), t | 1);
        t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
        return (t ^ (t >>> 14)) >>> 0;
    };
}

/** Fills bytes with noise. */
export function fillWithNoise(bytes, seed) {
    const draw = noise(seed);
    for (let i = 0; i < bytes.length; i++) bytes[i] = draw() & 0xff;
}
