/** A part's view that stays while its fields do: built anew if they change, and never while one is in use. */

import { say } from "../shared/dom.js";
import { inputsIn, isInUse } from "../shared/typing.js";
import { shapeOf } from "./part_view.js";

/** @import {Around, Part} from "../shared/types.js" */

/** Carry refused texts with their reasons over to a new view. @param {Element} old @param {Element} view */
function keepRefused(old, view) {
  const problemOf = (/** @type {Element} */ input) =>
    /** @type {Element} */ (input.closest(".value")?.querySelector(".problem"));
  const refused = inputsIn(old).filter((input) => input.getAttribute("aria-invalid") === "true");
  for (const input of refused) {
    const next = inputsIn(view).find(({ dataset }) => dataset.path === input.dataset.path);
    if (!next) continue;
    next.value = input.value;
    next.setAttribute("aria-invalid", "true");
    say(problemOf(next), problemOf(input).textContent ?? "");
  }
}

/**
 * @template {{element: HTMLElement, update: (part: Part | Around) => void}} V
 * @param {(part: Part | Around, focusNext: (path: string[]) => void) => V} make
 * @param {Part | Around} first
 */
export function lastingView(make, first) {
  let shape = JSON.stringify(shapeOf(first)),
    wanted = ""; // the field to focus once it exists
  /** @param {string[]} path */
  const focusNext = (path) => {
    wanted = path.join("/");
  };
  let view = make(first, focusNext);

  /** @param {Part | Around} part */
  function rebuild(part) {
    const old = view.element,
      focused = document.activeElement;
    const at =
      wanted || (focused instanceof HTMLElement && old.contains(focused) ? (focused.dataset.path ?? "") : "");
    view = make(part, focusNext);
    const { element } = view;
    if (old instanceof HTMLDetailsElement && element instanceof HTMLDetailsElement) element.open = old.open;
    old.replaceWith(element);
    view.update(part);
    keepRefused(old, element);
    /** @type {NodeListOf<HTMLElement>} */
    const places = element.querySelectorAll("[data-path]");
    const next = at && [...places].find(({ dataset }) => `${dataset.path}/`.startsWith(`${at}/`));
    if (!next) return;
    next.focus();
    wanted = "";
  }
  return {
    /** The view that stands now. */
    now: () => view,
    /** Build it anew if its fields are others. @param {Part | Around} part */
    fit(part) {
      const next = JSON.stringify(shapeOf(part));
      if (next === shape || inputsIn(view.element).some(isInUse)) return;
      shape = next;
      rebuild(part);
    },
    /** Show new values, unless it waits for its rebuilding. @param {Part | Around} part */
    update(part) {
      if (shape === JSON.stringify(shapeOf(part))) view.update(part);
    },
  };
}
