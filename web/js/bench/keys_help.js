/** The list of keys, and the switch that turns single keys off. */

import { openDialog } from "../shared/dialog.js";
import { h } from "../shared/dom.js";

const SHELF = "presolder.keys";
const KEYS = [
  ["Space", "play or pause"],
  ["1 to 9", "flip the selector to that position"],
  ["A to D", "switch to a kept sound"],
  ["↑ ↓ in the selector", "change the position"],
  ["Alt+↑, Alt+↓ there", "move the position, if the selector is a sketch"],
  ["← → on a knob", "a tenth"],
  ["Page up, Page down", "one"],
  ["Home, End", "0 and 10"],
  ["P on the response", "the next peak"],
  ["↑ ↓ in a value", "next preferred value"],
  ["Ctrl+Z, Ctrl+Shift+Z", "undo, redo"],
  ["Arrows, Shift+arrows", "on the map of two knobs: a tenth, one"],
  ["Arrows, Enter", "on the map of sounds: move to a dot, hear it"],
  ["Arrows, W, [ ], G, J, + - 0", "on the drawing: lug to lug, wires, position, grounds, joints, size"],
  ["Enter, Delete, Escape", "on the drawing: pick up and solder, unsolder or remove, put down"],
  ["P, X, R, F2, Shift+arrows", "on the drawing: the part here, swap its leads, turn, rename, move it"],
  ["T", "on the drawing: tidy"],
  ["Ctrl+S", "save as a new version"],
];

/** Works without the browser's storage too. */
export function singleKeys() {
  try {
    return localStorage.getItem(SHELF) !== "off";
  } catch {
    return true;
  }
}

export function keysHelp() {
  openDialog("Keys", () => {
    const box = h("input", {
      type: "checkbox",
      checked: singleKeys(),
      onchange: () => localStorage.setItem(SHELF, box.checked ? "on" : "off"),
    });
    return h(
      "div",
      {},
      h(
        "table",
        {},
        h("caption", { class: "unseen" }, "Keys"),
        h(
          "tbody",
          {},
          ...KEYS.map(([key, does]) => h("tr", {}, h("th", { scope: "row" }, key), h("td", {}, does))),
        ),
      ),
      h("div", { class: "ticks" }, h("label", {}, box, "Space, 1 to 9 and A to D work anywhere on the page")),
    );
  });
}
