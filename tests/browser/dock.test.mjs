// A start of the engine at the dock, by the page's switches: fuel let in too soon makes it hot, and cutting it stops that.

import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { serious } from "./accessible.mjs";
import { PICTURES, Server, browser, open } from "./serve.mjs";

let server, chrome, page;
before(async () => {
  server = await Server.begin();
  chrome = await browser();
  page = await open(chrome, server, { query: "?seed=7" });
});
after(async () => {
  await chrome?.close();
  await server?.clear();
});

test("the keys throw the switches, and the engine obeys them", { timeout: 120_000 }, async () => {
  await page.locator('input[name="length"][value="30"]').check();
  await page.locator('select[name="mode"]').selectOption("dock");
  await page.locator("#begin").click();
  await page.waitForFunction(() => practice.state());
  assert.equal(await page.locator("#dock input").count(), 6);
  // External power, starter low, start fuel and the lever at once, and no spark yet: the burner gets wet.
  for (const key of ["1", "3", "5", "6"]) await page.keyboard.press(key);
  await page.waitForFunction(() => practice.state().open && practice.state().n1_pm > 130);
  assert.ok((await page.evaluate(() => practice.state().egt_c)) < 60, "nothing burns without a spark");
  await page.waitForTimeout(2_000);
  await page.keyboard.press("2");
  await page.waitForFunction(() => practice.state().egt_c > 850);
  await page.screenshot({ path: join(PICTURES, "dock-hot-1366x768.png") });
  const alert = await page.evaluate(() => practice.state().dash?.alert);
  assert.ok(alert, "the dash warns");
  assert.deepEqual(await serious(page), []);
});

test("cutting the fuel takes the fire away, and the starter cools the engine", { timeout: 60_000 }, async () => {
  await page.keyboard.press("c");
  await page.waitForFunction(() => !practice.state().open);
  assert.equal(await page.locator('[data-switch="start-fuel"]').isChecked(), false);
  assert.equal(await page.locator('[data-switch="starter-low"]').isChecked(), true);
  await page.waitForFunction(() => practice.state().egt_c < 200);
  assert.ok((await page.evaluate(() => practice.state().n1_pm)) > 100, "it is turned without fire");
  for (const part of ["#dock", "#todo", "#begin", "#end"]) {
    const box = await page.locator(part).boundingBox();
    assert.ok(box && box.y + box.height <= 768, `${part} is on the screen: ${JSON.stringify(box)}`);
  }
  await page.screenshot({ path: join(PICTURES, "dock-cut-1366x768.png") });
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  assert.ok(wide <= 0, `${wide} pixels too wide`);
  assert.deepEqual(page.complaints, []);
});
