/** Soldering on the drawing: a lug is picked up and soldered to the next one, a wire is taken out. */

import { inWords } from "../drawing/paint_wires.js";
import { BUS } from "../drawing/tree.js";
import { s } from "../shared/dom.js";
import { solderChange, unsolderChange } from "./drawing_deeds.js";
import { nearestLug } from "./drawing_hands.js";
import { ARROWS } from "./drawing_keys.js";
import { lugWords } from "./drawing_words.js";

/** @import {Change, Changed} from "../shared/types.js" */
/** @import {Board} from "./drawing_board.js" */

/** @typedef {ReturnType<typeof solderOn>} Soldering */

const EMPTY = "No lug here yet: add a part.";

/**
 * @param {Board} board
 * @param {(change: Change) => Promise<Changed | null>} act  does one thing to the wiring and says so
 */
export function solderOn(board, act) {
  const { picture, over, say, keys } = board;
  const ghost = s("path", { class: "ghost", hidden: true });
  const ring = s("circle", { class: "picked", r: 13, hidden: true });
  const hint = s("circle", { class: "next-lug", r: 13, hidden: true });
  over.append(ghost, ring, hint);
  /** @type {string | null} */
  let picked = null;
  let isDragged = false;

  /** @param {string | null} terminal */
  const lugOf = (terminal) => (terminal === null ? undefined : board.shown()?.placed.lugs.get(terminal));
  /** @param {SVGCircleElement} circle @param {{x: number, y: number} | undefined} at */
  function put(circle, at) {
    circle.toggleAttribute("hidden", !at);
    if (!at) return;
    circle.setAttribute("cx", String(at.x));
    circle.setAttribute("cy", String(at.y));
  }
  /**
   * Show what is picked up and where it would be soldered to.
   * @param {string | null} [next] a lug @param {[number, number]} [point] where the pointer is
   */
  function show(next = null, point) {
    const [from, to] = [lugOf(picked), next === picked ? undefined : lugOf(next)];
    const end = to ?? (point && { x: point[0], y: point[1] });
    put(ring, from);
    put(hint, to);
    ghost.toggleAttribute("hidden", !from || !end);
    if (from && end) ghost.setAttribute("d", `M${from.x} ${from.y}L${end.x} ${end.y}`);
  }

  /** @param {string} lug */
  function pick(lug) {
    const shown = board.shown();
    if (!shown) return;
    picked = lug;
    board.goTo(lug);
    board.choose({ lug });
    say(`${lugWords(shown, lug)} Now the lug to solder it to, or Escape.`);
    show();
  }
  function putDown() {
    picked = null;
    show();
    board.choose(null);
    say("Put down.");
  }
  /** @param {string} first @param {string} lug */
  async function solder(first, lug) {
    const shown = board.shown();
    if (!shown) return;
    picked = null;
    show();
    board.goTo(lug);
    board.choose({ lug });
    const joint = shown.joints.get(lug);
    if (joint !== undefined && joint === shown.joints.get(first)) {
      return say(`${inWords(first)} and ${inWords(lug)} are one joint already.`);
    }
    await act(solderChange(shown, first, lug, !shown.placed.lugs.has(BUS)));
  }
  /** @param {string} lug */
  function tapLug(lug) {
    if (picked === lug) putDown();
    else if (picked !== null) solder(picked, lug);
    else pick(lug);
  }

  /** @param {string} key of a wire */
  async function takeOut(key) {
    const shown = board.shown();
    const wire = shown?.wires.find((one) => one.key === key);
    if (!shown || !wire) return;
    const change = unsolderChange(shown, wire);
    if (!change) return say("The file does not name what hangs there: nothing to unsolder.");
    board.choose(null);
    await act(change);
  }
  /** @param {string} lug */
  async function takeOff(lug) {
    if (board.shown()?.joints.get(lug) === undefined) return say(`${inWords(lug)} is joined to nothing.`);
    picked = null;
    show();
    await act({ do: "unsolder", terminal: lug });
  }

  // before those who only choose
  board.taps.unshift(({ lug, step, grip }) => {
    if (step || grip) return false;
    if (lug) {
      picture.focus({ preventScroll: true });
      tapLug(lug);
      return true;
    }
    if (picked === null) return false;
    picked = null; // a tap beside the lugs puts it down, and means what it means
    show();
    return false;
  });
  // a lug dragged onto another one; a finger pans until it has picked the lug up
  board.presses.unshift(({ lug, step, grip }, event) => {
    if (!lug || step || grip || (event.pointerType === "touch" && picked !== lug)) return null;
    const before = picked;
    /** @type {string | null} */
    let next = null;
    return {
      move(now) {
        isDragged = true;
        if (picked !== lug) pick(lug);
        next = nearestLug(board, now);
        show(next, board.pointOf(now));
      },
      drop() {
        isDragged = false;
        if (next !== null && next !== lug) solder(lug, next);
        else putDown();
      },
      cancel() {
        isDragged = false;
        picked = before;
        show();
      },
    };
  });
  /** @param {PointerEvent} event */
  const follow = (event) => {
    const isTouch = event.pointerType === "touch";
    if (isDragged || (picked === null && !isTouch)) return;
    show(nearestLug(board, event), isTouch ? undefined : board.pointOf(event));
  };
  picture.addEventListener("pointermove", follow);
  picture.addEventListener("pointerdown", follow);
  for (const end of /** @type {const} */ (["pointerup", "pointercancel", "pointerleave"])) {
    picture.addEventListener(end, () => isDragged || show());
  }
  board.painted.push(() => {
    if (picked !== null && !lugOf(picked)) picked = null;
    if (board.at() !== null && !lugOf(board.at())) board.goTo(null); // its part is gone
    show();
  });

  for (const key of Object.keys(ARROWS)) {
    const walk = keys[key];
    keys[key] = (event) => {
      walk?.(event);
      const [at, shown] = [board.at(), board.shown()];
      if (at === null) return say(EMPTY);
      if (picked === null || picked === at || !shown) return;
      say(`${lugWords(shown, at)} Enter solders it to ${inWords(picked)}.`);
      show(at);
    };
  }
  const escape = keys.Escape;
  Object.assign(keys, {
    Enter() {
      const at = board.at();
      if (at === null) say(board.shown()?.placed.lugs.size ? "Go to a lug first, with the arrows." : EMPTY);
      else tapLug(at);
    },
    /** @param {KeyboardEvent} event */
    Escape(event) {
      if (picked !== null) putDown();
      else escape?.(event);
    },
  });
  return { takeOut, takeOff, tapLug, picked: () => picked };
}
