// The dash: its 128 by 64 pixels as the firmware drew them, its lamps, and the same said in words for those who cannot
// see the picture. Also what all canvases need: the page's colours, and a canvas that fits its place.

import { signed } from "./words.js";

const [WIDTH, HEIGHT] = [128, 64];
/** What is said of the dash is said again no sooner than this. */
const SAID_MS = 2_500;

export class DashView {
  #saidAt = 0;

  constructor(canvas, lamps, said, stopwatch) {
    Object.assign(this, { canvas, lamps, said, stopwatch });
    this.context = canvas.getContext("2d");
    this.image = this.context.createImageData(WIDTH, HEIGHT);
    this.cover();
  }

  /** The dash's picture, in pages of eight rows: byte `page * 128 + x`, uppermost row in bit 0. */
  picture(bytes) {
    const { data } = this.image;
    for (let y = 0; y < HEIGHT; y++) {
      for (let x = 0; x < WIDTH; x++) {
        const lit = (bytes[(y >> 3) * WIDTH + x] >> (y & 7)) & 1;
        data.set(lit ? [232, 246, 250, 255] : [5, 8, 10, 255], (y * WIDTH + x) * 4);
      }
    }
    this.context.putImageData(this.image, 0, 0);
    this.covered = false;
  }

  /** Nothing is shown. */
  cover() {
    this.context.fillStyle = "#05080a";
    this.context.fillRect(0, 0, WIDTH, HEIGHT);
    this.covered = true;
  }

  /** Lamps, cover and words of a state. */
  state(state, mode) {
    const [warning, caution] = state.lamps;
    this.lamps.warning.classList.toggle("lit", warning);
    this.lamps.caution.classList.toggle("lit", caution);
    if (!state.seen && !this.covered) this.cover();
    const watch = mode === "stopwatch";
    this.stopwatch.hidden = !watch;
    this.canvas.hidden = watch;
    if (watch) this.stopwatch.textContent = state.stopwatch_us === undefined ? "-:--.-" : watched(state.stopwatch_us);
    this.#say(state.dash);
  }

  #say(dash) {
    const now = performance.now();
    if (!dash || now - this.#saidAt < SAID_MS) return;
    const parts = [];
    if (dash.race_us !== null) parts.push(`${Math.round(dash.race_us / 1e6)} seconds`);
    if (dash.advice) parts.push(dash.advice);
    if (dash.margin_us !== null) parts.push(signed(dash.margin_us));
    if (dash.alert) parts.push(`alert: ${dash.alert}`);
    if (parts.length === 0) parts.push("waiting for a first signal");
    this.#saidAt = now;
    this.said.textContent = parts.join(", ");
  }
}

function watched(us) {
  const s = Math.abs(us) / 1e6;
  const minutes = Math.floor(s / 60);
  return `${us < 0 ? "\u2212" : "+"}${minutes}:${(s - 60 * minutes).toFixed(1).padStart(4, "0")}`;
}

let known = null;

/** The page's colours as they are now. */
export function colours() {
  if (known) return known;
  // Resolved by a real element, because a custom property keeps `light-dark()` as it stands.
  const probe = document.createElement("span");
  document.body.append(probe);
  const get = (name) => {
    probe.style.color = `var(--${name})`;
    return getComputedStyle(probe).color;
  };
  known = Object.fromEntries(
    ["paper", "card", "ink", "soft", "blue", "orange", "sky", "water"].map((name) => [name, get(name)]),
  );
  known.waterLine = get("water-line");
  known.foam = "rgb(255 255 255 / .75)";
  probe.remove();
  return known;
}

/** Light has become dark, or dark light. */
export function forgetColours() {
  known = null;
}

/** A canvas's context, with as many pixels as its place has, drawn on in CSS pixels. */
export function fit(canvas) {
  const ratio = Math.min(devicePixelRatio || 1, 2);
  const [width, height] = [Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio)];
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  const context = canvas.getContext("2d");
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  return context;
}
