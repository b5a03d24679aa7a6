// The coach: what a start came to, and a replay to scrub. The chart shows the margin that the dash foretold with its
// error, and the one that going flat out would truly have brought; below it the throttle. Line styles differ as well as
// colours.

import { CourseView } from "./course.js";
import { MODES, advice, called, clock, el, signed, verdict } from "./words.js";

const [WIDE, HIGH, LEFT, RIGHT, TOP, THROTTLE] = [760, 236, 48, 12, 16, 40];
const MARGIN_S = 3;
const FROM_MS = -40_000;
const SVG = "http://www.w3.org/2000/svg";

export class Coach {
  #trace = null;
  #course = null;
  #scene = null;

  constructor(page, again) {
    Object.assign(this, { page, again });
  }

  /** Loads a start and shows it; false when there is none. */
  async load(id, scene) {
    const answer = await fetch(`/start/${id}`);
    if (!answer.ok) return false;
    const review = await answer.json();
    this.#scene = scene;
    this.#trace = review.trace;
    this.review = review;
    this.page.replaceChildren(...this.#parts(id, review));
    return true;
  }

  /** Draws the picture again: it has become visible, or the light has changed. */
  drawn() {
    if (this.#trace && !this.page.hidden) this.#at(Number(this.range.value));
  }

  #parts(id, review) {
    const [word, sentence] = verdict(review);
    const again = el("button", { type: "button", class: "main" }, "Again ", el("kbd", {}, "R"));
    again.addEventListener("click", this.again);
    const plan = `${{ 300: "5 min", 60: "1 min", 30: "30 s" }[review.plan.length]}, ${MODES[review.plan.mode]}`;
    return [
      el(
        "h2",
        { class: "verdict" },
        el("strong", {}, word),
        el("span", {}, sentence),
        el("small", {}, `Start ${id}: ${plan}`),
        again,
      ),
      el("p", { class: "todo" }, advice(review)),
      cards(review),
      this.#replay(review),
      take(id, review),
    ];
  }

  #replay(review) {
    const { t_ms: times } = review.trace;
    const first = Math.max(
      0,
      times.findIndex((t) => t >= FROM_MS),
    );
    const zero = Math.max(
      first,
      times.findIndex((t) => t >= 0),
    );
    const canvas = el("canvas", { role: "img", "aria-label": "Where your boat was at the moment of the slider." });
    this.chart = chart(review, first);
    this.range = el("input", {
      type: "range",
      id: "scrub",
      min: first,
      max: times.length - 1,
      value: zero,
      "aria-label": "Moment of the start",
    });
    this.output = el("output", { for: "scrub" });
    this.moment = el("p", { class: "moment", id: "moment", role: "status" });
    const play = el("button", { type: "button", "aria-pressed": "false" }, "Play");
    play.addEventListener("click", () => this.#play(play));
    this.range.addEventListener("input", () => this.#at(Number(this.range.value)));
    this.#course = new CourseView(canvas);
    if (this.#scene) this.#course.begin(this.#scene);
    return el(
      "div",
      {},
      el("div", { class: "replay" }, this.chart.svg, canvas),
      el("div", { class: "scrub" }, play, this.range, this.output),
      this.moment,
    );
  }

  /** Plays on from the slider in real time. */
  #play(button) {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    button.textContent = on ? "Stop" : "Play";
    clearInterval(this.playing);
    if (!on) return;
    if (Number(this.range.value) >= Number(this.range.max)) this.range.value = this.range.min;
    this.playing = setInterval(() => {
      if (Number(this.range.value) >= Number(this.range.max) || this.page.hidden) return this.#play(button);
      this.range.value = String(Number(this.range.value) + 1);
      this.#at(Number(this.range.value));
    }, 100);
  }

  /** The moment of a sample. */
  #at(k) {
    const trace = this.#trace;
    const t = trace.t_ms[k];
    this.output.textContent = `${clock(t * 1e3)} s`;
    this.range.setAttribute("aria-valuetext", `${(t / 1e3).toFixed(1)} seconds`);
    this.chart.cursor(t);
    const ms = (value) => (value === null || value === undefined ? "none" : `${signed(value * 1e3)} s`);
    this.moment.textContent =
      `Throttle ${trace.throttle[k] / 10} %, ${Math.round(trace.speed[k] / 44.704)} mph, EGT ${trace.egt_c[k]} \u00B0C. ` +
      `Flat out from here: ${ms(trace.true_ms[k])}. The dash foretold ${ms(trace.margin_ms[k])}.`;
    const own = { east: trace.east_cm[k] / 100, north: trace.north_cm[k] / 100, heading: trace.heading[k] / 1e4 };
    this.#course?.draw({ own, others: [] }, true);
  }
}

function cards(review) {
  const { lost, foretold, lifts, reactions, faults, speed_m_s: speed } = review;
  const list = el("ul", { class: "cards" });
  const card = (figure, words) => list.append(el("li", {}, el("b", {}, figure), el("small", {}, words)));
  card(
    review.margin_us === null ? "\u2013" : `${signed(review.margin_us)} s`,
    `true margin. The dash called: ${called(review.call)}`,
  );
  if (lost) {
    card(
      lost.metres < 0 ? "\u2013" : `${lost.metres.toFixed(0)} m`,
      lost.metres < 0
        ? "ahead of a start at zero: that is early"
        : `behind a flat-out start at zero: ${lost.lengths.toFixed(1)} lengths. ${lost.by_time_m.toFixed(0)} m by time, ${lost.by_speed_m.toFixed(0)} m by speed`,
    );
    card(`${Math.round(speed / 0.44704)} mph`, "over the line");
  }
  if (review.went_us !== null)
    card(
      clock(review.went_us),
      review.best_us === null ? "you went flat out" : `you went flat out; the best moment was ${clock(review.best_us)}`,
    );
  if (foretold)
    card(
      `${signed(foretold.margin_us - foretold.forecast_us)} s`,
      `what happened less what the dash foretold when you went (${signed(foretold.forecast_us)} \u00B1 ${(foretold.sigma_us / 1e6).toFixed(2)} s)`,
    );
  if (lifts.length)
    card(
      `${lifts.length} \u00D7`,
      `eased: ${lifts
        .slice(0, 3)
        .map((lift) => `${clock(lift.at_us)} for ${(lift.for_us / 1e6).toFixed(1)} s`)
        .join("; ")}`,
    );
  if (reactions.length)
    card(reactions.map((it) => `${(it.late_us / 1e6).toFixed(2)} s`).join(", "), "your press after each gun");
  if (faults.length) card("\u26A0", `what went wrong: ${faults.join("; ")}`);
  return list;
}

function take(id, review) {
  const button = el("button", { type: "button" }, "Save as files");
  const said = el("code", { hidden: "" });
  button.addEventListener("click", async () => {
    const answer = await fetch(`/start/${id}/take`, { method: "POST" });
    said.hidden = false;
    said.textContent = answer.ok ? (await answer.json()).command : await answer.text();
  });
  const file = (name) => el("a", { href: `/start/${id}/${name}`, download: "" }, name);
  const digest = `${review.replays ? "Replays to the same digest" : "Does not replay: please report it"}, ${review.digest.slice(0, 12)}\u2026`;
  return el(
    "p",
    { class: "take" },
    button,
    file("heat.toml"),
    file("settings.toml"),
    file("hands.csv"),
    file("start.journal"),
    el("small", {}, digest),
    said,
  );
}

/** The chart as SVG, and what moves its cursor. */
function chart(review, first) {
  const { trace } = review;
  const [t0, t1] = [trace.t_ms[first], trace.t_ms.at(-1)];
  const x = (t) => LEFT + ((t - t0) / Math.max(1, t1 - t0)) * (WIDE - LEFT - RIGHT);
  const floor = HIGH - THROTTLE - 24;
  const y = (ms) =>
    TOP + ((MARGIN_S - Math.max(-MARGIN_S, Math.min(MARGIN_S, ms / 1e3))) / (2 * MARGIN_S)) * (floor - TOP);
  const svg = draw("svg", {
    viewBox: `0 0 ${WIDE} ${HIGH}`,
    role: "img",
    "aria-label": "Margin over time: solid what the dash foretold, dashed what was true; below it the throttle.",
  });
  for (let s = -MARGIN_S; s <= MARGIN_S; s++) {
    svg.append(
      draw("line", { class: s === 0 ? "zero" : "grid", x1: LEFT, x2: WIDE - RIGHT, y1: y(s * 1e3), y2: y(s * 1e3) }),
    );
    svg.append(text(LEFT - 6, y(s * 1e3) + 4, `${s > 0 ? "+" : ""}${s}`, "end"));
  }
  for (let t = Math.ceil(t0 / 10_000) * 10_000; t <= t1; t += 10_000) {
    svg.append(draw("line", { class: t === 0 ? "zero" : "grid", x1: x(t), x2: x(t), y1: TOP, y2: HIGH - 18 }));
    svg.append(text(x(t), HIGH - 4, `${t / 1e3} s`, "middle"));
  }
  const samples = trace.t_ms.map((t, k) => ({ t, k })).slice(first);
  const has = (values) => samples.filter(({ k }) => values[k] !== null && values[k] !== undefined);
  const points = (list, of) => list.map(({ t, k }) => `${x(t).toFixed(1)},${of(k).toFixed(1)}`).join(" ");
  const foretold = has(trace.margin_ms);
  const edge = (sign) => (k) => y(trace.margin_ms[k] + sign * 2 * (trace.sigma_ms[k] ?? 0));
  if (foretold.length)
    svg.append(
      draw("polygon", {
        class: "band",
        points: `${points(foretold, edge(1))} ${points([...foretold].reverse(), edge(-1))}`,
      }),
    );
  svg.append(draw("polyline", { class: "truth", points: points(has(trace.true_ms), (k) => y(trace.true_ms[k])) }));
  svg.append(draw("polyline", { class: "foretold", points: points(foretold, (k) => y(trace.margin_ms[k])) }));
  const base = HIGH - 20;
  svg.append(
    draw("polygon", {
      class: "throttle",
      points: `${x(t0)},${base} ${points(samples, (k) => base - (trace.throttle[k] / 1000) * THROTTLE)} ${x(t1)},${base}`,
    }),
  );
  svg.append(text(LEFT + 4, TOP + 12, "margin if flat out, s: solid the dash, dashed the truth", "start"));
  svg.append(text(LEFT + 4, base - THROTTLE + 10, "throttle", "start"));
  // The earlier of the two has its word on the left.
  const mark = (us, words, other) =>
    us !== null &&
    us / 1e3 >= t0 &&
    svg.append(
      draw("path", { class: "mark", d: `M${x(us / 1e3)} ${floor} l-6 11 h12 z` }),
      text(x(us / 1e3) + (us < other ? -8 : 8), floor + 11, words, us < other ? "end" : "start"),
    );
  mark(review.best_us, "best", review.went_us ?? -Infinity);
  mark(review.went_us, "went", review.best_us ?? -Infinity);
  const cursor = draw("line", { class: "cursor", y1: TOP, y2: HIGH - 18 });
  svg.append(cursor);
  return { svg, cursor: (t) => ["x1", "x2"].forEach((end) => cursor.setAttribute(end, x(t))) };
}

/** An element of a drawing. */
export function draw(name, attributes = {}, ...children) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...children);
  return node;
}

/** A text in a drawing. */
export function text(x, y, words, anchor) {
  return draw("text", { class: "svg-text", x, y, "text-anchor": anchor }, words);
}
