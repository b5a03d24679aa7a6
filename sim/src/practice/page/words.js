// Figures in words. Numbers in, text out; nothing here knows the page.

/** Seconds with a sign and two decimals: "+0.21". */
export function signed(us) {
  const s = us / 1e6;
  return `${s < 0 ? "\u2212" : "+"}${Math.abs(s).toFixed(2)}`;
}

/** Race time as a clock, rounded down so that zero is never shown before it has come: "-0:07.3". */
export function clock(us, decimals = 1) {
  const step = 10 ** (6 - decimals);
  const units = Math.floor(us / step) * step;
  const size = Math.abs(units) / 1e6;
  const minutes = Math.floor(size / 60);
  const seconds = (size - 60 * minutes).toFixed(decimals).padStart(decimals ? 3 + decimals : 2, "0");
  return `${units < 0 ? "\u2212" : ""}${minutes}:${seconds}`;
}

/** The verdict on a start. */
export function verdict(review) {
  if (review.margin_us === null) return ["No start", "The line was not crossed."];
  const by = Math.abs(review.margin_us / 1e6).toFixed(2);
  if (review.margin_us < 0) return ["\u25C0 Early", `You jumped the gun by ${by} s.`];
  if (review.margin_us < 300_000) return ["\u25B6 Legal", `${by} s after zero. Well judged.`];
  return ["\u25B6 Legal", `${by} s after zero.`];
}

/** What the dash called. */
export function called(call) {
  if (!call) return "no call: the dash had no zero";
  const what = { early: "early", legal: "legal", "too-close": "too close to call" }[call.call];
  return `${what}, ${signed(call.margin_us)} \u00B1 ${(call.sigma_us / 1e6).toFixed(2)} s`;
}

/** Modes by their names. */
export const MODES = {
  dash: "dash",
  stopwatch: "stopwatch",
  hidden: "covered clock",
  faults: "faults",
  dock: "from the dock",
};

/** One sentence of advice from a review: the one that would have gained the most. */
export function advice(review) {
  if (review.margin_us === null) return "Mill nearer to the line, and leave the last turn sooner.";
  const { went_us: went, best_us: best, lifts, lost } = review;
  if (went === null) return "You never opened the throttle fully. Cross the line flat out.";
  const late = best === null ? null : (went - best) / 1e6;
  if (review.margin_us < 0) {
    return late !== null && late < 0
      ? `You went ${(-late).toFixed(1)} s too soon. The first moment that was not early: ${clock(best)}.`
      : "You were too close when you went. Waste more time in the turn before.";
  }
  if (lifts.length > 0)
    return `You eased ${lifts.length === 1 ? "once" : `${lifts.length} times`} on the way. Wait longer, then go without easing.`;
  if (lost && lost.by_speed_m > lost.by_time_m)
    return "You crossed slowly. Go from farther off, so that the boat is at speed on the line.";
  if (late !== null && late > 0.15) return `You could have gone ${late.toFixed(1)} s sooner, at ${clock(best)}.`;
  return "Do it again the same way.";
}

/** An element with attributes and children. */
export function el(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...children);
  return node;
}
