/** The head of the bench: commission and wiring, undo, parts, proposals. */

import { stepInWords } from "../session/names.js";
import { newest, placeOf } from "../session/session.js";
import { proposalsInWords } from "../proposals/words.js";
import { fill, h } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { keysHelp } from "./keys_help.js";
import { proposeDialog } from "../proposals/propose.js";
import { go } from "../session/versions.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit} from "../shared/types.js" */

/**
 * @param {Session} session
 * @param {{opened: () => void, reload: () => void}} ways opened: parts have been opened; reload: reload the
 *   proposals
 */
export function topView(session, { opened, reload }) {
  const { get, set, on } = session;
  const title = h("b", {}),
    wiring = h("select", { "aria-label": "Wiring", onchange: () => go(session, wiring.value) }),
    edited = h("span", { class: "heard small", role: "status" }),
    offered = h("span", { class: "small", role: "status" });
  const undo = h(
    "button",
    { type: "button", "aria-label": "Undo", title: "Undo (Ctrl+Z)", onclick: session.undo },
    icon("undo"),
  );
  const redo = h(
    "button",
    {
      type: "button",
      "aria-label": "Redo",
      title: "Redo (Ctrl+Shift+Z)",
      onclick: session.redo,
    },
    icon("redo"),
  );
  const parts = h(
    "button",
    {
      type: "button",
      "aria-controls": "parts",
      "aria-label": "Parts",
      onclick: () => {
        set({ drawer: get().view !== "bench" || !get().drawer, view: "bench" });
        if (get().drawer) opened();
      },
    },
    icon("parts"),
    h("span", { class: "label" }, "Parts"),
  );
  const range = h(
    "button",
    {
      type: "button",
      "aria-label": "Range",
      title: "The range of sounds these coils can make, and lug charts",
      onclick: () => set({ view: get().view === "range" ? "bench" : "range" }),
    },
    icon("map"),
    h("span", { class: "label" }, "Range"),
  );
  const sheet = h(
    "button",
    {
      type: "button",
      "aria-label": "Build sheet",
      title: "What to solder, in order; parts, meter readings, checks",
      onclick: () => set({ view: get().view === "sheet" ? "bench" : "sheet" }),
    },
    icon("sheet"),
    h("span", { class: "label" }, "Sheet"),
  );
  const built = h(
    "button",
    {
      type: "button",
      "aria-label": "Built?",
      title: "The finished guitar: what to read at its jack, and what it says",
      onclick: () => set({ view: get().view === "built" ? "bench" : "built" }),
    },
    icon("built"),
    h("span", { class: "label" }, "Built?"),
  );
  function show() {
    const { commission, slots, current, histories, drawer, before, view, step, names } = get();
    const { version, edits } = slots[current],
      place = placeOf(commission, version);
    title.textContent = commission.title;
    fill(
      wiring,
      ...commission.wirings.map(({ id, name, versions }) => {
        const here = id === place?.wiring.id ? place.version : newest(versions);
        return h("option", { value: here?.id ?? "" }, `${name}, version ${here?.number ?? 1}`);
      }),
    );
    wiring.value = version;
    const state = before ? "before the edits" : edits.length ? "edited" : "";
    edited.textContent = [state, step].filter(Boolean).join(" · ");
    const { past, future } = histories[current];
    undo.disabled = past.length === 0;
    redo.disabled = future.length === 0;
    const tip = (
      /** @type {string} */ act,
      /** @type {Edit[] | undefined} */ to,
      /** @type {string} */ key,
    ) => `${[act, to && stepInWords(names, version, edits, to)].filter(Boolean).join(" ")} (${key})`;
    undo.title = tip("Undo", past.at(-1), "Ctrl+Z");
    redo.title = tip("Redo", future[0], "Ctrl+Shift+Z");
    parts.setAttribute("aria-pressed", String(drawer && view === "bench"));
    range.setAttribute("aria-pressed", String(view === "range"));
    sheet.setAttribute("aria-pressed", String(view === "sheet"));
    built.setAttribute("aria-pressed", String(view === "built"));
    document.title = `${commission.title} · Presolder`;
  }
  on(["proposals"], ({ proposals }) => {
    const words = proposalsInWords(proposals);
    offered.textContent = words;
    offered.className = words.startsWith("signed") ? "small ok" : "small soft";
  });
  on(["commission", "slots", "current", "histories", "drawer", "before", "view", "step", "names"], show);
  show();
  return h(
    "header",
    { class: "top" },
    h("a", { class: "mark", href: "#/" }, icon("back"), h("span", { class: "label" }, "Presolder")),
    h("h1", { class: "crumb" }, title),
    h("div", { class: "crumb wiring" }, wiring),
    h("div", { class: "states" }, edited, offered),
    h(
      "div",
      { class: "row" },
      undo,
      redo,
      h(
        "button",
        { type: "button", class: "on-keys", "aria-label": "Keys", title: "Keys", onclick: keysHelp },
        icon("keys"),
      ),
      range,
      sheet,
      built,
      parts,
      h(
        "a",
        {
          class: "button listings-link",
          "aria-label": "Listing",
          href: `#/listings/new?c=${encodeURIComponent(get().commission.id)}`,
        },
        icon("listing"),
        h("span", { class: "wide" }, "Listing"),
      ),
      h(
        "button",
        {
          type: "button",
          class: "main",
          "aria-label": "Propose to the customer",
          onclick: () => proposeDialog(session, reload),
        },
        "Propose ",
        h("span", { class: "label" }, "to the customer"),
      ),
    ),
  );
}
