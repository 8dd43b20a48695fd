/**
 * Sounds that came after this tab was opened, as answers to wishes: new until they are chosen, at hand where
 * they were wished for, and heard before anybody signs. Nothing comes to a file: a page behind a link alone
 * has this.
 */

import { fill, h, say } from "../shared/dom.js";
import { cameWords, listenFirst, outcomeOf } from "./news_words.js";
import { remember, recall } from "./memory.js";

/** @import {Item, Wish} from "./words.js" */
/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof createNews>} News */

const KNOWN = "sounds";

/** @param {Page} page @param {{play: () => unknown}} listening */
export function createNews(page, listening) {
  const { get, set, on } = page,
    numbers = () => get().offer.items.map(({ number }) => number);
  /** Choose a sound, play it and show its row. Call in a press or tap. @param {number} number */
  function hear(number) {
    set({ number });
    listening.play();
    document.getElementById(`sound-${number}`)?.focus();
  }
  /** @param {number} number @param {() => void} [act] */
  const wayTo = (number, act = () => hear(number)) =>
    h("button", { type: "button", onclick: act }, `Listen to sound ${number}`);

  const known = recall(KNOWN).split(",").map(Number);
  if (recall(KNOWN)) set({ news: numbers().filter((one) => !known.includes(one)) });
  const keep = () => remember(KNOWN, String(numbers().filter((one) => !get().news.includes(one))));
  on(["offer"], ({ offer, news }, before) => {
    const had = before.offer.items.map(({ number }) => number),
      came = offer.items.map(({ number }) => number).filter((one) => !had.includes(one));
    if (came.length) set({ news: [...news, ...came] });
  });
  on(["number"], ({ number, news }) => {
    if (news.includes(number)) set({ news: news.filter((one) => one !== number) });
  });
  on(["news"], keep);
  keep();

  return {
    view: newsView(page, wayTo),
    /** What became of a wish; the sound is a tap away. @param {Wish} wish */
    outcome(wish) {
      const { number, sound } = wish,
        words = wish.taken_back ? "" : outcomeOf(wish);
      return words && h("p", { class: "outcome" }, words, sound !== null && sound !== number && wayTo(sound));
    },
    /**
     * Why a signature was refused for sounds that it did not know, and the ways to them; null for none.
     * @param {Item[]} items of the wiring @param {number[]} shown numbers of those that were shown
     * @param {(act: () => void) => void} leave closes the dialog first
     */
    unheard(items, shown, leave) {
      const came = items.filter(({ number }) => !shown.includes(number));
      if (came.length === 0) return null;
      const ways = came.map(({ number }) => wayTo(number, () => leave(() => hear(number))));
      return { why: listenFirst(came), ways };
    },
  };
}

/** Says which sounds are new. @param {Page} page @param {(number: number) => HTMLElement} wayTo */
function newsView({ get, on, item }, wayTo) {
  const text = h("span", {}),
    ways = h("span", { class: "ways" });
  const box = h("div", { class: "came", role: "status" }, text, ways);
  const show = () => {
    const { news } = get();
    say(text, cameWords(news.map(item)));
    fill(ways, ...news.map((number) => wayTo(number)));
    box.classList.toggle("empty", news.length === 0);
  };
  on(["news", "offer"], show);
  show();
  return box;
}
