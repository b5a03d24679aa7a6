// The course from above: the lane, the buoys, the line, the guns' smoke, and every boat with a bubble trail of foam.
// Racing direction on the home straight runs to the right. Own boat: filled, with a ring. Others: hollow. He who comes
// across: hollow with a bar.

import { colours, fit } from "./dash.js";

const TRAIL = 90;
const ROUND_M = 105;
const AGGRESSIVE = 1;

export class CourseView {
  #trails = [];
  #smoke = null;

  constructor(canvas) {
    this.canvas = canvas;
  }

  begin(scene) {
    this.scene = scene;
    this.#trails = [];
    this.#smoke = null;
  }

  /** A gun has fired. */
  fire() {
    this.#smoke = performance.now();
  }

  draw(things, still = false) {
    if (!this.scene) return;
    const context = fit(this.canvas);
    const paint = colours();
    const place = this.#map();
    context.fillStyle = paint.water;
    context.fillRect(0, 0, this.canvas.clientWidth, this.canvas.clientHeight);
    this.#ground(context, paint, place);
    if (!things) return;
    const boats = [things.own, ...things.others];
    if (!still) this.#trail(context, paint, place, boats, things);
    things.others.forEach((boat, k) => this.#boat(context, paint, place, boat, k === AGGRESSIVE ? "bar" : "hollow"));
    this.#boat(context, paint, place, things.own, "own");
  }

  /** Metres to pixels: the home straight to the right, the whole course in the picture. */
  #map() {
    const { line, path, guns } = this.scene;
    const [from, to] = line;
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const along = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    const turned = ([east, north]) => [-east * along[1] + north * along[0], east * along[0] + north * along[1]];
    const all = [...path, ...line, guns].map(turned);
    const span = (axis) => {
      const values = all.map((point) => point[axis]);
      return [Math.min(...values), Math.max(...values)];
    };
    // Room for the outer lanes and for a word below the line.
    const [[x0, x1], [y0, y1]] = [span(0), span(1)].map(([least, most]) => [least - ROUND_M, most + ROUND_M]);
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const scale = Math.min(width / (x1 - x0), height / (y1 - y0));
    const place = (point) => {
      const [x, y] = turned(point);
      return [width / 2 + (x - (x0 + x1) / 2) * scale, height / 2 + (y - (y0 + y1) / 2) * scale];
    };
    // A heading, clockwise from north, as an angle on the screen.
    place.angle = (heading) => {
      const [x, y] = turned([Math.sin(heading), Math.cos(heading)]);
      return Math.atan2(y, x);
    };
    return place;
  }

  #ground(context, paint, place) {
    const { path, line, buoys, guns } = this.scene;
    context.lineJoin = "round";
    context.strokeStyle = paint.waterLine;
    context.lineWidth = 2;
    context.setLineDash([3, 7]);
    context.beginPath();
    for (const point of path) context.lineTo(...place(point));
    context.closePath();
    context.stroke();
    context.setLineDash([]);
    context.strokeStyle = paint.ink;
    context.lineWidth = 3;
    context.beginPath();
    context.moveTo(...place(line[0]));
    context.lineTo(...place(line[1]));
    context.stroke();
    for (const buoy of buoys) disc(context, place(buoy), 4, paint.orange);
    for (const end of line) square(context, place(end), 5, paint.orange, paint.ink);
    const [x, y] = place(guns);
    square(context, [x, y], 4, paint.card, paint.ink);
    context.fillStyle = paint.ink;
    context.font = "600 13px system-ui";
    context.textAlign = "center";
    context.fillText("start line", place(line[1])[0], place(line[1])[1] + 20);
    const [ax, ay] = place(path[Math.round(path.length * 0.06)]);
    context.font = "700 22px system-ui";
    context.fillText("\u2192", ax, ay - 12);
    this.#puff(context, paint, [x, y]);
  }

  #puff(context, paint, [x, y]) {
    const age = this.#smoke === null ? Infinity : (performance.now() - this.#smoke) / 1e3;
    if (age > 3) return;
    context.globalAlpha = 1 - age / 3;
    disc(context, [x + age * 4, y - age * 6], 9 + 10 * age, paint.card, paint.ink);
    context.globalAlpha = 1;
  }

  #trail(context, paint, place, boats, things) {
    if (!things.state.paused) {
      boats.forEach((boat, k) => {
        const trail = (this.#trails[k] ??= []);
        trail.push([boat.east, boat.north]);
        if (trail.length > TRAIL) trail.shift();
      });
    }
    context.strokeStyle = paint.foam;
    context.lineWidth = 2;
    for (const trail of this.#trails) {
      context.beginPath();
      for (const point of trail) context.lineTo(...place(point));
      context.stroke();
    }
  }

  #boat(context, paint, place, boat, kind) {
    const [x, y] = place([boat.east, boat.north]);
    context.save();
    context.translate(x, y);
    context.rotate(place.angle(boat.heading));
    context.beginPath();
    context.moveTo(11, 0);
    context.lineTo(-7, 6);
    context.lineTo(-4, 0);
    context.lineTo(-7, -6);
    context.closePath();
    context.lineWidth = 2;
    context.strokeStyle = paint.ink;
    context.fillStyle = kind === "own" ? paint.blue : paint.card;
    context.fill();
    context.stroke();
    if (kind === "bar") {
      context.fillStyle = paint.orange;
      context.fillRect(-5, -2, 12, 4);
    }
    context.restore();
    if (kind === "own") {
      context.strokeStyle = paint.blue;
      context.lineWidth = 2;
      context.beginPath();
      context.arc(x, y, 17, 0, 2 * Math.PI);
      context.stroke();
    }
  }
}

function disc(context, [x, y], radius, fill, edge) {
  context.beginPath();
  context.arc(x, y, radius, 0, 2 * Math.PI);
  context.fillStyle = fill;
  context.fill();
  if (edge) {
    context.strokeStyle = edge;
    context.lineWidth = 1;
    context.stroke();
  }
}

function square(context, [x, y], half, fill, edge) {
  context.fillStyle = fill;
  context.fillRect(x - half, y - half, 2 * half, 2 * half);
  context.strokeStyle = edge;
  context.lineWidth = 1.5;
  context.strokeRect(x - half, y - half, 2 * half, 2 * half);
}
