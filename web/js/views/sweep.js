/** A knob that plays itself: there and back over a range, for as long as one listens. */

import { h, uid } from "./dom.js";
import { sweepAt } from "../pure/sweeps.js";

/** @import {Session} from "../bench/session.js" */

/** Steps come this often, ms: the fades of the sound take 20 ms each. */
const EVERY_MS = 50;

/** @param {Session} session @param {string} name */
export function sweepControls(session, name) {
  const { get, set, signal } = session;
  const plan = () => get().sweeps[name] ?? { from: 10, to: 0, seconds: 6 };
  let timer = 0, began = 0;
  /** Where the knob stood in each sound that was swept: two capacitors are compared by switching while it moves. @type {Map<number, number>} */
  let stood = new Map();
  const stop = () => { clearInterval(timer); timer = 0; };
  const start = () => {
    began = performance.now();
    stood = new Map();
    set({ sweeping: name });
    stop();
    timer = window.setInterval(() => {
      if (get().sweeping !== name) return stop();
      if (!stood.has(get().current)) stood.set(get().current, session.slot().knobs[name] ?? 10);
      session.setKnob(name, sweepAt(plan(), (performance.now() - began) / 1000));
    }, EVERY_MS);
  };
  const toggle = () => {
    if (get().sweeping !== name) return start();
    set({ sweeping: "" });
    session.putBack(name, stood);
  };
  const settings = h("div", { class: "sweep", id: uid("sweep"), hidden: true },
    ...number("from", 0, 10, 0.5), ...number("to", 0, 10, 0.5), ...number("seconds", 1, 60, 1));
  const button = h("button", { type: "button", onclick: toggle, "aria-controls": settings.id }, "Play the sweep");

  /** @param {"from" | "to" | "seconds"} key @param {number} min @param {number} max @param {number} step */
  function number(key, min, max, step) {
    const input = h("input", { type: "number", min, max, step, value: String(plan()[key]), onchange: () => {
      const value = Math.min(max, Math.max(min, Number(input.value) || min));
      input.value = String(value);
      set({ sweeps: { ...get().sweeps, [name]: { ...plan(), [key]: value } } });
    } });
    return [h("label", { class: "field" }, h("span", { class: "soft" }, key), input)];
  }
  signal.addEventListener("abort", stop);
  return {
    button, settings,
    update() {
      const on = get().sweeping === name;
      button.setAttribute("aria-pressed", String(on));
      button.textContent = on ? "Stop the sweep" : "Play the sweep";
      settings.hidden = !on;
    },
  };
}
