// A walk through the page by keyboard alone, in light and dark, at three sizes.

import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { serious } from "./accessible.mjs";
import { PICTURES, Server, browser, open } from "./serve.mjs";

let server, chrome;
before(async () => {
  server = await Server.begin();
  chrome = await browser();
});
after(async () => {
  await chrome?.close();
  await server?.clear();
});

test("the cautions stand on the first screen, once", async () => {
  const page = await open(chrome, server, { read: false });
  const cautions = page.locator("#cautions");
  assert.ok(await cautions.isVisible());
  assert.deepEqual(await serious(page), []);
  await page.screenshot({ path: join(PICTURES, "cautions-1366x768.png") });
  await page.keyboard.press("Enter");
  assert.ok(await cautions.isHidden());
  await page.reload();
  await page.getByText("Connected to this machine").waitFor();
  assert.ok(await cautions.isHidden());
  await page.context().close();
});

test("every control is reached by the tab key, and a start is begun, paused, and left by keys alone", async () => {
  const page = await open(chrome, server);
  const reached = new Set();
  for (let k = 0; k < 40; k++) {
    await page.keyboard.press("Tab");
    reached.add(
      await page.evaluate(() => {
        const at = document.activeElement;
        return at.id || at.name || at.dataset.page || at.dataset.line || at.tagName;
      }),
    );
  }
  for (const control of [
    "drive",
    "history",
    "mute",
    "light",
    "keys-open",
    "cockpit",
    "gun",
    "acknowledge",
    "page",
    "throttle",
    "helm",
    "length",
    "mode",
    "steered",
    "begin",
  ]) {
    assert.ok(reached.has(control), `${control} is not reached: ${[...reached]}`);
  }
  await page.locator('input[name="length"]:checked').focus();
  await page.keyboard.press("ArrowDown");
  assert.equal(await page.locator('input[name="length"]:checked').inputValue(), "30");
  await page.locator("#begin").focus();
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => practice.state());
  assert.equal(await page.evaluate(() => practice.scene().plan.length), "30");
  await page.keyboard.press("p");
  await page.waitForFunction(() => practice.state().paused);
  const stood = await page.evaluate(() => practice.state().t_us);
  await page.waitForTimeout(300);
  assert.equal(await page.evaluate(() => practice.state().t_us), stood, "time stands");
  await page.keyboard.press("p");
  await page.waitForFunction((t) => practice.state().t_us > t, stood);
  await page.keyboard.down("ArrowUp");
  await page.waitForFunction(() => practice.state().throttle > 900);
  await page.keyboard.up("ArrowUp");
  await page.keyboard.down("ArrowLeft");
  await page.waitForFunction(() => practice.state().helm < -900);
  await page.keyboard.up("ArrowLeft");
  await page.waitForFunction(() => practice.state().helm === 0);
  await page.keyboard.press("h");
  assert.ok(await page.locator("#keys").isVisible());
  assert.deepEqual(await serious(page), []);
  await page.keyboard.press("Escape");
  await page.keyboard.press("r");
  await page.waitForFunction((t) => practice.state().t_us < t, stood);
  assert.deepEqual(page.complaints, []);
  await page.context().close();
});

for (const [name, size, colorScheme] of [
  ["1366x768", { width: 1366, height: 768 }, "light"],
  ["1920x1080", { width: 1920, height: 1080 }, "dark"],
  ["820x1180", { width: 820, height: 1180 }, "light"],
]) {
  test(`at ${name}, ${colorScheme}, nothing is cut off and no serious finding of accessibility`, async () => {
    const page = await open(chrome, server, {
      size,
      colorScheme,
      query: "?seed=7",
      reducedMotion: colorScheme === "dark" ? "reduce" : null,
    });
    await page.keyboard.press("r");
    await page.waitForFunction(
      () => practice.state() && practice.state().t_us > practice.scene().begins_us + 1_000_000,
    );
    assert.deepEqual(await serious(page), []);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${wide} pixels too wide`);
    const begin = await page.locator("#begin").boundingBox();
    assert.ok(begin.y + begin.height <= size.height, "the way to begin is on the screen");
    await page.screenshot({ path: join(PICTURES, `walk-${name}-${colorScheme}.png`) });
    await page.context().close();
  });
}

test("touch drives: the sliders and the start button", async () => {
  const page = await open(chrome, server, { size: { width: 1180, height: 820 }, hasTouch: true });
  await page.locator("#begin").tap();
  await page.waitForFunction(() => practice.state());
  const throttle = await page.locator("#throttle").boundingBox();
  await page.touchscreen.tap(throttle.x + throttle.width - 4, throttle.y + throttle.height / 2);
  await page.waitForFunction(() => practice.state().throttle > 900);
  await page.locator("#gun").tap();
  await page.waitForFunction(() => practice.state().pressed > 0);
  assert.deepEqual(page.complaints, []);
  await page.context().close();
});

test("a gamepad drives: trigger, stick and buttons of the standard mapping", async () => {
  const page = await open(chrome, server);
  await page.evaluate(() => {
    const buttons = Array.from({ length: 17 }, () => ({ pressed: false, value: 0 }));
    globalThis.pad = { mapping: "standard", buttons, axes: [0, 0, 0, 0] };
    navigator.getGamepads = () => [globalThis.pad];
  });
  await page.keyboard.press("r");
  await page.waitForFunction(() => practice.state());
  await page.evaluate(() => Object.assign(pad.buttons[7], { pressed: true, value: 0.8 }));
  await page.waitForFunction(() => practice.state().throttle === 800);
  await page.evaluate(() => {
    pad.axes[0] = -0.5;
  });
  await page.waitForFunction(() => practice.state().helm === -500);
  await page.evaluate(() => {
    pad.axes[0] = 0.03;
    pad.buttons[0].pressed = true;
  });
  await page.waitForFunction(() => practice.state().helm === 0 && practice.state().pressed > 0);
  await page.context().close();
});
