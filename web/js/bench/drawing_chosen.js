/** What is chosen on the drawing: its marks, and what it is for in words. */

import { s } from "../shared/dom.js";
import { lugWords, partWords, wireWords } from "./drawing_words.js";

/** @import {Item} from "../drawing/types.js" */
/** @import {Board, What} from "./drawing_board.js" */

export const HINT =
  "Tap a lug, then another, to solder them; tap a wire or part to change it. Drag a part to move it, a pot " +
  "to turn it. Question mark tells the rest.";

/** The item that shows a part. @param {Board} board @param {string | undefined} name */
export const itemOf = (board, name) =>
  name === undefined
    ? undefined
    : board.shown()?.placed.items.find(({ key, names }) => key === name || names.includes(name));

/**
 * Keep marks, frame and cursor in step with what is chosen.
 *
 * @param {Pick<Board, "picture" | "layer" | "over" | "shown" | "known" | "say" | "frame" | "chose">} board
 */
export function createChosen(board) {
  const { picture, layer, over, say } = board;
  const cursor = s("circle", { class: "cursor", r: 15, hidden: true });
  const outline = s("g", { class: "chosen-part" });
  over.append(outline, cursor);
  /** @type {What | null} */
  let chosen = null;
  /** @type {string | null} */
  let at = null;

  function showCursor() {
    const lug = at === null ? undefined : board.shown()?.placed.lugs.get(at);
    cursor.toggleAttribute("hidden", !lug || document.activeElement !== picture);
    if (!lug) return;
    cursor.setAttribute("cx", String(lug.x));
    cursor.setAttribute("cy", String(lug.y));
  }

  /** Mark everything of one joint. @param {What | null} what */
  function mark(what) {
    const shown = board.shown();
    const wire = shown?.wires.find(({ key }) => key === what?.wire);
    const joint = wire?.joint ?? (what?.lug === undefined ? undefined : shown?.joints.get(what.lug));
    for (const one of layer.querySelectorAll("[data-joint]")) {
      const { joint: mine, wire: key } = /** @type {SVGElement} */ (one).dataset;
      one.classList.toggle("kin", joint !== undefined && mine === String(joint));
      one.classList.toggle("on", wire !== undefined && key === wire.key);
    }
  }

  /** A frame around the chosen part, with a handle to move it by. */
  function showOutline() {
    const name = chosen?.part;
    const item = itemOf(/** @type {Board} */ (board), name);
    outline.replaceChildren(...(item && name !== undefined ? outlineOf(item, name) : []));
  }

  /** @param {What | null} what */
  function tell(what) {
    const [shown, known] = [board.shown(), board.known()];
    if (!shown || !known) return;
    const wire = shown.wires.find(({ key }) => key === what?.wire);
    if (what?.lug) say(lugWords(shown, what.lug));
    else if (wire) say(wireWords(shown, wire, known.states));
    else say(what?.part ? partWords(shown, what.part) : HINT);
  }

  picture.addEventListener("focus", showCursor);
  picture.addEventListener("blur", showCursor);
  return {
    at: () => at,
    chosen: () => chosen,
    /** @param {string | null} terminal */
    goTo(terminal) {
      at = terminal;
      showCursor();
      if (terminal !== null) cursor.scrollIntoView({ block: "nearest", inline: "nearest" });
    },
    /** @param {What | null} what */
    choose(what) {
      chosen = what;
      mark(what);
      showOutline();
      tell(what);
      for (const heard of board.chose) heard(what);
    },
    /** @param {What | null} what */
    point(what) {
      mark(what ?? chosen);
      if (what ?? chosen) tell(what ?? chosen);
    },
    /** After a paint. */
    refresh() {
      mark(chosen);
      showOutline();
      showCursor();
    },
  };
}

/** @param {Item} item @param {string} name */
function outlineOf(item, name) {
  const boxes = [...item.boxes, item.keep];
  const [left, top] = [0, 1].map((k) => Math.min(...boxes.map((box) => box[k])) - 6);
  const [right, bottom] = [2, 3].map((k) => Math.max(...boxes.map((box) => box[k])) + 6);
  const frame = { x: left, y: top, width: right - left, height: bottom - top, rx: 8 };
  const arrows = "M0 -8V8M-8 0H8M-3 -5L0 -8L3 -5M-3 5L0 8L3 5M-5 -3L-8 0L-5 3M5 -3L8 0L5 3";
  return [
    s("rect", { ...frame, class: "chosen-frame" }),
    s(
      "g",
      { class: "grip", "data-grip": name, transform: `translate(${right} ${top})` },
      s("title", {}, `Move ${name}`),
      s("circle", { r: 22, class: "grip-reach" }),
      s("circle", { r: 13, class: "grip-disc" }),
      s("path", { d: arrows, class: "grip-arrows" }),
    ),
  ];
}
