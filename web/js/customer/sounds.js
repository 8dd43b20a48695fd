/** The offered sounds, a row each. Choosing one switches to it. */

import { heardWords, sentence } from "./words.js";
import { fill, h, s, say } from "../shared/dom.js";
import { termsView } from "./contents.js";
import { loudnessView } from "./transport.js";
import { notesView } from "./notes.js";
import { knobsView } from "./knobs_view.js";

/** @import {Item, OfferedWiring} from "./words.js" */
/** @import {Page} from "./page.js" */
/** @import {LiveKnobs} from "./knobs.js" */
/** @import {News} from "./news.js" */

const HEART =
  "M12 20.5C6.5 16.6 3 13.4 3 9.3 3 6.6 5.1 4.6 7.6 4.6c1.8 0 3.4 1 4.4 2.7 1-1.7 2.6-2.7 4.4-2.7 2.5 0 4.6 2 4.6 4.7 0 4.1-3.5 7.3-9 11.2z";

/**
 * @param {Page} page @param {LiveKnobs} listening @param {News | null} news null in a file
 * @param {HTMLElement | null | undefined} ways the choice of how the sounds are heard
 */
export function soundsView(page, listening, news, ways) {
  const loudness = loudnessView(page);
  return h(
    "section",
    { class: "sounds" },
    h("div", { class: "sounds-head" }, h("h2", { id: "sounds" }, "The sounds"), loudness.element),
    h(
      "p",
      { class: "soft small legend-note" },
      loudness.note,
      " The dot shows the tone, from round (left) to bright (right).",
    ),
    ways,
    heardView(page),
    news?.view,
    soundsList(page, listening, news),
  );
}

/** How the sounds are heard, in words; direct alone is the plain case. @param {Page} page */
function heardView({ get, on }) {
  const { ways } = get().offer,
    note = h("p", { class: "soft small heard-note", role: "status" });
  const show = () => say(note, heardWords(ways, get().way));
  on(["way"], show);
  show();
  return ways[1] || get().way !== "direct" ? note : null;
}

/**
 * The sounds, by wirings where there are several. A sound that comes later, as an answer to a wish, gets its
 * place.
 * @param {Page} page @param {LiveKnobs} listening @param {News | null} news
 */
function soundsList(page, listening, news) {
  const { get, on } = page,
    list = h("div", { role: "radiogroup", "aria-labelledby": "sounds" });
  /** @type {Map<number, HTMLElement>} */
  const rows = new Map();
  function build() {
    const { items, wirings } = get().offer;
    if (rows.size === items.length) return;
    for (const item of items) {
      if (!rows.has(item.number))
        rows.set(item.number, h("li", { role: "presentation" }, soundView(page, listening, item, news)));
    }
    const rowsOf = (/** @type {OfferedWiring} */ { sounds }) =>
      h("ul", { role: "presentation" }, ...sounds.map((number) => rows.get(number) ?? null));
    fill(
      list,
      ...(wirings.length > 1 ? wirings.map((one) => wiringView(one, rowsOf(one))) : wirings.map(rowsOf)),
    );
  }
  on(["offer"], build);
  build();
  return list;
}

/** @param {OfferedWiring} wiring @param {HTMLElement} sounds */
const wiringView = (wiring, sounds) =>
  h(
    "div",
    { role: "group", class: "alternative", "aria-labelledby": `wiring-${wiring.number}` },
    h("h3", { id: `wiring-${wiring.number}` }, wiring.name),
    h("dl", { class: "facts small" }, ...termsView(wiring)),
    sounds,
  );

/** @param {Page} page @param {LiveKnobs} listening @param {Item} item @param {News | null} news */
function soundView(page, listening, item, news) {
  const { get, set, on } = page,
    { number, label } = item;
  const text = h("span", { class: "said soft" });
  const state = h("span", { class: "state small", role: "status" });
  const elsewhere = h("span", { class: "soft small" });
  const radio = h("input", {
    type: "radio",
    name: "sound",
    value: number,
    id: `sound-${number}`,
    onchange: () => set({ number }),
  });
  /** A tap also plays the sound; arrow keys only choose it. */
  const tap = () => {
    if (radio.disabled) return;
    set({ number, end: null });
    if (get().trouble) listening.again();
    listening.play();
  };
  const notes = notesView(page, number, `A note on “${label}”`, { open: false, outcome: news?.outcome });
  const row = h(
    "div",
    { class: "sound" },
    radio,
    h(
      "label",
      { for: radio.id, class: "pick", onclick: tap },
      h("span", { class: "number" }, number),
      h(
        "span",
        { class: "about" },
        h("b", {}, label),
        text,
        brightnessLine(item.brightness),
        state,
        elsewhere,
      ),
    ),
    favouriteButton(page, item),
    knobsView(page, listening, number),
    notes,
  );
  function show() {
    const now = get(),
      clip = page.item(number).clips[now.take],
      chosen = now.number === number;
    radio.checked = chosen;
    row.classList.toggle("chosen", chosen);
    row.classList.toggle("heard", chosen && now.playing && now.loading === null);
    radio.disabled = !clip;
    say(elsewhere, now.offer.elsewhere.includes(number) ? "Marked on another phone or computer" : "");
    say(text, sentence([...item.words, ...item.stands]));
    const still = clip?.silent ? "Silent" : now.news.includes(number) ? "New" : "";
    say(state, !clip ? "being prepared…" : now.loading === number && now.playing ? "loading…" : still);
  }
  on(["number", "playing", "loading", "take", "offer", "news"], show);
  show();
  return row;
}

/**
 * The place of a sound between round and bright, as a picture; its words say the same.
 * @param {number} share
 */
const brightnessLine = (share) =>
  s(
    "svg",
    { class: "tone", viewBox: "0 0 132 10", "aria-hidden": "true" },
    s("line", { x1: 1, y1: 5, x2: 131, y2: 5 }),
    s("circle", { cx: 5 + 122 * share, cy: 5, r: 4.5 }),
  );

/** @param {Page} page @param {Item} item */
function favouriteButton({ get, on, source }, { number, label }) {
  const button = h(
    "button",
    {
      type: "button",
      class: "favourite quiet",
      "aria-label": `Favourite: ${label}`,
      onclick: () => {
        const { favourites, place } = get().offer;
        source.say(
          favourites.includes(number)
            ? { kind: "unfavourite", number, seen: place }
            : { kind: "favourite", number },
        );
      },
    },
    s("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" }, s("path", { d: HEART })),
  );
  const show = () => button.setAttribute("aria-pressed", String(get().offer.favourites.includes(number)));
  on(["offer"], show);
  show();
  return button;
}
