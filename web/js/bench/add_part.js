/** The tray: everything that can be added to a wiring, as pictures with words, and the library's parts. */

import * as api from "./api.js";
import { fill, h, s, uid } from "../shared/dom.js";
import { listLibraryParts } from "../shared/lists.js";
import { toastError } from "../shared/notices.js";
import { plainName } from "../shared/words.js";

/** @import {Addition, Change, LibraryPart} from "../shared/types.js" */

const GAP = 6,
  AIR = 2;
/** The addition of two coils in one housing. */
const PICKUP = "pickup";

/** @param {(change: Change) => void} act */
export function trayView(act) {
  const tray = trayBody(act);
  const element = h(
    "details",
    { class: "part adding", ontoggle: () => element.open && tray.load() },
    h("summary", {}, h("span", {}, "Add a part")),
    tray.element,
    h("p", { class: "soft small" }, "A new part is soldered to nothing yet. Its values can be changed."),
  );
  return { element };
}

/**
 * The tray without a frame; empty until it is loaded.
 * @param {(change: Change) => void} act
 */
export function trayBody(act) {
  const tiles = h("div", { class: "tray" });
  const library = h("div", {});
  const element = h("div", {}, tiles, library);
  let asked = false;
  /** @param {Addition} one */
  const tile = (one) =>
    h(
      "button",
      { type: "button", title: one.about, onclick: () => act({ do: "add", what: one.name }) },
      picture(one),
      h("span", {}, one.title),
    );
  return {
    element,
    async load() {
      if (asked) return;
      asked = true;
      try {
        const [all, entries] = await Promise.all([api.listAdditions(), listLibraryParts()]);
        fill(tiles, ...all.map(tile));
        fill(library, libraryChoice(all, entries, act));
      } catch (error) {
        asked = false;
        toastError(error);
      }
    },
  };
}

/**
 * A choice among the library's parts, and the button that adds the chosen one.
 * @param {Addition[]} additions @param {LibraryPart[]} entries @param {(change: Change) => void} act
 */
function libraryChoice(additions, entries, act) {
  const id = uid("like");
  const groups = additions
    .map(({ name, title }) => ({ name, title, entries: entries.filter((entry) => isFor(name, entry)) }))
    .filter((group) => group.entries.length);
  const select = h(
    "select",
    { id },
    h("option", { value: "" }, "choose…"),
    ...groups.map(({ name, title, entries: own }) =>
      h(
        "optgroup",
        { label: title },
        ...own.map((entry) =>
          h("option", { value: `${name} ${entry.name}`, title: entry.about }, plainName(entry.name)),
        ),
      ),
    ),
  );
  return h(
    "form",
    {
      class: "like-one",
      onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        if (!select.value) return select.focus();
        const [what, like] = select.value.split(" ");
        act({ do: "add", what, like });
      },
    },
    h("label", { for: id, class: "soft small" }, "One of the library"),
    select,
    h("button", {}, "Add it"),
  );
}

/** @param {string} addition @param {LibraryPart} entry */
const isFor = (addition, { kind, pair }) => (addition === PICKUP ? pair !== "" : kind === addition);

/** The symbols of an addition, side by side. @param {Addition} one */
function picture({ strokes, size: [width, height], count }) {
  const step = width + GAP,
    box = [count * step - GAP + 2 * AIR, height + 2 * AIR];
  return s(
    "svg",
    {
      class: "symbol",
      viewBox: `${-AIR} ${-AIR} ${box.join(" ")}`,
      width: box[0],
      height: box[1],
      "aria-hidden": "true",
    },
    ...Array.from({ length: count }, (_, k) =>
      s("path", { d: strokes, transform: `translate(${k * step} 0)` }),
    ),
  );
}
