// The page as a whole: one start after the other, and the pages beside it. Knows every other module; they know not it.

import { Coach } from "./coach.js";
import { CockpitView } from "./cockpit.js";
import { CourseView } from "./course.js";
import { DashView, forgetColours } from "./dash.js";
import { Hands } from "./hands.js";
import { History } from "./history.js";
import { Link } from "./link.js";
import { Motion } from "./motion.js";
import { Sound } from "./sound.js";
import { clock, signed } from "./words.js";

const $ = (id) => document.getElementById(id);
const PAGES = ["drive", "coach", "history"];

const motion = new Motion();
const sound = new Sound();
const course = new CourseView($("course"));
const cockpit = new CockpitView($("cockpit"));
const dash = new DashView(
  $("screen"),
  { warning: $("lamp-warning"), caution: $("lamp-caution") },
  $("said"),
  $("stopwatch"),
);
const link = new Link($("link"));
const coach = new Coach($("coach"), () => begin());
const history = new History($("history"), (id) => open(id));
const hands = new Hands(
  link,
  {
    throttle: $("throttle"),
    helm: $("helm"),
    throttleShown: $("throttle-shown"),
    helmShown: $("helm-shown"),
    gun: $("gun"),
    drives: () => !$("drive").hidden,
  },
  (id) => figures.press(id),
);

let scene = null;
let under = false;
/** The dock's switches, in their order on the page. */
const SWITCHES = [...document.querySelectorAll("#dock input")];

// Frames a second, and from a press to the dash's answer: shown when asked for, and there for tests to read.
const figures = {
  frames: [],
  pressed: new Map(),
  took: [],
  press(id) {
    this.pressed.set(id, performance.now());
  },
  /** The state that answers a press will be in the next picture. */
  answered(id) {
    const at = this.pressed.get(id);
    if (at === undefined) return;
    this.pressed.delete(id);
    requestAnimationFrame(() => {
      this.took.push(performance.now() - at);
      if (this.took.length > 20) this.took.shift();
    });
  },
  frame(now) {
    this.frames.push(now);
    while (this.frames[0] < now - 1_000) this.frames.shift();
    if (!$("figures").hidden) $("figures").textContent = this.text();
  },
  text() {
    const mean = this.took.reduce((sum, ms) => sum + ms, 0) / Math.max(1, this.took.length);
    const most = Math.max(0, ...this.took);
    const took = this.took.length
      ? `${mean.toFixed(1)} ms on average, ${most.toFixed(1)} ms at most`
      : "press a button";
    return `${this.frames.length} frames a second. From a press to the dash: ${took}.`;
  },
};
globalThis.practice = { figures, state: () => motion.last, scene: () => scene, kept: null };

link
  .on("scene", (says) => {
    scene = says;
    under = true;
    motion.clear();
    course.begin(scene);
    cockpit.begin(scene);
    dash.cover();
    awaited = true;
    docked(scene.plan.mode === "dock");
    for (const box of SWITCHES) box.checked = false;
    buttons();
    hint(
      scene.plan.mode === "dock"
        ? "External power, igniter, starter low. At 13 % N1: fuel lever and start fuel. When it burns: starter high. At 48 %: all off but the lever. Too hot: C cuts the fuel."
        : "Press the start button at the gun's smoke.",
    );
    show("drive");
    $("cockpit").focus({ preventScroll: true });
  })
  .on("state", (state) => {
    if (awaited) hands.begin(state.throttle);
    awaited = false;
    motion.add(state);
    dash.state(state, scene?.plan.mode);
    sound.state(state);
    figures.answered(state.pressed);
    $("gauges").textContent = `EGT ${state.egt_c} \u00B0C   N1 ${(state.n1_pm / 10).toFixed(0)} %`;
    $("pause").setAttribute("aria-pressed", String(state.paused));
    $("board").hidden = state.board === undefined;
    if (state.board !== undefined && $("board").textContent !== state.board) $("board").textContent = state.board;
  })
  .on("picture", (bytes) => dash.picture(bytes))
  .on("gun", ({ before_s: before, delay_us: delay }) => {
    cockpit.fire();
    course.fire();
    sound.gun(delay);
    hint(before > 0 ? `Gun: ${before} s to zero. Press now.` : "Start gun.");
  })
  .on("decided", ({ line }) => {
    if (line.kind === "zero" && line.armed)
      hint("The dash has your press. Mill, then go so that you cross flat out at zero.");
    if (line.kind === "call") {
      const what = { early: "Early", legal: "Legal", "too-close": "Too close to call" }[line.call];
      hint(`${what}: ${signed(line.margin_us)} s. The coach is coming.`);
    }
  })
  .on("kept", ({ id }) => {
    practice.kept = id;
    over();
    if (!begins) open(id);
  })
  .on("notice", ({ about, text }) => {
    if (about === "dropped") over();
    if (about !== "dropped" || !begins) notice(text);
  })
  .on("open", () => notice(""))
  .on("lost", (reason) => {
    if (under) over();
    const why = reason ? ` (${reason})` : "";
    notice(
      `The server does not answer${why}. Your history is safe on this machine; a start that was under way is not in it. ` +
        "Begin gunline practice again, and this page comes back by itself.",
    );
  });

/** The first state of a start is waited for: it says where the throttle is. */
let awaited = false;
/** A start was asked for while another one was under way. */
let begins = false;

function begin() {
  sound.wake();
  const form = new FormData($("setup"));
  begins = under;
  const said = link.say("begin", {
    length: form.get("length"),
    mode: form.get("mode"),
    steered: form.get("steered") === "on",
    seed: seeded(),
  });
  if (!said) notice("Not connected: is gunline practice still running?");
}

/** A seed that the address asks for, as tests do: "?seed=7". */
function seeded() {
  const seed = new URLSearchParams(location.search).get("seed");
  return seed === null ? null : Number(seed);
}

function over() {
  under = false;
  sound.quiet();
  docked(false);
  buttons();
}

function pause(on = !motion.last?.paused) {
  if (under) link.say("pause", { on });
}

function buttons() {
  $("pause").disabled = $("end").disabled = !under;
}

function notice(text) {
  $("notice").hidden = text === "";
  $("notice").textContent = text;
}

function hint(text) {
  $("todo").textContent = text;
}

function show(page) {
  for (const name of PAGES) {
    $(name).hidden = name !== page;
    const button = document.querySelector(`nav [data-page="${name}"]`);
    if (name === page) button.setAttribute("aria-current", "page");
    else button.removeAttribute("aria-current");
  }
  if (page !== "drive") pause(true);
  if (page === "history") history.load();
}

async function open(id) {
  const where = scene ?? (await (await fetch("/scene")).json());
  if (await coach.load(id, where)) {
    begins = false;
    document.querySelector('nav [data-page="coach"]').disabled = false;
    show("coach");
    coach.drawn();
  }
}

$("setup").addEventListener("submit", (event) => {
  event.preventDefault();
  begin();
});
$("pause").addEventListener("click", () => pause());
$("end").addEventListener("click", () => link.say("end"));
$("mute").addEventListener("click", mute);
$("light").addEventListener("click", light);
$("keys-open").addEventListener("click", () => $("keys").showModal());
for (const button of document.querySelectorAll("nav [data-page]")) {
  button.addEventListener("click", () => show(button.dataset.page));
}
for (const box of SWITCHES) {
  box.addEventListener("change", () => {
    if (box.id === "lever") hands.lever(box.checked);
    else hands.press(box.dataset.switch, box.checked);
  });
}
$("cut").addEventListener("click", cut);
document.addEventListener("visibilitychange", () => document.hidden && pause(true));
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", forgetColours);

const KEYS = {
  KeyR: begin,
  KeyP: () => pause(),
  KeyM: mute,
  KeyT: light,
  KeyH: () => $("keys").showModal(),
  KeyL: shown,
  KeyC: cut,
};
for (const [k, box] of SWITCHES.entries()) KEYS[`Digit${k + 1}`] = () => !$("dock").hidden && box.click();
addEventListener("keydown", ({ code, repeat, target, ctrlKey, altKey, metaKey }) => {
  if (repeat || ctrlKey || altKey || metaKey || document.querySelector("dialog[open]") || target.matches?.("select"))
    return;
  KEYS[code]?.();
});

/** The dock's switches are there to be thrown. */
function docked(on) {
  $("dock").hidden = !on;
  $("drive").classList.toggle("docked", on);
}

/** Both fuels off, and the igniter; the starter goes on turning and cools the engine. */
function cut() {
  if ($("dock").hidden) return;
  for (const box of SWITCHES) {
    if (box.checked && (box.id === "lever" || ["start-fuel", "igniter"].includes(box.dataset.switch))) box.click();
  }
}

function shown() {
  $("figures").hidden = !$("figures").hidden;
}

function mute() {
  sound.mute(!sound.muted);
  $("mute").textContent = sound.muted ? "Sound off" : "Sound on";
  $("mute").setAttribute("aria-pressed", String(sound.muted));
}

function light() {
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  const now = document.documentElement.dataset.light ?? (dark ? "dark" : "light");
  lit(now === "dark" ? "light" : "dark");
}

function lit(to) {
  document.documentElement.dataset.light = to;
  localStorage.setItem("light", to);
  forgetColours();
  coach.drawn();
}

const kept = localStorage.getItem("light");
if (kept) lit(kept);
if (!localStorage.getItem("cautions-read")) {
  $("cautions").showModal();
  $("cautions").addEventListener("close", () => localStorage.setItem("cautions-read", "yes"), { once: true });
}

let before = performance.now();
function frame(now) {
  const dt = Math.min(0.1, (now - before) / 1e3);
  before = now;
  figures.frame(now);
  if (!$("drive").hidden) {
    if (under) hands.frame(dt);
    const things = motion.now();
    cockpit.draw(things);
    course.draw(things);
    document.title = things && under ? `${clock(things.t_us, 0)} Gunline practice` : "Gunline practice";
  }
  requestAnimationFrame(frame);
}
requestAnimationFrame(frame);
