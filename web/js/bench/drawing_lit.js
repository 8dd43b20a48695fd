/** The places of a fault, lit on the drawing: its lugs, and the wires between them. */

import { s } from "../shared/dom.js";

/** @import {Board} from "./drawing_board.js" */

/** Room around what is lit before the frame scrolls, in the drawing's units. */
const MARGIN = 60;

/** @param {Board} board */
export function lightLugs(board) {
  const { session, over, layer, frame } = board;
  const lights = s("g", { class: "lights", "aria-hidden": "true" });
  over.prepend(lights);

  function show() {
    const wanted = session.get().lit;
    const shown = board.shown();
    const lugs = wanted.flatMap((terminal) => shown?.placed.lugs.get(terminal) ?? []);
    lights.replaceChildren(
      ...lugs.map(({ x, y, terminal }) =>
        s("circle", { cx: x, cy: y, r: 19, class: "light", "data-lit": terminal }),
      ),
    );
    const lit = new Set(wanted);
    const wires = (shown?.wires ?? []).filter(({ a, b }) => b !== null && lit.has(a) && lit.has(b));
    const keys = new Set(wires.map(({ key }) => key));
    for (const one of layer.querySelectorAll("[data-wire]"))
      one.classList.toggle("lit", keys.has(/** @type {SVGElement} */ (one).dataset.wire ?? ""));
    return lugs;
  }
  session.on(["lit"], () => {
    const lugs = show();
    if (!lugs.length) return;
    // bring the first into view, without moving the page
    const [{ x, y }] = lugs;
    const { viewBox } = board.picture;
    const [left, top] = [x - viewBox.baseVal.x, y - viewBox.baseVal.y].map((at) => at * board.zoom());
    const room = MARGIN * board.zoom();
    if (left < frame.scrollLeft + room || left > frame.scrollLeft + frame.clientWidth - room)
      frame.scrollLeft = left - frame.clientWidth / 2;
    if (top < frame.scrollTop + room || top > frame.scrollTop + frame.clientHeight - room)
      frame.scrollTop = top - frame.clientHeight / 2;
  });
  board.painted.push(show);
}
