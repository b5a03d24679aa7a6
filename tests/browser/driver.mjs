// A driver made of keys: he presses at the gun, wastes time in the last turn, and goes flat out when it ends.

/** He leaves the last turn, 900 m before the line, at this race time, seconds: about flat out to zero from there. */
const LEAVES_S = -12.4;
const TURN_TO_LINE_M = 900;

/** Begins a start by a key and drives it to its end; `looks` is called with race time in seconds now and then. */
export async function drive(page, looks = async () => {}) {
  await page.keyboard.press("r");
  await page.waitForFunction(() => practice.scene() && practice.state() && !practice.state().called);
  const begun = await page.evaluate(() => ((practice.kept = null), practice.scene().begins_us));
  const length = -begun / 1e6 - 12;
  let pressed = false;
  let open = null;
  for (;;) {
    const { kept, state } = await page.evaluate(() => ({ kept: practice.kept, state: practice.state() }));
    if (kept !== null) return kept;
    const t = state.t_us / 1e6;
    // A machine that is busy for long makes a gap, and a gap pauses.
    if (state.paused) await page.keyboard.press("p");
    if (!pressed && t > -length + 0.15) {
      pressed = true;
      await page.keyboard.press("Space", { delay: 100 });
    }
    const way = state.to_line_cm / 100 - TURN_TO_LINE_M;
    const wanted = way / Math.max(0.1, LEAVES_S - t);
    const goes = way <= 0 || state.own[4] / 100 < Math.min(50, Math.max(15, wanted));
    if (goes !== open) await page.keyboard.press((open = goes) ? "x" : "z");
    await looks(t);
    await page.waitForTimeout(80);
  }
}
