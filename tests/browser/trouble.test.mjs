// What goes wrong between page and server: the server is killed, another page is open, a stranger's page asks.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { createServer } from "node:http";
import { once } from "node:events";
import { after, before, test } from "node:test";

import { GUNLINE, Server, browser, open } from "./serve.mjs";

let chrome;
before(async () => {
  chrome = await browser();
});
after(async () => {
  await chrome?.close();
});

test("two pages drive at once, each its own boat", async () => {
  const server = await Server.begin();
  const pages = [await open(chrome, server, { query: "?seed=1" }), await open(chrome, server, { query: "?seed=2" })];
  for (const page of pages) await page.keyboard.press("r");
  for (const page of pages) await page.waitForFunction(() => practice.state());
  await pages[0].keyboard.press("x");
  await pages[0].waitForFunction(() => practice.state().throttle === 1000);
  assert.notEqual(await pages[1].evaluate(() => practice.state().throttle), 1000);
  for (const page of pages) await page.context().close();
  await server.clear();
});

test("a killed server is told in plain words, and the page comes back with it", async () => {
  const server = await Server.begin();
  const port = new URL(server.origin).port;
  const page = await open(chrome, server);
  await page.keyboard.press("r");
  await page.waitForFunction(() => practice.state());
  await server.end("SIGKILL");
  await page.getByText("The server does not answer").waitFor();
  assert.match(await page.locator("#notice").textContent(), /history is safe/);
  const same = await Server.begin(["--port", port], server.folder);
  await page.getByText("Connected to this machine").waitFor({ timeout: 10_000 });
  assert.ok(await page.locator("#notice").isHidden());
  await page.context().close();
  await same.clear();
});

test("a page of somebody else opens no socket and reads no history", async () => {
  const server = await Server.begin();
  const stranger = createServer((_, answer) =>
    answer.setHeader("content-type", "text/html").end("<p>Somebody else's page"),
  );
  stranger.listen(0, "127.0.0.1");
  await once(stranger, "listening");
  const page = await (await chrome.newContext()).newPage();
  await page.goto(`http://127.0.0.1:${stranger.address().port}/`);
  const got = await page.evaluate(async (origin) => {
    const read = await fetch(`${origin}/history`).then(
      () => "read",
      () => "refused",
    );
    const socket = new WebSocket(`${origin.replace("http", "ws")}/socket`);
    const opened = await new Promise((tell) => {
      socket.onopen = () => tell("opened");
      socket.onerror = () => tell("refused");
    });
    return { read, opened };
  }, server.origin);
  assert.deepEqual(got, { read: "refused", opened: "refused" });
  stranger.close();
  await page.context().close();
  await server.clear();
});

test("beyond this machine a page needs the token of the address", async () => {
  const server = await Server.begin(["--listen", "127.0.0.1", "--token", "invented-token-0001"]);
  const without = await (await fetch(`${server.origin}/`)).status;
  assert.equal(without, 403);
  const page = await open(chrome, server);
  assert.equal(new URL(page.url()).search, "", "the token does not stay in the address");
  await page.context().close();
  await server.clear();
});

test("wrong words are 2, a machine that refuses is 3, and both say why", async () => {
  const server = await Server.begin();
  const taken = new URL(server.origin).port;
  for (const [words, status, why] of [
    [["--settings", "no-such-file.toml"], 2, /no-such-file/],
    [["--token", "invented-token-0001"], 2, /--listen/],
    [["--listen", "127.0.0.1", "--token", "short"], 2, /16 to 64/],
    [["--port", taken, "--data", server.folder], 3, /cannot listen/],
    [["--port", "0", "--data", "/dev/null/history"], 3, /\/dev\/null/],
  ]) {
    const done = spawnSync(GUNLINE, ["practice", ...words], { encoding: "utf8", timeout: 20_000 });
    assert.equal(done.status, status, `${words}: ${done.stderr}`);
    assert.match(done.stderr, why);
  }
  await server.clear();
});
