/** Knobs as strips of travel, 0 to 10, with the hill of what they change behind them. */

import { hillPath, usedTravel } from "../pure/plot.js";
import { onTravel, showKnob } from "../pure/units.js";
import { evennessInWords, knobInWords, plainName } from "../pure/words.js";
import { fill, h, s, say } from "./dom.js";
import { sweepControls } from "./sweep.js";

/** @import {Session} from "../bench/session.js" */

const WIDE = 300, EDGE = 10, RAIL = 36;
/** @param {number} value */
const place = (value) => EDGE + (value / 10) * (WIDE - 2 * EDGE);

/** @param {Session} session */
export function knobsView(session) {
  const { get, on } = session;
  const knobs = h("div", { class: "knobs" });
  let built = "";
  /** @type {(() => void)[]} */
  let updates = [];
  const build = () => {
    const { check } = get();
    const next = JSON.stringify(check?.knobs.map(({ name }) => name));
    if (!check?.ok || next === built) return;
    built = next;
    updates = [];
    fill(knobs, ...check.knobs.map(({ name }) => {
      const knob = knobView(session, name);
      updates.push(knob.update);
      return knob.element;
    }));
    knobs.hidden = check.knobs.length === 0;
  };
  const update = () => { for (const one of updates) one(); };
  on(["check"], () => { build(); update(); });
  on(["slots", "current", "fans", "sweeping", "fanned"], update);
  build();
  update();
  return knobs;
}

/** @param {Session} session @param {string} name */
function knobView(session, name) {
  const { get, set } = session;
  const value = () => session.slot().knobs[name] ?? 10;
  const about = () => get().check?.knobs.find((knob) => knob.name === name)?.about ?? "";
  const turn = (/** @type {number} */ to) => { if (get().sweeping === name) set({ sweeping: "" }); session.setKnob(name, to); };

  const hill = s("path", { class: "hill", transform: `translate(${EDGE} 2)` });
  const used = s("line", { class: "used", x1: place(0), y1: RAIL, y2: RAIL });
  const handle = h("span", { class: "handle", "aria-hidden": "true" });
  const ticks = Array.from({ length: 21 }, (_, k) => `M${place(k / 2)} ${RAIL - 4}v${k % 2 ? -5 : -9}`).join("");
  const strip = h("div", { class: "strip", role: "slider", tabindex: 0, "aria-label": plainName(name), "aria-valuemin": 0, "aria-valuemax": 10, "data-knob": name },
    s("svg", { viewBox: `0 0 ${WIDE} 52`, preserveAspectRatio: "none", "aria-hidden": "true" }, hill, s("path", { class: "ticks", d: ticks }),
      s("line", { class: "rail", x1: place(0), x2: place(10), y1: RAIL, y2: RAIL }), used), handle);
  const output = h("output", {}), says = h("small", {}), even = h("span", { class: "soft" });
  const fan = h("button", { type: "button", class: "quiet", onclick: () => set({ fanned: get().fanned === name ? "" : name }) }, "Draw the sweep");

  /** @param {PointerEvent} event */
  const valueAt = (event) => {
    const { left, width } = strip.getBoundingClientRect();
    return onTravel(((event.clientX - left) / width * WIDE - EDGE) / (WIDE - 2 * EDGE) * 10);
  };
  strip.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    strip.setPointerCapture(event.pointerId);
    strip.focus({ preventScroll: true });
    turn(valueAt(event));
  });
  strip.addEventListener("pointermove", (event) => { if (strip.hasPointerCapture(event.pointerId)) turn(valueAt(event)); });
  strip.addEventListener("dblclick", () => turn(10));
  strip.addEventListener("wheel", (event) => {
    if (document.activeElement !== strip) return;
    event.preventDefault();
    turn(value() + (event.deltaY < 0 ? 0.1 : -0.1));
  }, { passive: false });
  strip.addEventListener("keydown", (event) => {
    const to = /** @type {Record<string, number>} */ ({ ArrowRight: value() + 0.1, ArrowUp: value() + 0.1, ArrowLeft: value() - 0.1, ArrowDown: value() - 0.1,
      PageUp: value() + 1, PageDown: value() - 1, Home: 0, End: 10 })[event.key];
    if (to === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    turn(to);
  });
  const sweep = sweepControls(session, name);

  function update() {
    const now = value(), known = get().fans[name];
    say(output, showKnob(now));
    say(says, about());
    strip.setAttribute("aria-valuenow", String(now));
    strip.setAttribute("aria-valuetext", knobInWords(name, now));
    used.setAttribute("x2", String(place(now)));
    handle.style.left = `${(place(now) / WIDE) * 100}%`;
    hill.setAttribute("d", known ? hillPath(known.evenness, WIDE - 2 * EDGE, RAIL - 6) : "");
    say(even, known ? evennessInWords(usedTravel(known.evenness), known.evenness.reduce((a, b) => a + b, 0)) : "");
    fan.setAttribute("aria-pressed", String(get().fanned === name));
    sweep.update();
  }
  const element = h("div", { class: "knob" },
    h("div", { class: "knob-head" }, h("b", {}, plainName(name)), output, says), strip,
    h("div", { class: "knob-foot" }, even, fan, sweep.button), sweep.settings);
  return { element, update };
}
