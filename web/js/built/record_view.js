/** The workshop's record: every built instrument, found by its serial number. */

import { fill, h, say } from "../shared/dom.js";
import { reasonOf } from "../shared/file_place.js";
import { latest } from "../shared/latest.js";
import { counted } from "../shared/words.js";
import * as api from "./api.js";
import { instrumentCard } from "./instruments.js";

/** @param {boolean} archived @param {AbortSignal} signal */
export function recordView(archived, signal) {
  const list = h("ul", { class: "built-list" });
  const status = h("p", { class: "soft", role: "status" }, "Loading…");
  const search = h("input", {
    type: "search",
    placeholder: "Serial number",
    "aria-label": "Search by serial number, commission, client or notes",
    oninput: () => load(),
  });
  const csv = /** @type {const} */ ([
    ["point", "CSV, decimal point"],
    ["comma", "CSV, decimal comma"],
  ]).map(([decimal, label]) => ({ decimal, link: h("a", { class: "button", download: "" }, label) }));
  const load = latest(
    async () => {
      const wanted = search.value.trim();
      for (const { decimal, link } of csv) link.href = api.csvUrl(wanted, decimal);
      const found = await api.listInstruments({ search: wanted, archived: String(archived) }, signal);
      fill(list, ...found.map((one) => h("li", {}, instrumentCard(one, { changed: load, home: true }))));
      say(status, found.length ? counted(found.length, archived ? "archived guitar" : "guitar") : "");
      if (!found.length) fill(list, h("li", {}, empty(wanted, archived)));
    },
    { failed: (error) => signal.aborted || say(status, reasonOf(error)) },
  );
  load();
  return h(
    "main",
    { class: "view narrow", id: "main" },
    h(
      "div",
      { class: "list-head" },
      h("h1", {}, archived ? "Archived guitars" : "Built guitars"),
      search,
      archived && h("a", { class: "button", href: "#/built" }, "Back to the record"),
      ...(archived ? [] : csv.map(({ link }) => link)),
    ),
    list,
    h(
      "div",
      { class: "row" },
      status,
      h("span", { class: "spread" }),
      !archived && h("a", { href: "#/built/archived", class: "soft" }, "Show archived"),
    ),
  );
}

/** @param {string} searched @param {boolean} archived */
const empty = (searched, archived) =>
  h(
    "div",
    { class: "empty" },
    h("h2", {}, searched ? "No guitar has these words" : archived ? "No archived guitars" : "No guitars yet"),
    h(
      "p",
      { class: "soft" },
      searched
        ? "The search looks into serial number, commission, client, wiring and notes."
        : archived
          ? "A guitar that you archive stays here with all of its readings. Its serial number stays taken."
          : "Open a commission, press “Built?”, read the finished guitar at its jack, and keep it by its serial number.",
    ),
  );
