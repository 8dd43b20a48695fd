/** The list of commissions: find, open, start, rename, copy, archive. */

import * as api from "./api.js";
import { onConnection } from "../shared/http.js";
import { listCommissions } from "../shared/lists.js";
import { counted } from "../shared/words.js";
import { showDate } from "../shared/units.js";
import { latest } from "../shared/latest.js";
import { askText } from "../shared/dialog.js";
import { fill, h } from "../shared/dom.js";
import { newCommission } from "./new.js";
import { openWorkshop } from "./workshop.js";
import { createPictures } from "./pictures.js";
import { toast, toastError } from "../shared/notices.js";

/** @import {CommissionRow} from "../shared/types.js" */

/** @param {boolean} archived @param {AbortSignal} signal */
export function commissionsView(archived, signal) {
  const list = h("ul", {}, ...[0, 1, 2].map(() => h("li", { class: "bone", "aria-hidden": "true" })));
  const status = h("p", { class: "soft", role: "status" }, "Loading…");
  const { picture } = createPictures(signal);
  const search = h("input", {
    type: "search",
    placeholder: "Search",
    "aria-label": "Search commissions",
    oninput: () => load(),
  });
  const load = latest(
    async () => {
      const [rows, unread] = await Promise.all([
        listCommissions(search.value.trim(), archived),
        api.countUnread(),
      ]);
      fill(list, ...rows.map((row) => h("li", {}, card(row, load, picture, unread[row.id] ?? 0))));
      status.textContent = rows.length
        ? counted(rows.length, archived ? "archived commission" : "commission")
        : "";
      if (rows.length === 0) fill(list, h("li", {}, empty(search.value.trim(), archived)));
    },
    {
      failed: (error) => {
        status.textContent = error instanceof Error ? error.message : "";
      },
    },
  );
  const stop = onConnection((state) => {
    if (state === "there") load();
  });
  signal.addEventListener("abort", stop);
  load();
  return h(
    "main",
    { class: "view narrow", id: "main" },
    h(
      "div",
      { class: "list-head" },
      h("h1", {}, archived ? "Archived commissions" : "Commissions"),
      search,
      archived
        ? h("a", { class: "button", href: "#/" }, "Back to the list")
        : h("a", { class: "button main", href: "#/new" }, "New instrument in words"),
      !archived && h("button", { onclick: newCommission }, "New commission"),
      !archived && h("button", { class: "quiet", onclick: openWorkshop }, "Your workshop"),
    ),
    list,
    h(
      "div",
      { class: "row" },
      status,
      h("span", { class: "spread" }),
      !archived && h("a", { href: "#/archived", class: "soft" }, "Show archived"),
    ),
  );
}

/**
 * @param {CommissionRow} row @param {() => void} reload
 * @param {(version: string, name: string) => HTMLElement} picture @param {number} unread
 */
function card(row, reload, picture, unread) {
  const { id, title, client, wirings, changed, archived } = row;
  /** @param {boolean} away */
  const archive = async (away) => {
    await api.changeCommission(id, { archived: away });
    reload();
    toast(away ? `“${title}” is archived.` : `“${title}” is back in the list.`, {
      label: "Undo",
      act: () => api.changeCommission(id, { archived: !away }).then(reload, toastError),
    });
  };
  const about = [
    client,
    wirings.map(({ name }) => name).join("; "),
    changed && `changed ${showDate(changed)}`,
  ]
    .filter(Boolean)
    .join(" · ");
  /** @param {string} label @param {() => unknown} act */
  const button = (label, act) =>
    h(
      "button",
      {
        class: "small",
        "aria-label": `${label} ${title}`,
        onclick: () => Promise.resolve(act()).catch(toastError),
      },
      label,
    );
  return h(
    "div",
    { class: "card" },
    h(
      "a",
      { href: `#/c/${encodeURIComponent(id)}` },
      wirings.length > 0 && picture(wirings[0].version, wirings[0].name),
      h("b", {}, title),
      h("small", { class: "soft" }, about),
      unread > 0 && h("small", { class: "news" }, `${unread} new from the customer`),
    ),
    h(
      "div",
      { class: "acts" },
      button("Rename", () =>
        askText("Rename commission", "Name", title, async (text) => {
          await api.changeCommission(id, { title: text });
          reload();
        }),
      ),
      button("Copy", async () => {
        await api.copyCommission(id);
        reload();
        toast(`A copy of “${title}” is in the list.`);
      }),
      archived ? button("Restore", () => archive(false)) : button("Archive", () => archive(true)),
    ),
  );
}

/** @param {string} searched @param {boolean} archived */
function empty(searched, archived) {
  if (searched)
    return h(
      "div",
      { class: "empty" },
      h("h2", {}, `No match for “${searched}”`),
      h("p", { class: "soft" }, "The search looks in names, clients and wirings."),
    );
  if (archived)
    return h(
      "div",
      { class: "empty" },
      h("h2", {}, "No archived commissions"),
      h("p", { class: "soft" }, "Archived commissions stay here. You can restore them at any time."),
    );
  return h(
    "div",
    { class: "empty" },
    h("h2", {}, "No commissions yet"),
    h(
      "p",
      { class: "soft" },
      "A commission is one customer's job: an instrument, its coils, and the wirings you try for it. Say in words what goes in, or start from a ready wiring or a blank one.",
    ),
    h(
      "div",
      { class: "row" },
      h("a", { class: "button main", href: "#/new" }, "New instrument in words"),
      h("button", { onclick: newCommission }, "Start the first commission"),
    ),
  );
}
