/** Compare two sounds: one tap switches between them at the same place in the music. */

import { firstPair } from "./words.js";
import { fill, h, say } from "../shared/dom.js";
import { remember } from "./memory.js";

/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof import("./listening.js").startListening>} Listening */

const SWAP_MS = 4000;

/** @param {Page} page @param {Listening} listening */
export function compareView(page, listening) {
  const { get, set, on } = page;
  const [first, second] = [side(page, listening, 0), side(page, listening, 1)];
  const swap = h("input", { type: "checkbox", onchange: again });
  let timer = 0;
  function again() {
    clearInterval(timer);
    if (!swap.checked || !get().pair || !get().playing) return;
    timer = window.setInterval(() => {
      const { pair, number } = get();
      if (pair) set({ number: number === pair[0] ? pair[1] : pair[0] });
    }, SWAP_MS);
  }
  on(["playing", "pair"], again);
  const box = h(
    "div",
    { class: "compare", role: "group", "aria-label": "Compare two" },
    first,
    second,
    h("label", { class: "swap small" }, swap, h("span", {}, "Switch automatically every 4 seconds")),
  );
  const show = () => {
    const { pair } = get();
    box.hidden = pair === null;
    remember("pair", pair?.join(",") ?? "");
  };
  on(["pair"], show);
  show();
  return box;
}

/** The button that opens and closes the comparison. @param {Page} page */
export function compareButton({ get, set, on }) {
  const button = h("button", {
    type: "button",
    onclick: () => {
      const { pair, offer, number } = get();
      set({
        pair: pair
          ? null
          : firstPair(
              offer.favourites,
              number,
              offer.items.map((item) => item.number),
            ),
      });
    },
  });
  const show = () => say(button, get().pair ? "Done" : "Compare two");
  on(["pair"], show);
  show();
  return button;
}

/** @param {Page} page @param {Listening} listening @param {0 | 1} which */
function side({ get, set, on, item }, listening, which) {
  const letter = "AB"[which],
    name = h("span", { class: "name" });
  const hear = h(
    "button",
    {
      type: "button",
      class: "hear",
      onclick: () => {
        const { pair } = get();
        if (pair) {
          set({ number: pair[which], end: null });
          listening.play();
        }
      },
    },
    h("b", {}, letter),
    name,
  );
  const select = h("select", {
    "aria-label": `Sound ${letter}`,
    onchange: () => {
      const pair = /** @type {[number, number]} */ ([...(get().pair ?? [1, 1])]);
      pair[which] = Number(select.value);
      set({ pair, number: pair[which], end: null });
    },
  });
  function show() {
    const { pair, number, offer } = get();
    if (select.options.length !== offer.items.length)
      fill(
        select,
        ...offer.items.map((one) => h("option", { value: one.number }, `${one.number} ${one.label}`)),
      );
    if (!pair) return;
    select.value = String(pair[which]);
    say(name, item(pair[which]).label);
    hear.setAttribute("aria-pressed", String(number === pair[which]));
  }
  on(["pair", "number", "offer"], show);
  show();
  return h("div", { class: "side" }, hear, select);
}
