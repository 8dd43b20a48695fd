/** What waits in this browser, what the workshop has, and what the server refused. */

import { saidWords, sendingWords } from "./sending_words.js";
import { fill, h, say } from "../shared/dom.js";

/** @import {Page} from "./page.js" */
/** @import {Entry} from "./outbox.js" */

/** @param {Page} page */
export function sendingView({ get, on, source }) {
  const text = h("span", { role: "status" }),
    refused = h("ul", { class: "refused", role: "alert" });
  const now = h("button", { type: "button", class: "quiet small", onclick: source.send }, "Send now");
  function show() {
    const { offer } = get();
    say(text, sendingWords(offer, source.keeps()));
    now.hidden = offer.unsent === 0;
    const before = refused.dataset.of,
      of = offer.refused.map(({ operation }) => operation.id).join(" ");
    if (before !== of) fill(refused, ...offer.refused.map((entry) => refusedView(source, entry)));
    refused.dataset.of = of;
    refused.hidden = offer.refused.length === 0;
  }
  on(["offer"], show);
  show();
  return h("div", { class: "sending-state small soft" }, h("p", {}, text, now), refused);
}

/** @param {Page["source"]} source @param {Entry} entry */
const refusedView = ({ sayAgain, giveUp }, { operation, why }) =>
  h(
    "li",
    {},
    h("p", { class: "problem words" }, `${saidWords(operation)} was not taken: ${why}`),
    h("button", { type: "button", class: "small", onclick: () => sayAgain(operation.id) }, "Try again"),
    h("button", { type: "button", class: "small", onclick: () => giveUp(operation.id) }, "Forget it"),
  );

/**
 * What was written and cannot be sent any more, to be copied; null for nothing.
 * @param {Entry[]} entries
 */
export function leftBehind(entries) {
  const texts = entries.flatMap(({ operation }) => (operation.kind === "note" ? [operation.text] : []));
  if (entries.length === 0) return null;
  return h(
    "div",
    { class: "left-behind" },
    h("h2", {}, "Not sent"),
    h(
      "p",
      {},
      texts.length
        ? "The workshop does not have what you wrote here. Copy it, and write it again behind a new link."
        : "The workshop does not have what you last marked here. Mark it again behind a new link.",
    ),
    h("ul", {}, ...texts.map((text) => h("li", { class: "words" }, text))),
  );
}
