/** The list of listings. It follows them while it is open. */

import * as api from "./api.js";
import { ApiError } from "../shared/http.js";
import { newsOfListing } from "./words.js";
import { counted } from "../shared/words.js";
import { fill, h, say } from "../shared/dom.js";
import { listingCard } from "./card.js";

/** @import {Listing} from "./words.js" */
/** @import {Card} from "./card.js" */

/** Least time between two reloads, ms: progress changes faster than anyone reads. */
const SPACING_MS = 700;
/** Pause after a failed request, ms. */
const AGAIN_MS = 3000;

/** @param {boolean} archived @param {AbortSignal} signal */
export function listingsView(archived, signal) {
  const list = h(
    "ul",
    { class: "jobs" },
    ...[0, 1].map(() => h("li", { class: "bone", "aria-hidden": "true" })),
  );
  const status = h("p", { class: "soft", role: "status" }, "Loading…"),
    aloud = h("p", { class: "unseen", role: "status" });
  /** @type {Map<string, {card: Card, item: HTMLElement, job: Listing}>} */
  const shown = new Map();
  async function load() {
    const jobs = await api.listListings(archived);
    if (signal.aborted) return;
    say(status, jobs.length ? counted(jobs.length, archived ? "archived listing" : "listing") : "");
    const news = jobs.map((job) => newsOfListing(shown.get(job.id)?.job, job)).filter(Boolean);
    if (news.length) say(aloud, news.join(" "));
    for (const [id, { item }] of shown)
      if (!jobs.some((job) => job.id === id)) {
        item.remove();
        shown.delete(id);
      }
    if (jobs.length === 0) {
      fill(list, h("li", {}, empty(archived)));
      return;
    }
    if (shown.size === 0) fill(list);
    jobs.forEach((job, place) => {
      const before = shown.get(job.id);
      const card = before?.card ?? listingCard(load),
        item = before?.item ?? h("li", {}, card.element);
      card.show(job);
      shown.set(job.id, { card, item, job });
      if (list.children[place] !== item) list.insertBefore(item, list.children[place] ?? null);
    });
  }
  follow(load, signal, (error) => say(status, error.message));
  return h(
    "main",
    { class: "view narrow", id: "main" },
    h(
      "div",
      { class: "list-head" },
      h("h1", {}, archived ? "Archived listings" : "Listings"),
      archived
        ? h("a", { class: "button", href: "#/listings" }, "Back to the listings")
        : h("a", { class: "button main", href: "#/listings/new" }, "New listing"),
    ),
    list,
    aloud,
    h(
      "div",
      { class: "row" },
      status,
      h("span", { class: "spread" }),
      !archived && h("a", { href: "#/listings/archived", class: "soft" }, "Show archived"),
    ),
  );
}

/**
 * Reload the list after every change.
 * @param {() => Promise<void>} load @param {AbortSignal} signal @param {(error: Error) => void} failed
 */
async function follow(load, signal, failed) {
  const pause = (/** @type {number} */ ms) => new Promise((done) => setTimeout(done, ms));
  for (let after = 0; !signal.aborted;) {
    try {
      const news = await api.waitForListings(after, signal);
      if (news.after !== after) await load();
      after = news.after;
      await pause(SPACING_MS);
    } catch (error) {
      if (signal.aborted || (error instanceof ApiError && error.status === 401)) return;
      if (error instanceof Error) failed(error);
      await pause(AGAIN_MS);
      after = 0;
    }
  }
}

/** @param {boolean} archived */
function empty(archived) {
  if (archived)
    return h(
      "div",
      { class: "empty" },
      h("h2", {}, "No archived listings"),
      h(
        "p",
        { class: "soft" },
        "You can archive a listing that has ended. Its files stay, and you can restore it at any time.",
      ),
    );
  return h(
    "div",
    { class: "empty" },
    h("h2", {}, "No listings yet"),
    h(
      "p",
      { class: "soft" },
      "A listing renders the clips of many instruments unattended: every position, knob settings and sweeps, in step and equally loud, with a page for listening. It runs in the background and continues after a restart.",
    ),
    h("a", { class: "button main", href: "#/listings/new" }, "Make the first listing"),
  );
}
