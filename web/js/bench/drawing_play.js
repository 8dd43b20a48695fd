/** The drawing plays along: its switches flip and its pots turn what is heard, and follow it. */

import { needleTurn } from "../drawing/paint_parts.js";
import { partOf } from "../drawing/grid.js";

/** @import {Board} from "./drawing_board.js" */

/** Units of a knob for a pixel, and for a notch of a wheel. */
const TRAVEL = 0.05;
const NOTCH = 0.5;

/**
 * @param {Board} board
 * @returns {() => void} shows the knobs as they stand
 */
export function playOn(board) {
  const { session, picture, layer, keys, say } = board;

  /** @param {string} name @param {1 | -1} by */
  function flip(name, by) {
    const known = board.known();
    const part = known?.facts.parts.find((one) => one.name === name);
    const now = board.state()?.stands[name];
    if (!part || now === undefined) return;
    const all = part.positions;
    const next = all[(all.indexOf(now) + by + all.length) % all.length];
    if (name === known?.facts.selector) session.setPosition(next);
    else session.setSwitch(name, next);
    say(`${name}: position ${next}.`);
  }

  /** The knob that turns a part, if there is one. @param {string | undefined} name */
  const knobOf = (name) => board.known()?.facts.parts.find((part) => part.name === name)?.knob ?? null;
  /** @param {string} knob */
  const valueOf = (knob) => session.slot().knobs[knob] ?? 10;
  /** @param {string} knob @param {number} value */
  function turn(knob, value) {
    if (session.get().sweeping === knob) session.set({ sweeping: "" });
    session.setKnob(knob, value);
    say(`${knob}: ${valueOf(knob)}.`);
  }
  /** The part under the keys, or the chosen one. */
  const partHere = () => {
    const at = board.at();
    return board.chosen()?.part ?? (at === null ? undefined : partOf(at));
  };

  board.presses.push(({ part, step, lug, grip }, event) => {
    if (!part || step || lug || grip || event.shiftKey) return null;
    const knob = knobOf(part);
    // a finger pans until it has chosen the pot
    if (!knob || (event.pointerType === "touch" && board.chosen()?.part !== part)) return null;
    const [from, y] = [valueOf(knob), event.clientY];
    return {
      move: (now) => turn(knob, from + (y - now.clientY) * TRAVEL),
      drop() {},
      cancel() {},
    };
  });
  board.taps.push(({ step }, event) => {
    if (step) flip(step, event.shiftKey ? -1 : 1);
    return step !== undefined;
  });
  picture.addEventListener(
    "wheel",
    (event) => {
      const chosen = board.chosen()?.part;
      const on = event.target instanceof Element ? event.target.closest("[data-drawn]") : null;
      const knob = on instanceof SVGElement && on.dataset.drawn === chosen ? knobOf(chosen) : null;
      if (!knob || event.ctrlKey) return;
      event.preventDefault();
      event.stopPropagation(); // the frame would zoom
      turn(knob, valueOf(knob) - Math.sign(event.deltaY) * NOTCH);
    },
    { passive: false },
  );

  /** @param {1 | -1} by */
  const position = (by) => {
    const selector = board.known()?.facts.selector;
    if (selector) flip(selector, by);
  };
  /** @param {1 | -1} by */
  const nudge = (by) => {
    const knob = knobOf(partHere());
    if (knob) turn(knob, valueOf(knob) + by);
    else say("No knob here: go to a lug of a pot.");
  };
  Object.assign(keys, {
    "[": () => position(-1),
    "]": () => position(1),
    PageUp: () => nudge(1),
    PageDown: () => nudge(-1),
  });

  return () => {
    const shown = board.shown();
    if (shown) shown.knobs = session.slot().knobs;
    for (const part of board.known()?.facts.parts ?? []) {
      if (!part.knob) continue;
      const needle = layer.querySelector(`[data-drawn="${CSS.escape(part.name)}"] .needle`);
      needle?.setAttribute("transform", needleTurn(valueOf(part.knob)));
    }
  };
}
