/** A knob that moves by itself, back and forth over a chosen range, until stopped. */

import { h, say, uid } from "../shared/dom.js";
import { SWEEP_FIELDS, sweepAt, sweepInWords, sweepOf, sweepProblem } from "./sweeps.js";

/** @import {Session} from "../session/session.js" */

/** Interval between steps, ms: a fade of the sound takes 20 ms. */
const EVERY_MS = 50;

/** @param {Session} session @param {string} name */
export function sweepControls(session, name) {
  const { get, set, signal } = session;
  const plan = () => sweepOf(get().sweeps[name]),
    about = uid("sweep-problem");
  let timer = 0,
    began = 0;
  /**
   * The knob's value before the sweep, by slot: switching sounds during a sweep compares two capacitors.
   * @type {Map<number, number>}
   */
  let stood = new Map();
  const stop = () => {
    clearInterval(timer);
    timer = 0;
  };
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
  const problem = h("p", { class: "problem small", role: "alert" });
  const inputs = SWEEP_FIELDS.map(({ key, min, max, step }) => {
    const input = h("input", {
      type: "number",
      min,
      max,
      step,
      value: String(plan()[key]),
      "aria-describedby": about,
      onchange: () => {
        const next = {
          ...plan(),
          ...Object.fromEntries(SWEEP_FIELDS.map((field, k) => [field.key, inputs[k].valueAsNumber])),
        };
        say(problem, sweepProblem(next));
        for (const one of inputs) one.setAttribute("aria-invalid", String(problem.textContent !== ""));
        if (!problem.textContent) set({ sweeps: { ...get().sweeps, [name]: next } });
      },
    });
    return input;
  });
  problem.id = about;
  const settings = h(
    "div",
    { class: "sweep", id: uid("sweep"), hidden: true },
    ...SWEEP_FIELDS.map(({ label }, k) =>
      h("label", { class: "field" }, h("span", { class: "soft" }, label), inputs[k]),
    ),
    problem,
  );
  const button = h("button", { type: "button", class: "small", onclick: toggle }, "Play the sweep");
  const range = h("button", {
    type: "button",
    class: "small",
    "aria-expanded": "false",
    "aria-controls": settings.id,
    onclick: () => {
      settings.hidden = !settings.hidden;
      range.setAttribute("aria-expanded", String(!settings.hidden));
      if (!settings.hidden) inputs[0].focus();
    },
  });
  signal.addEventListener("abort", stop);
  return {
    button,
    range,
    settings,
    update() {
      const on = get().sweeping === name;
      button.setAttribute("aria-pressed", String(on));
      say(button, on ? "Stop the sweep" : "Play the sweep");
      say(range, sweepInWords(plan()));
    },
  };
}
