/** What became of the proposals: seen, favourites, comments, signed; it updates while it is open. */

import * as api from "../api.js";
import { showDate } from "../pure/units.js";
import { fill, h } from "./dom.js";
import { toast, toastError } from "./notices.js";

/** @import {Proposal} from "../pure/types.js" */

/** Pause after a failed wait for news, ms. */
const AGAIN_MS = 4000;

/** @param {string} commission @param {AbortSignal} signal */
export function proposalsList(commission, signal) {
  const list = h("ul", { class: "starters" }), title = h("h3", {}, "Before the customer now");
  /** @type {Set<string>} */
  const followed = new Set();
  async function load() {
    const rows = await api.proposals(commission).catch(() => []);
    title.hidden = rows.length === 0;
    fill(list, ...rows.map((row) => h("li", {}, proposalView(row, load))));
    for (const row of rows) if (stateOf(row) === "open" && !followed.has(row.id)) { followed.add(row.id); follow(row); }
  }
  /** @param {Proposal} row */
  async function follow({ id, after = 0 }) {
    while (!signal.aborted) {
      try {
        const news = await api.proposalEvents(id, after, signal);
        after = news.after;
        if (news.changed) await load();
      } catch (error) {
        if (signal.aborted || (error instanceof api.ApiError && [404, 410].includes(error.status))) return;
        await new Promise((again) => setTimeout(again, AGAIN_MS));
      }
    }
  }
  load();
  return { element: h("section", {}, title, list), reload: load };
}

/** @param {Proposal} row */
const stateOf = ({ state, revoked, signoff }) => state ?? (signoff ? "signed" : revoked ? "revoked" : "open");

/** @param {Proposal} row @param {() => void} reload */
function proposalView(row, reload) {
  const { id, title, created, expires, seen, favourites = [], comments = [], signoff, ready = 1, items = [], failed = [] } = row;
  const state = stateOf(row);
  const named = (/** @type {number | null} */ number) => items.find((item) => item.number === number)?.label ?? (number === null ? "the whole" : `number ${number}`);
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
