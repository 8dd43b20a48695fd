/** Add parts on the drawing: from the tray. */

import { h } from "../shared/dom.js";
import { trayBody } from "./add_part.js";

/** @import {Change, Changed} from "../shared/types.js" */
/** @import {Board} from "./drawing_board.js" */

/**
 * @param {Board} board
 * @param {(change: Change) => Promise<Changed | null>} act
 */
export function drawingTray(board, act) {
  const tray = trayBody(act);
  const panel = h("div", { class: "board-tray", hidden: true, id: "board-tray" }, tray.element);
  const toggle = h(
    "button",
    {
      type: "button",
      "aria-expanded": "false",
      "aria-controls": "board-tray",
      onclick: () => open(panel.hidden),
    },
    "Add a part",
  );
  /** @param {boolean} on */
  function open(on) {
    panel.hidden = !on;
    toggle.setAttribute("aria-expanded", String(on));
    if (on) tray.load();
  }
  panel.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    open(false);
    toggle.focus();
  });
  return { toggle, panel, open };
}
