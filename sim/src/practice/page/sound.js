// Sound by Web Audio: the engine from N1 and throttle, the beeper at the firmware's pitch and rhythm, and guns that are
// heard as late as sound takes from the stand to the boat. Nothing sounds before the driver has begun, nor when muted.

export class Sound {
  #audio = null;
  muted = false;

  /** After something the driver did: only then may a page sound. */
  wake() {
    if (this.#audio) return void this.#audio.context.resume();
    const context = new AudioContext();
    const out = gain(context, this.muted ? 0 : 1, context.destination);
    const engine = gain(context, 0, out);
    this.#audio = { context, out, engine, beep: gain(context, 0, out), noise: noise(context) };
    this.#audio.whine = oscillator(context, "sawtooth", gain(context, 0.05, filter(context, 2_400, engine)));
    this.#audio.rumble = oscillator(context, "triangle", gain(context, 0.5, engine));
    this.#audio.tone = oscillator(context, "square", this.#audio.beep);
    const hiss = context.createBufferSource();
    Object.assign(hiss, { buffer: this.#audio.noise, loop: true });
    hiss.connect(gain(context, 0.12, filter(context, 900, engine)));
    hiss.start();
  }

  mute(on) {
    this.muted = on;
    this.#audio?.out.gain.setTargetAtTime(on ? 0 : 1, this.#audio.context.currentTime, 0.02);
  }

  /** The state of things. */
  state(state) {
    if (!this.#audio) return;
    const { context, engine, beep, whine, rumble, tone } = this.#audio;
    const now = context.currentTime;
    const [n1, n2] = [state.n1_pm / 1000, state.n2_pm / 1000];
    const loud = state.paused ? 0 : 0.05 + 0.16 * n1 * n1;
    engine.gain.setTargetAtTime(n1 < 0.02 ? 0 : loud, now, 0.06);
    whine.frequency.setTargetAtTime(180 + 950 * n1, now, 0.05);
    rumble.frequency.setTargetAtTime(35 + 90 * n2, now, 0.05);
    const hertz = state.paused ? 0 : state.hertz;
    if (hertz > 0) tone.frequency.setValueAtTime(hertz, now);
    beep.gain.setTargetAtTime(hertz > 0 ? 0.12 : 0, now, 0.004);
  }

  /** A gun, heard after a delay. */
  gun(delayUs) {
    if (!this.#audio) return;
    const { context, out, noise: buffer } = this.#audio;
    const at = context.currentTime + delayUs / 1e6;
    const bang = context.createBufferSource();
    bang.buffer = buffer;
    const level = gain(context, 0, filter(context, 700, out));
    level.gain.setValueAtTime(0.9, at);
    level.gain.exponentialRampToValueAtTime(0.001, at + 0.9);
    bang.connect(level);
    bang.start(at);
    bang.stop(at + 1);
  }

  /** The start is over. */
  quiet() {
    if (!this.#audio) return;
    const now = this.#audio.context.currentTime;
    this.#audio.engine.gain.setTargetAtTime(0, now, 0.2);
    this.#audio.beep.gain.setTargetAtTime(0, now, 0.01);
  }
}

function gain(context, value, to) {
  const node = context.createGain();
  node.gain.value = value;
  node.connect(to);
  return node;
}

function filter(context, hertz, to) {
  const node = context.createBiquadFilter();
  node.frequency.value = hertz;
  node.connect(to);
  return node;
}

function oscillator(context, type, to) {
  const node = context.createOscillator();
  node.type = type;
  node.connect(to);
  node.start();
  return node;
}

function noise(context) {
  const buffer = context.createBuffer(1, context.sampleRate, context.sampleRate);
  const data = buffer.getChannelData(0);
  for (let k = 0; k < data.length; k++) data[k] = 2 * Math.random() - 1;
  return buffer;
}
