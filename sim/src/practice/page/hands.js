// Throttle and helm from keyboard, gamepad, and the two sliders that touch moves; and the buttons. Whoever moved last
// counts. What comes of it goes to the server as soon as it changes, at most once a frame.

/** Keys held: throttle opens and closes at this rate, the whole way in so many seconds. */
const THROTTLE_S = 0.9;
/** The helm follows a key within this time, and comes back as fast. */
const HELM_S = 0.18;
const FULL = 1000;
/** A stick or trigger nearer to rest than this rests. */
const DEAD = 0.08;

const OPENS = ["ArrowUp", "KeyW"];
const CLOSES = ["ArrowDown", "KeyS"];
const LEFT = ["ArrowLeft", "KeyA"];
const RIGHT = ["ArrowRight", "KeyD"];
const LINES = { Space: "button", KeyQ: "acknowledge", KeyE: "page" };

export class Hands {
  throttle = 0;
  helm = 0;
  #held = new Set();
  #sent = "";
  #pad = { buttons: new Map(), throttle: false, helm: false };
  #presses = 0;

  /**
   * @param link where it goes
   * @param page the elements: throttle, helm, their outputs, and the gun button
   * @param pressed called with the number of each press
   */
  constructor(link, page, pressed) {
    Object.assign(this, { link, page, pressed });
    addEventListener("keydown", (event) => this.#key(event, true));
    addEventListener("keyup", (event) => this.#key(event, false));
    addEventListener("blur", () => this.#release());
    page.throttle.addEventListener("input", () => {
      this.throttle = Number(page.throttle.value);
    });
    page.helm.addEventListener("input", () => {
      this.helm = Number(page.helm.value);
    });
    for (const end of ["pointerup", "pointercancel", "change"]) {
      page.helm.addEventListener(end, () => {
        this.helm = 0;
        page.helm.value = "0";
      });
    }
    for (const button of document.querySelectorAll("[data-line]")) this.#touch(button);
  }

  /** A start begins with the throttle where the boat has it. */
  begin(throttle) {
    this.throttle = throttle;
    this.helm = 0;
    this.#sent = "";
  }

  /** Once a frame: `dt` seconds have gone by. */
  frame(dt) {
    this.#keys(dt);
    this.#gamepad();
    this.#show();
    const hands = { throttle: Math.round(this.throttle), helm: Math.round(this.helm) };
    const text = `${hands.throttle} ${hands.helm}`;
    if (text !== this.#sent && this.link.say("hands", hands)) this.#sent = text;
  }

  /** Opens or shuts the fuel lever. */
  lever(open) {
    this.#presses += 1;
    if (this.link.say("lever", { open, id: this.#presses })) this.pressed(this.#presses);
  }

  /** Presses or releases a button of the dash, or a switch. */
  press(line, down) {
    this.#presses += 1;
    if (!this.link.say("button", { line, down, id: this.#presses })) return;
    if (down) this.pressed(this.#presses);
    if (line === "button") this.page.gun.classList.toggle("down", down);
  }

  #keys(dt) {
    const any = (codes) => codes.some((code) => this.#held.has(code));
    const lever = (any(OPENS) ? 1 : 0) - (any(CLOSES) ? 1 : 0);
    this.throttle = clamp(this.throttle + (lever * FULL * dt) / THROTTLE_S, 0, FULL);
    const wanted = ((any(RIGHT) ? 1 : 0) - (any(LEFT) ? 1 : 0)) * FULL;
    const byKey = any(LEFT) || any(RIGHT);
    if (byKey || this.#came) {
      const step = (FULL * dt) / HELM_S;
      this.helm += clamp(wanted - this.helm, -step, step);
      this.#came = byKey || this.helm !== 0;
    }
  }

  /** True while the helm is moved by keys or comes back from it. */
  #came = false;

  #key(event, down) {
    if (document.querySelector("dialog[open]") || event.ctrlKey || event.altKey || event.metaKey) return;
    const { code, target } = event;
    if (down && !this.page.drives()) return;
    // A control that has the focus keeps the keys that are its own.
    const own = target.closest?.("button, select, input, a, summary");
    const arrows = code.startsWith("Arrow") && target.matches?.("select, input");
    if ((own && (code === "Space" || code === "Enter")) || arrows || (own?.matches("select") && down)) return;
    if (LINES[code]) {
      event.preventDefault();
      if (!event.repeat) this.press(LINES[code], down);
    } else if ([...OPENS, ...CLOSES, ...LEFT, ...RIGHT].includes(code)) {
      event.preventDefault();
      if (down) this.#held.add(code);
      else this.#held.delete(code);
    } else if (down && (code === "KeyX" || code === "KeyZ")) {
      this.throttle = code === "KeyX" ? FULL : 0;
    }
  }

  #touch(button) {
    const { line } = button.dataset;
    const down = (event) => {
      button.setPointerCapture?.(event.pointerId);
      this.press(line, true);
    };
    button.addEventListener("pointerdown", down);
    for (const end of ["pointerup", "pointercancel"]) button.addEventListener(end, () => this.press(line, false));
    // By keyboard: the whole press at once.
    button.addEventListener("click", (event) => {
      if (event.detail !== 0) return;
      this.press(line, true);
      setTimeout(() => this.press(line, false), 120);
    });
  }

  #release() {
    this.#held.clear();
  }

  #gamepad() {
    const pad = navigator.getGamepads?.().find((found) => found?.mapping === "standard");
    if (!pad) return;
    const trigger = pad.buttons[7].value;
    const stick = pad.axes[0];
    if (trigger > DEAD || this.#pad.throttle) this.throttle = trigger * FULL;
    this.#pad.throttle = trigger > DEAD;
    if (Math.abs(stick) > DEAD || this.#pad.helm) this.helm = Math.abs(stick) > DEAD ? stick * FULL : 0;
    this.#pad.helm = Math.abs(stick) > DEAD;
    for (const [index, line] of [
      [0, "button"],
      [1, "acknowledge"],
      [3, "page"],
    ]) {
      const down = pad.buttons[index].pressed;
      if (down !== (this.#pad.buttons.get(index) ?? false)) this.press(line, down);
      this.#pad.buttons.set(index, down);
    }
  }

  #show() {
    const { page } = this;
    const helm = Math.round(this.helm / 10);
    page.throttleShown.textContent = `${Math.round(this.throttle / 10)} %`;
    page.helmShown.textContent = helm === 0 ? "straight" : `${Math.abs(helm)} % ${helm < 0 ? "left" : "right"}`;
    if (document.activeElement !== page.throttle) page.throttle.value = String(this.throttle);
    if (document.activeElement !== page.helm) page.helm.value = String(this.helm);
  }
}

const clamp = (value, least, most) => Math.min(most, Math.max(least, value));
