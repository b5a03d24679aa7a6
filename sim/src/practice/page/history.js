// The history: figures, the distribution of lateness, the trend, the thumb's proposal, and every start in a table.

import { draw, text } from "./coach.js";
import { MODES, el, signed } from "./words.js";

const [WIDE, HIGH, FLOOR] = [560, 210, 172];

export class History {
  constructor(page, open) {
    Object.assign(this, { page, open });
  }

  /** Asks for it anew and shows it. */
  async load() {
    const answer = await fetch("/history");
    if (!answer.ok) return this.page.replaceChildren(el("p", { role: "alert" }, await answer.text()));
    const { rows, figures } = await answer.json();
    if (rows.length === 0) {
      return this.page.replaceChildren(
        el("h2", {}, "History"),
        el("p", { class: "todo" }, "Nothing yet. Drive a start: it is kept here, and nowhere else."),
      );
    }
    this.page.replaceChildren(
      el("h2", {}, "History"),
      cards(figures),
      el("div", { class: "pair" }, distribution(figures), trend(figures)),
      thumb(figures),
      exports(),
      this.#table(rows),
    );
  }

  #table(rows) {
    const body = el("tbody");
    for (const row of [...rows].reverse()) {
      const open = el("button", { type: "button" }, `Start ${row.id}`);
      open.addEventListener("click", () => this.open(row.id));
      const late = row.margin_us === null ? "\u2013" : `${signed(row.margin_us)} s`;
      const cells = [
        open,
        new Date(row.at_ms).toLocaleString(),
        MODES[row.mode] ?? row.mode,
        row.call ?? "\u2013",
        late,
        row.lost_m === null ? "\u2013" : `${row.lost_m.toFixed(0)} m`,
        row.reactions_us.map((us) => (us / 1e6).toFixed(2)).join(", ") || "\u2013",
      ];
      body.append(el("tr", {}, ...cells.map((cell, k) => el("td", k > 0 && k < 4 ? { class: "words" } : {}, cell))));
    }
    const heads = ["Start", "When", "Mode", "Call", "Margin", "Lost", "Presses, s"];
    const head = el(
      "tr",
      {},
      ...heads.map((name, k) => el("th", { scope: "col", ...(k > 0 && k < 4 ? { class: "words" } : {}) }, name)),
    );
    return el(
      "table",
      {},
      el("caption", { class: "unseen" }, "Every start, the newest first"),
      el("thead", {}, head),
      body,
    );
  }
}

function cards(figures) {
  const share = figures.starts ? Math.round((100 * figures.early) / figures.starts) : 0;
  const late = (us) => (us === null ? "\u2013" : `${signed(us)} s`);
  const list = el("ul", { class: "cards" });
  for (const [figure, words] of [
    [String(figures.starts), "starts over the line"],
    [`${share} %`, `early: ${figures.early} of ${figures.starts}`],
    [late(figures.median_late_us), "half of your legal starts are better than this"],
    [late(figures.nine_of_ten_us), "nine of ten are better than this"],
  ])
    list.append(el("li", {}, el("b", {}, figure), el("small", {}, words)));
  return list;
}

/** Bars of 0.1 s; the early ones are hatched. */
function distribution({ bars }) {
  const most = Math.max(1, ...bars.map(([, count]) => count));
  const wide = (WIDE - 40) / bars.length;
  const svg = picture("How late your starts were, in bars of a tenth of a second. Hatched bars are early.");
  svg.append(
    draw(
      "defs",
      {},
      draw(
        "pattern",
        { id: "hatch", width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
        draw("line", { x1: 0, y1: 0, x2: 0, y2: 6, stroke: "var(--orange)", "stroke-width": 3 }),
      ),
    ),
  );
  bars.forEach(([from, count], k) => {
    const high = (count / most) * (FLOOR - 40);
    svg.append(
      draw("rect", {
        class: from < 0 ? "bar-early" : "bar-late",
        x: 20 + k * wide + 1,
        y: FLOOR - high,
        width: wide - 2,
        height: high,
      }),
    );
    if (from % 500 === 0) svg.append(text(20 + k * wide, FLOOR + 18, `${from / 1e3}`, "middle"));
  });
  const zero = 20 + bars.findIndex(([from]) => from === 0) * wide;
  svg.append(draw("line", { class: "zero", x1: zero, x2: zero, y1: 26, y2: FLOOR + 4 }));
  svg.append(text(20, 18, "Margin, s (hatched: early)", "start"));
  return svg;
}

/** The median margin of the last ten starts, and dots for the share early. */
function trend({ trend: points }) {
  const svg = picture("Trend: the median margin of your last ten starts after each start.");
  svg.append(text(20, 18, "Median margin of the last ten, s", "start"));
  if (points.length < 2) {
    svg.append(text(WIDE / 2, HIGH / 2, "From the eleventh start on.", "middle"));
    return svg;
  }
  const margins = points.map(([, us]) => us / 1e6);
  const [least, most] = [Math.min(0, ...margins), Math.max(0.5, ...margins)];
  const x = (k) => 50 + (k / (points.length - 1)) * (WIDE - 70);
  const y = (s) => 30 + ((most - s) / (most - least)) * (FLOOR - 30);
  for (const s of [0, most]) {
    svg.append(
      draw("line", { class: s === 0 ? "zero" : "grid", x1: 50, x2: WIDE - 20, y1: y(s), y2: y(s) }),
      text(44, y(s) + 4, s.toFixed(1), "end"),
    );
  }
  svg.append(draw("polyline", { class: "foretold", points: margins.map((s, k) => `${x(k)},${y(s)}`).join(" ") }));
  points.forEach(
    ([, , early], k) =>
      early > 0 && svg.append(draw("circle", { class: "bar-early", cx: x(k), cy: y(margins[k]), r: 3 + 6 * early })),
  );
  svg.append(
    text(50, HIGH - 8, `start ${points[0][0]}`, "start"),
    text(WIDE - 20, HIGH - 8, `start ${points.at(-1)[0]}`, "end"),
  );
  return svg;
}

function picture(label) {
  return draw("svg", { class: "chart", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": label });
}

function thumb({ thumb: found }) {
  if (!found)
    return el("p", {}, "After six presses at a gun your reaction time stands here, as a setting for your board.");
  return el(
    "section",
    { class: "thumb" },
    el("h3", {}, `Your thumb: ${found.mean_s.toFixed(3)} s late on average, spread ${found.sd_s.toFixed(3)} s`),
    el(
      "p",
      {},
      "A proposal for the settings of your board. Screen and keyboard are in it, and a desk is no boat: check it on the water before you rely on it.",
    ),
    el("pre", { tabindex: "0" }, found.proposal),
  );
}

function exports() {
  return el(
    "p",
    { class: "take" },
    "Take the history with you: ",
    el("a", { href: "/history.csv", download: "" }, "CSV"),
    el("a", { href: "/history.json", download: "" }, "JSON"),
    el("small", {}, "It is on this machine only."),
  );
}
