/** What became of the proposals: seen, favourites, comments, signed; it updates while it is open. */

import * as api from "../api.js";
import { showDate } from "../pure/units.js";
import { labelOf, stateOf } from "../pure/proposals.js";
import { fill, h } from "./dom.js";
import { toast, toastError } from "./notices.js";

/** @import {Proposal} from "../pure/types.js" */
/** @import {Session} from "../bench/session.js" */

/** @param {Session} session @param {() => void} reload */
export function proposalsList({ get, on }, reload) {
  const list = h("ul", { class: "starters" }), title = h("h3", {}, "Before the customer now");
  const show = () => {
    const { proposals } = get();
    title.hidden = proposals.length === 0;
    fill(list, ...proposals.map((row) => h("li", {}, proposalView(row, reload))));
  };
  const stop = on(["proposals"], show);
  show();
  return { element: h("section", {}, title, list), stop };
}

/** @param {Proposal} row @param {() => void} reload */
function proposalView(row, reload) {
  const { id, title, created, expires, seen, favourites = [], comments = [], signoff, ready = 1, failed = [] } = row;
  const state = stateOf(row);
  const named = (/** @type {number | null} */ number) => labelOf(row, number);
  const facts = [`made ${showDate(created)}`, state === "open" && expires && `expires ${showDate(expires)}`, seen ? "seen" : "not opened yet",
    ready < 1 && `clips ${Math.round(ready * 100)} % ready`].filter(Boolean).join(" · ");
  return h("div", { class: "proposal" }, h("div", { class: "row" }, h("b", { class: "spread" }, title), h("span", { class: state === "signed" ? "ok" : "soft" }, state),
    state === "open" && h("button", { type: "button", class: "quiet", onclick: async () => {
      try { await api.revoke(id); reload(); toast(`The link to “${title}” is ended. A new proposal makes a new one.`); } catch (error) { toastError(error); }
    } }, "End the link")),
  h("p", { class: "small soft" }, facts),
  signoff && h("p", { class: "ok" }, `Signed by ${signoff.name} on ${signoff.date}: ${named(signoff.number)}.`),
  favourites.length > 0 && h("p", {}, `Favourites: ${favourites.map(named).join(", ")}`),
  comments.length > 0 && h("ul", {}, ...comments.map(({ number, text }) => h("li", {}, h("span", { class: "soft" }, `${named(number)}: `), text))),
  failed.length > 0 && h("p", { class: "problem" }, failed.join(" ")));
}
