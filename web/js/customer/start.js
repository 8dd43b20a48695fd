/** The customer's page: listen, compare, mark favourites, comment, choose, sign. */

import { ApiError } from "../shared/http.js";
import { standing, untilWords } from "./words.js";
import { answerView } from "./answer_view.js";
import { builtView } from "./built.js";
import { compareButton, compareView } from "./compare.js";
import { deckView, levelView } from "./transport.js";
import { createLine } from "./line.js";
import { startListening } from "./listening.js";
import { remember } from "./memory.js";
import { notesView } from "./notes.js";
import { createPage } from "./page.js";
import { recordView } from "./record.js";
import { openSigning } from "./signing.js";
import { soundsView } from "./sounds.js";
import { startLiveKnobs } from "./knobs.js";
import { workshopView } from "./workshop.js";
import { fill, h, say } from "../shared/dom.js";

/** @import {Page} from "./page.js" */
/** @import {Source} from "./source.js" */

const RETRY_MS = 3000;
const main = /** @type {HTMLElement} */ (document.getElementById("page"));

/**
 * What a page behind a link has besides, and a file does not carry.
 * @typedef {object} Behind
 * @property {typeof import("./fresh.js").keepFresh} keepFresh
 * @property {typeof import("./sending.js").sendingView} sendingView
 * @property {typeof import("./sending.js").leftBehind} leftBehind
 * @property {typeof import("./news.js").createNews} createNews
 * @property {typeof import("./ways.js").waysView} waysView
 * @property {typeof import("./farthest.js").farthestView} farthestView
 * @property {typeof import("./ready.js").readyView} readyView
 * @property {typeof import("./closed.js").closedWords} closedWords
 */

/** @param {Source} source @param {Behind | null} behind null in a file */
export async function start(source, behind = null) {
  try {
    show(createPage(source, await source.getOffer()), behind);
  } catch (error) {
    fill(main, closed(error, source, behind));
    if (error instanceof ApiError && (error.status === 0 || error.status >= 500))
      setTimeout(start, RETRY_MS, source, behind);
  }
}

/**
 * The reason why the page has no offer.
 * @param {unknown} error @param {Source} source @param {Behind | null} behind
 */
function closed(error, source, behind) {
  const status = error instanceof ApiError ? error.status : -1;
  const [title, text] = behind?.closedWords(status) ?? [
    "Something went wrong",
    "The workshop's server has a problem. This page keeps trying; you can also reload it.",
  ];
  const unsent = status === 404 || status === 410 ? behind?.leftBehind(source.unsent()) : null;
  return h("div", { class: "blank", role: "alert" }, h("h1", {}, title), h("p", {}, text), unsent);
}

/** @param {Page} page @param {Behind | null} behind */
function show(page, behind) {
  const { get, on } = page,
    { offer } = get(),
    line = createLine(page.source.readFile),
    listening = startLiveKnobs(page, startListening(page, line), line),
    news = behind?.createNews(page, listening) ?? null;
  document.title = `${offer.title}: sounds to choose from`;
  const parts = [
    h("header", { class: "head" }, workshopView(page), h("h1", {}, offer.title), untilView(page)),
    recordView(page),
    behind?.readyView(page),
    deckView(page, listening),
    h(
      "div",
      { class: "left" },
      levelView(page, listening),
      soundsView(page, listening, news, behind?.waysView(page)),
    ),
    h(
      "div",
      { class: "right" },
      builtView(page),
      behind?.farthestView(page, listening),
      wholeView(page),
      answerView(page),
      dockView(page, listening, behind, news),
    ),
    troubleView(page),
  ];
  main.className = "offer";
  fill(main, ...parts);
  on(["number"], ({ number }) => remember("number", String(number)));
  on(["take"], ({ take }) => remember("take", take));
  on(["travel"], ({ travel }) => remember("level", String(travel)));
  on(["matched"], ({ matched }) => remember("loudness", matched ? "equal" : "true"));
  document.addEventListener("keydown", (event) => spaceBar(event, listening.toggle.bind(listening)));
  page.source.onOffer((now) => page.set({ offer: now }));
  behind?.keepFresh(page, (error) => {
    // who listens goes on; what is asked for next says why not
    if (get().playing || get().turning) return;
    main.className = "";
    fill(main, closed(error, page.source, behind));
  });
}

/** @param {Page} page */
const untilView = ({ get, source }) =>
  h("p", { class: "soft small" }, untilWords(get().offer, source.isFile));

/** @param {Page} page */
const wholeView = (page) =>
  h(
    "section",
    { class: "whole", "aria-label": "Question or wish" },
    notesView(page, null, "Ask the workshop a question, or say what you would like", { open: true }),
  );

/**
 * @param {Page} page @param {ReturnType<typeof startListening>} listening @param {Behind | null} behind
 * @param {import("./news.js").News | null} news
 */
function dockView(page, listening, behind, news) {
  const { get, on } = page,
    { source } = page,
    { signOff } = source,
    note = h("p", { class: "soft small", role: "status" });
  const sign =
    signOff &&
    h(
      "button",
      {
        type: "button",
        class: "main sign",
        onclick: () => openSigning(page, signOff, news),
      },
      "Choose and sign off",
    );
  const show = () => {
    const { offer } = get();
    if (sign) sign.hidden = offer.signoff !== null;
    note.hidden = offer.signoff !== null;
    say(note, standing(offer.favourites.length, source));
  };
  on(["offer"], show);
  show();
  return h(
    "section",
    { class: "dock", "aria-label": "Compare and choose" },
    compareView(page, listening),
    h("div", { class: "ends" }, compareButton(page), sign),
    note,
    behind?.sendingView(page),
  );
}

/** @param {Page} page */
function troubleView({ get, set, on }) {
  const text = h("span", {});
  const box = h(
    "div",
    { class: "trouble", role: "alert" },
    text,
    h("button", { type: "button", class: "quiet", onclick: () => set({ trouble: "" }) }, "Close"),
  );
  const show = () => {
    const { trouble, held } = get();
    box.hidden = !trouble && !held;
    say(text, trouble || (held ? "The sound was interrupted. Tap Play to continue." : ""));
  };
  on(["trouble", "held"], show);
  show();
  return box;
}

/**
 * Play or pause with the space bar, unless it has another meaning there.
 * @param {KeyboardEvent} event @param {() => void} toggle
 */
function spaceBar(event, toggle) {
  const at = event.target instanceof Element ? event.target : document.body;
  if (
    event.key !== " " ||
    event.repeat ||
    at.closest("textarea, select, button, summary, a, dialog, input:not([type=radio], [type=range])")
  )
    return;
  event.preventDefault();
  toggle();
}
