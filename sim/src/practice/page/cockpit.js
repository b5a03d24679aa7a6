// The view from the cockpit: horizon, water that runs past, the line between its two marks, the buoys of the turns, the
// other boats with their spray, the guns' smoke, and the officials' start clock beside the line.
//
// Plain perspective: the eye stands so high above the water and looks along the bow.

import { colours, fit } from "./dash.js";
import { clock } from "./words.js";

const EYE_M = 2.6;
/** Half of the picture's width is so wide an angle: tan of it. */
const WIDE = 0.72;
const NEAR_M = 3;
const FAR_M = 2_200;
const WAVE_M = 9;
const WAVES = 17;
const AGGRESSIVE = 1;

export class CockpitView {
  #smoke = null;

  constructor(canvas) {
    this.canvas = canvas;
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
  }

  begin(scene) {
    this.scene = scene;
    this.#smoke = null;
  }

  /** A gun has fired. */
  fire() {
    this.#smoke = performance.now();
  }

  draw(things) {
    const context = fit(this.canvas);
    const paint = colours();
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const horizon = height * 0.4;
    const lean = this.#lean(things);
    context.save();
    context.translate(width / 2, horizon);
    context.rotate(lean);
    context.translate(-width / 2, -horizon);
    // Wide enough to lean.
    context.fillStyle = paint.sky;
    context.fillRect(-width, -height, 3 * width, horizon + height);
    context.fillStyle = paint.water;
    context.fillRect(-width, horizon, 3 * width, 2 * height);
    if (!things || !this.scene) return void context.restore();
    const { own } = things;
    const eye = new Eye(own, this.scene.bow_m, width, horizon);
    if (!this.still.matches) waves(context, paint, eye, own);
    for (const draw of this.#far(eye, things, paint)) draw.paint(context);
    context.restore();
    deck(context, paint, width, height, own);
    this.#facts(context, paint, things, width);
  }

  /** With reduced motion the picture neither leans nor shakes, and the water stands. */
  #lean(things) {
    if (!things || this.still.matches) return 0;
    return Math.max(-0.09, Math.min(0.09, things.own.skid * 0.5));
  }

  /** Everything upright, the farthest first. */
  #far(eye, things, paint) {
    const { line, buoys, guns } = this.scene;
    const list = [];
    const add = (point, draw) => {
      const seen = eye.sees(point);
      if (seen) list.push({ far: seen.far, paint: (context) => draw(context, seen) });
    };
    const mid = (share) => [0, 1].map((axis) => line[0][axis] + share * (line[1][axis] - line[0][axis]));
    for (let k = 1; k < 16; k++) add(mid(k / 16), (context, seen) => post(context, seen, 0.35, 1.2, paint.orange));
    line.forEach((end, k) => add(end, (context, seen) => flag(context, seen, paint, k === 0 ? "L" : "R")));
    for (const buoy of buoys) add(buoy, (context, seen) => ball(context, seen, paint));
    things.others.forEach((boat, k) =>
      add([boat.east, boat.north], (context, seen) => other(context, seen, paint, boat, k === AGGRESSIVE, eye)),
    );
    add(guns, (context, seen) => this.#stand(context, seen, paint, things));
    return list.sort((a, b) => b.far - a.far);
  }

  /** The officials' stand: a start clock that runs down its last minute, and the smoke of the guns. */
  #stand(context, seen, paint, things) {
    const covered = !things.state.seen && this.scene.plan.mode === "hidden";
    const size = Math.max(16, Math.min(70, seen.scale * 5));
    const [x, y] = [seen.x, seen.y - Math.max(size * 1.4, seen.scale * 7)];
    context.strokeStyle = paint.ink;
    context.lineWidth = 2;
    line2(context, seen.x, seen.y, x, y);
    context.beginPath();
    context.arc(x, y, size, 0, 2 * Math.PI);
    context.fillStyle = paint.card;
    context.fill();
    context.stroke();
    const left = -things.t_us / 1e6;
    if (!covered && left > 0 && left <= 60) {
      context.beginPath();
      context.moveTo(x, y);
      context.arc(x, y, size * 0.92, -Math.PI / 2, -Math.PI / 2 + (2 * Math.PI * left) / 60);
      context.fillStyle = paint.ink;
      context.fill();
    }
    const age = this.#smoke === null ? Infinity : (performance.now() - this.#smoke) / 1e3;
    if (age < 3) {
      context.globalAlpha = 1 - age / 3;
      context.beginPath();
      context.arc(x + size * (1 + age), y - size * age * 0.5, size * (0.7 + age * 0.6), 0, 2 * Math.PI);
      context.fillStyle = paint.card;
      context.fill();
      context.stroke();
      context.globalAlpha = 1;
    }
  }

  /** Speed, and the way to the line: what a driver feels and sees, in figures. */
  #facts(context, paint, things, width) {
    const { state, own } = things;
    context.fillStyle = paint.ink;
    context.font = "700 24px system-ui";
    context.textAlign = "left";
    context.fillText(`${Math.round(own.speed / 0.44704)} mph`, 14, 32);
    context.textAlign = "right";
    context.fillText(`${Math.max(0, Math.round(state.to_line_cm / 100))} m to the line`, width - 14, 32);
    if (!state.paused) return;
    context.textAlign = "center";
    context.font = "800 34px system-ui";
    context.fillText(`\u2016 Paused at ${clock(state.t_us)}`, width / 2, 78);
  }
}

/** Where points of the water fall in the picture. */
class Eye {
  constructor(own, bow, width, horizon) {
    Object.assign(this, { east: own.east, north: own.north, width, horizon });
    [this.sin, this.cos] = [Math.sin(own.heading), Math.cos(own.heading)];
    this.focal = width / 2 / WIDE;
  }

  /** Pixels and scale of a point on the water; nothing behind the eye or too far. */
  sees([east, north]) {
    const [e, n] = [east - this.east, north - this.north];
    const far = e * this.sin + n * this.cos;
    const right = e * this.cos - n * this.sin;
    if (far < NEAR_M || far > FAR_M || Math.abs(right) > far * WIDE * 1.5) return null;
    const scale = this.focal / far;
    return { far, scale, x: this.width / 2 + right * scale, y: this.horizon + EYE_M * scale };
  }
}

/** Short strokes on a grid that stands on the water, so that it runs past. */
function waves(context, paint, eye, own) {
  context.strokeStyle = paint.waterLine;
  context.lineWidth = 1.5;
  context.beginPath();
  const [east, north] = [Math.round(own.east / WAVE_M), Math.round(own.north / WAVE_M)];
  for (let i = -WAVES; i <= WAVES; i++) {
    for (let j = -WAVES; j <= WAVES; j++) {
      const [e, n] = [east + i, north + j];
      // A fixed disorder, so that it is no chess board.
      const odd = Math.sin(e * 12.9 + n * 78.2) * 4.4;
      const seen = eye.sees([e * WAVE_M + odd, n * WAVE_M - odd]);
      if (!seen) continue;
      const half = Math.min(46, seen.scale * 1.1);
      context.moveTo(seen.x - half, seen.y);
      context.lineTo(seen.x + half, seen.y);
    }
  }
  context.stroke();
}

function post(context, { x, y, scale }, wide, high, colour) {
  context.fillStyle = colour;
  context.fillRect(x - (wide * scale) / 2, y - high * scale, Math.max(1.5, wide * scale), Math.max(2, high * scale));
}

function flag(context, seen, paint, letter) {
  const high = Math.max(18, seen.scale * 6);
  context.strokeStyle = paint.ink;
  context.lineWidth = 2;
  line2(context, seen.x, seen.y, seen.x, seen.y - high);
  context.fillStyle = paint.orange;
  context.fillRect(seen.x, seen.y - high, high * 0.6, high * 0.4);
  context.strokeRect(seen.x, seen.y - high, high * 0.6, high * 0.4);
  if (high < 26) return;
  context.fillStyle = paint.paper;
  context.font = `700 ${high * 0.3}px system-ui`;
  context.textAlign = "center";
  context.fillText(letter, seen.x + high * 0.3, seen.y - high * 0.69);
}

function ball(context, { x, y, scale }, paint) {
  const radius = Math.max(3, scale * 1.1);
  context.beginPath();
  context.arc(x, y - radius * 0.8, radius, 0, 2 * Math.PI);
  context.fillStyle = paint.orange;
  context.fill();
  context.strokeStyle = paint.ink;
  context.lineWidth = 1;
  context.stroke();
}

/** A boat: hull, and a fan of spray that grows with her speed. He who comes across has a bar. */
function other(context, { x, y, scale }, paint, boat, bar, eye) {
  const wide = Math.max(5, scale * 4);
  const spray = Math.min(1, boat.speed / 60);
  const across = Math.sin(boat.heading) * eye.cos - Math.cos(boat.heading) * eye.sin;
  context.fillStyle = paint.foam;
  context.beginPath();
  context.moveTo(x, y);
  context.lineTo(x - across * wide * 3 * spray - wide * 0.7, y - wide * 1.5 * spray);
  context.lineTo(x - across * wide * 3 * spray + wide * 0.7, y - wide * 1.5 * spray);
  context.closePath();
  context.fill();
  context.fillStyle = paint.card;
  context.strokeStyle = paint.ink;
  context.lineWidth = 1.5;
  context.fillRect(x - wide / 2, y - wide * 0.45, wide, wide * 0.4);
  context.strokeRect(x - wide / 2, y - wide * 0.45, wide, wide * 0.4);
  if (!bar) return;
  context.fillStyle = paint.orange;
  context.fillRect(x - wide / 2, y - wide * 0.34, wide, wide * 0.18);
}

/** The own bow between its two sponsons, and the spray that they throw; a skid throws more on its side. */
function deck(context, paint, width, height, own) {
  const spray = Math.min(1, own.speed / 70);
  const middle = width / 2;
  const shape = (colour, points) => {
    context.fillStyle = colour;
    context.beginPath();
    for (const [x, y] of points) context.lineTo(middle + x * width, height - y * height);
    context.closePath();
    context.fill();
  };
  for (const side of [-1, 1]) {
    const more = Math.max(0, spray + side * own.skid * 2);
    shape(paint.foam, [
      [side * 0.15, 0.02],
      [side * (0.17 + 0.05 * more), 0.17 * more],
      [side * (0.24 + 0.09 * more), 0.12 * more],
      [side * (0.26 + 0.12 * more), 0],
    ]);
    shape(paint.ink, [
      [side * 0.105, 0],
      [side * 0.1, 0.12],
      [side * 0.115, 0.15],
      [side * 0.145, 0.13],
      [side * 0.18, 0],
    ]);
    shape(paint.blue, [
      [side * 0.112, 0],
      [side * 0.106, 0.118],
      [side * 0.117, 0.14],
      [side * 0.14, 0.122],
      [side * 0.172, 0],
    ]);
  }
  shape(paint.ink, [
    [-0.1, 0],
    [-0.045, 0.2],
    [-0.02, 0.215],
    [0.02, 0.215],
    [0.045, 0.2],
    [0.1, 0],
  ]);
  shape(paint.blue, [
    [-0.094, 0],
    [-0.041, 0.192],
    [-0.018, 0.205],
    [0.018, 0.205],
    [0.041, 0.192],
    [0.094, 0],
  ]);
  shape(paint.card, [
    [-0.006, 0],
    [-0.003, 0.2],
    [0.003, 0.2],
    [0.006, 0],
  ]);
}

function line2(context, x0, y0, x1, y1) {
  context.beginPath();
  context.moveTo(x0, y0);
  context.lineTo(x1, y1);
  context.stroke();
}
