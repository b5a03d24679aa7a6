// Between two messages: the states of the last moments, and how things are at a moment between two of them. The picture
// runs a frame and a half behind the server, so that there is nearly always a state on either side.

const BEHIND_US = 25_000;
const KEPT = 12;

export class Motion {
  #states = [];
  /** Server time less page time, microseconds: the largest seen lately, which is that of the quickest message. */
  #offset = null;

  /** A start begins. */
  clear() {
    this.#states = [];
    this.#offset = null;
  }

  /** A state has come. */
  add(state) {
    const offset = state.t_us - performance.now() * 1e3;
    const stands = state.paused || this.last?.paused;
    // It creeps down slowly, so that a clock that differs is followed.
    this.#offset = stands || this.#offset === null ? offset : Math.max(offset, this.#offset - 40);
    this.#states.push(state);
    if (this.#states.length > KEPT) this.#states.shift();
  }

  /** The newest state. */
  get last() {
    return this.#states.at(-1);
  }

  /** Things as they are in the picture now; nothing before the first state. */
  now() {
    const last = this.last;
    if (!last) return null;
    const t = last.paused ? last.t_us : Math.min(performance.now() * 1e3 + this.#offset - BEHIND_US, last.t_us);
    const after = this.#states.findIndex((state) => state.t_us >= t);
    if (after <= 0) return drawn(this.#states[Math.max(after, 0)], this.#states[Math.max(after, 0)], 0);
    const [a, b] = [this.#states[after - 1], this.#states[after]];
    return drawn(a, b, (t - a.t_us) / Math.max(1, b.t_us - a.t_us));
  }
}

/** Everything that moves, `share` of the way from one state to the next, in metres, radians and metres a second. */
function drawn(a, b, share) {
  return {
    t_us: a.t_us + share * (b.t_us - a.t_us),
    own: { ...boat(a.own, b.own, share, 4), skid: mix(a.own[3], b.own[3], share) / 1e4 },
    others: a.others.map((other, k) => boat(other, b.others[k] ?? other, share, 3)),
    state: b,
  };
}

function boat(a, b, share, speed) {
  return {
    east: mix(a[0], b[0], share) / 100,
    north: mix(a[1], b[1], share) / 100,
    heading: turn(a[2] / 1e4, b[2] / 1e4, share),
    speed: mix(a[speed], b[speed], share) / 100,
  };
}

const mix = (a, b, share) => a + share * (b - a);

/** Angles the shorter way round. */
function turn(a, b, share) {
  const whole = 2 * Math.PI;
  const apart = ((((b - a + Math.PI) % whole) + whole) % whole) - Math.PI;
  return a + share * apart;
}
