// The program under test and the browser: starts both, knows where they are, and ends both.

import { spawn, execFileSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { once } from "node:events";
import { chromium } from "playwright-core";

const ROOT = resolve(import.meta.dirname, "../..");
/** Pictures of the page are kept here, to be looked at. */
export const PICTURES = resolve(process.env.GUNLINE_PICTURES ?? join(ROOT, "target/browser"));
mkdirSync(PICTURES, { recursive: true });

/** The program `gunline`. */
export const GUNLINE = process.env.GUNLINE ?? join(ROOT, "target/debug/gunline");

/** Debian's Chromium, or the one that is named. */
const CHROMIUM = process.env.CHROMIUM ?? "/usr/bin/chromium";

/** A server with a history of its own. */
export class Server {
  static async begin(words = [], folder = mkdtempSync(join(tmpdir(), "gunline-practice-"))) {
    if (!existsSync(GUNLINE)) throw new Error(`missing: ${GUNLINE}. cargo build -p gunline, or name it: GUNLINE=...`);
    const server = new Server();
    server.folder = folder;
    server.process = spawn(
      GUNLINE,
      ["practice", ...(words.includes("--port") ? [] : ["--port", "0"]), "--data", folder, ...words],
      { stdio: ["ignore", "pipe", "pipe"] },
    );
    server.process.stderr.on("data", (text) => {
      server.said = (server.said ?? "") + text;
    });
    const [first] = await once(server.process.stdout, "data");
    server.address = String(first).match(/http:\S+/)[0];
    server.origin = new URL(server.address).origin;
    return server;
  }

  /** Ends it, politely or not; the folder stays. */
  async end(signal = "SIGTERM") {
    if (this.process.exitCode !== null) return;
    const gone = once(this.process, "exit");
    this.process.kill(signal);
    await gone;
  }

  /** Ends it and throws its history away. */
  async clear() {
    await this.end();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** What `gunline run --json` says of a heat file. */
export function run(heat) {
  const text = execFileSync(GUNLINE, ["run", "--json", heat], { encoding: "utf8", maxBuffer: 1 << 28 });
  return text
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line));
}

/** Chromium without a window and without a network but this machine. */
export async function browser() {
  if (!existsSync(CHROMIUM)) throw new Error(`missing: ${CHROMIUM}. Debian as root: apt-get install chromium`);
  return chromium.launch({
    executablePath: CHROMIUM,
    args: [
      "--no-sandbox",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
      "--autoplay-policy=no-user-gesture-required",
    ],
  });
}

/** A page whose cautions have been read. Everything it complains of is kept. */
export async function open(
  chrome,
  server,
  { size = { width: 1366, height: 768 }, query = "", read = true, ...more } = {},
) {
  const context = await chrome.newContext({ viewport: size, ...more });
  if (read) await context.addInitScript(() => localStorage.setItem("cautions-read", "yes"));
  const page = await context.newPage();
  page.complaints = [];
  page.on("pageerror", (error) => page.complaints.push(String(error)));
  page.on("console", (message) => message.type() === "error" && page.complaints.push(message.text()));
  await page.goto(server.address + query);
  await page.getByText("Connected to this machine").waitFor();
  return page;
}
