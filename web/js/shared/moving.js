/** Move an item of a list by buttons, for touch and keys, and by Alt with an arrow key. */

import { h } from "./dom.js";
import { icon } from "./icons.js";

/**
 * Two buttons that move an item up and down.
 * @param {{name: string, mark: string, first: boolean, last: boolean, move: (by: number) => void}} item
 *   mark: what the item is found by after a move
 */
export const moveButtons = ({ name, mark, first, last, move }) =>
  [-1, 1].map((by) => {
    const way = by < 0 ? "up" : "down",
      end = by < 0 ? first : last;
    return h(
      "button",
      {
        type: "button",
        class: "quiet mover",
        "aria-label": `Move ${name} ${way}`,
        title: `Move ${way} (Alt and an arrow key)`,
        "aria-disabled": String(end),
        "data-move": `${way} ${mark}`,
        onclick: () => {
          if (!end) move(by);
        },
      },
      icon(/** @type {"up" | "down"} */ (way)),
    );
  });

/** How far a key moves an item: -1, 1, or 0 for other keys. @param {KeyboardEvent} event */
export function moveKey(event) {
  const by = event.altKey ? { ArrowUp: -1, ArrowDown: 1 }[event.key] : 0;
  if (!by) return 0;
  event.preventDefault();
  return by;
}

/** Focus the button of an item again after a move. @param {Element} within @param {string} move */
export function focusMover(within, move) {
  /** @type {NodeListOf<HTMLElement>} */
  const all = within.querySelectorAll("[data-move]");
  [...all].find(({ dataset }) => dataset.move === move)?.focus();
}
