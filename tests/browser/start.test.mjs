// A whole start, driven with keys in a real browser, ends in the call that the same inputs give in `gunline run`.

import assert from "node:assert/strict";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { serious } from "./accessible.mjs";
import { drive } from "./driver.mjs";
import { GUNLINE, PICTURES, Server, browser, open, run } from "./serve.mjs";
import { execFileSync } from "node:child_process";

let server, chrome, page, id, review;
const folder = mkdtempSync(join(tmpdir(), "gunline-start-"));

before(
  async () => {
    server = await Server.begin();
    chrome = await browser();
    page = await open(chrome, server, { query: "?seed=7" });
    await page.locator('input[name="length"][value="30"]').check();
    let pictured = false;
    id = await drive(page, async (t) => {
      if (pictured || t < -9) return;
      pictured = true;
      await page.keyboard.press("l");
      for (let k = 0; k < 12; k++) {
        await page.keyboard.press("q");
        await page.waitForTimeout(30);
      }
      await page.screenshot({ path: join(PICTURES, "driving-1366x768.png") });
    });
    review = await (await page.request.get(`${server.origin}/start/${id}`)).json();
  },
  { timeout: 120_000 },
);

after(async () => {
  await chrome?.close();
  await server?.clear();
  rmSync(folder, { recursive: true, force: true });
});

test("the files that the page gives away replay to the same call and the same digest", async () => {
  for (const name of ["heat.toml", "settings.toml", "hands.csv", "start.journal"]) {
    const answer = await page.request.get(`${server.origin}/start/${id}/${name}`);
    writeFileSync(join(folder, name), await answer.body());
  }
  const lines = run(join(folder, "heat.toml"));
  const call = lines.findLast((line) => line.kind === "call");
  assert.deepEqual({ call: call.call, margin_us: call.margin_us, sigma_us: call.sigma_us }, review.call);
  assert.equal(lines.at(-1).digest, review.digest);
  assert.ok(review.replays);
  assert.equal(review.trace.t_ms.length, review.trace.margin_ms.length);
});

test("the journal of the drive is, byte for byte, the one that the replay records", () => {
  execFileSync(GUNLINE, ["run", join(folder, "heat.toml"), "--journal", join(folder, "again.journal")], {
    stdio: "ignore",
  });
  assert.deepEqual(readFileSync(join(folder, "again.journal")), readFileSync(join(folder, "start.journal")));
});

test("an official's check takes the journal: whole, untouched, and it replays to its own decisions", () => {
  // Anything but exit status 0 throws.
  const said = execFileSync(GUNLINE, ["judge", join(folder, "start.journal")], { encoding: "utf8", stdio: "pipe" });
  assert.match(said, /\S/);
});

test("saved as files it stands in a folder of its own, and the page says the command", async () => {
  await page.getByRole("button", { name: "Save as files" }).click();
  const said = page.locator(".take code", { hasText: /^gunline run .*heat\.toml$/ });
  await said.waitFor();
  const command = await said.textContent();
  assert.equal(run(command.replace("gunline run ", "")).at(-1).digest, review.digest);
});

test("the coach says what came of it, and its slider can be moved by keys", async () => {
  await page.locator("#coach h2").waitFor();
  const verdict = await page.locator("#coach h2").textContent();
  assert.match(verdict, review.margin_us < 0 ? /Early/ : /Legal/);
  const slider = page.locator("#scrub");
  await slider.focus();
  const told = await page.locator("#moment").textContent();
  for (let k = 0; k < 20; k++) await page.keyboard.press("ArrowLeft");
  assert.notEqual(await page.locator("#moment").textContent(), told);
  assert.deepEqual(await serious(page), []);
  await page.screenshot({ path: join(PICTURES, "coach-1366x768.png"), fullPage: true });
});

test("the history has it, and exports it", async () => {
  await page.getByRole("button", { name: "History" }).click();
  await page.getByRole("button", { name: `Start ${id}` }).waitFor();
  assert.deepEqual(await serious(page), []);
  await page.screenshot({ path: join(PICTURES, "history-1366x768.png") });
  const rows = await (await page.request.get(`${server.origin}/history.json`)).json();
  assert.equal(rows[0].digest, review.digest);
  const csv = await (await page.request.get(`${server.origin}/history.csv`)).text();
  assert.equal(csv.trim().split("\r\n").length, 2);
});

test("a page that has driven nothing yet shows an old start from the history, with its course", async () => {
  const fresh = await open(chrome, server);
  await fresh.getByRole("button", { name: "History" }).click();
  await fresh.getByRole("button", { name: `Start ${id}` }).click();
  await fresh.locator("#coach h2").waitFor();
  const painted = await fresh.locator("#coach canvas").evaluate((canvas) => {
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    return new Set(new Uint32Array(data.buffer)).size;
  });
  assert.ok(painted > 5, `${painted} colours`);
  assert.deepEqual(fresh.complaints, []);
  await fresh.context().close();
});

test("the page complained of nothing, asked nobody else, and says how quick it was", async () => {
  assert.deepEqual(page.complaints, []);
  const { took, frames } = await page.evaluate(() => ({
    took: practice.figures.took,
    frames: practice.figures.frames.length,
  }));
  assert.ok(took.length > 0, "presses were answered");
  const mean = took.reduce((sum, ms) => sum + ms, 0) / took.length;
  console.log(
    `from a press to the dash: ${mean.toFixed(1)} ms on average, ${Math.max(...took).toFixed(1)} at most, of ${took.length}`,
  );
  console.log(`frames in the last second: ${frames}`);
});
