/** One built instrument: its card, and all that is kept of it. */

import { openDialog } from "../shared/dialog.js";
import { fill, h } from "../shared/dom.js";
import { reasonOf } from "../shared/file_place.js";
import { toast, toastError } from "../shared/notices.js";
import { whenText } from "../shared/recordings.js";
import * as api from "./api.js";
import { sideOf } from "./meter_table.js";
import { aboutText, sidesText, verdictLook, verdictSign, verdictText } from "./words.js";

/** @import {Instrument} from "./api.js" */

/**
 * @param {Instrument} one
 * @param {{changed: () => void, again?: () => void, home?: boolean}} ways  again: read it again; home: say
 *   whose it is, with a way there
 */
export function instrumentCard(one, { changed, again, home = false }) {
  const { serial } = one;
  /** @param {boolean} away */
  const archive = async (away) => {
    await api.setArchived(one.id, away);
    changed();
    toast(away ? `${serial} is archived.` : `${serial} is back in the record.`, {
      label: "Undo",
      act: () => api.setArchived(one.id, !away).then(changed, toastError),
    });
  };
  /** @param {string} label @param {() => unknown} act */
  const button = (label, act) =>
    h(
      "button",
      {
        type: "button",
        class: "small",
        "aria-label": `${label}: ${serial}`,
        onclick: () => Promise.resolve(act()).catch(toastError),
      },
      label,
    );
  /** @param {"a4" | "letter"} paper @param {string} label */
  const report = (paper, label) =>
    h(
      "a",
      {
        class: "button small",
        href: api.reportUrl(one.id, paper),
        download: "",
        "aria-label": `${label}: ${serial}`,
      },
      label,
    );
  return h(
    "div",
    { class: "built-card" },
    h(
      "div",
      {},
      h("b", {}, serial),
      h("small", { class: "soft" }, aboutText(one)),
      home &&
        h(
          "small",
          {},
          h(
            "a",
            { href: `#/c/${encodeURIComponent(one.commission_id)}/built` },
            [one.title, one.client, one.wiring].filter(Boolean).join(", "),
          ),
        ),
      verdictLine(one),
    ),
    h(
      "div",
      { class: "row" },
      button("Look", () => showInstrument(one)),
      again && button("Read again", again),
      report("a4", "Report, A4"),
      report("letter", "Report, Letter"),
      one.archived ? button("Restore", () => archive(false)) : button("Archive", () => archive(true)),
    ),
  );
}

/** @param {Instrument} one */
const verdictLine = ({ verdict }) =>
  h(
    "span",
    { class: `built-line ${verdictLook(verdict)}` },
    h("span", { class: "built-sign", "aria-hidden": "true" }, verdictSign(verdict)),
    h("span", {}, verdictText(verdict)),
  );

/** Everything that is kept of an instrument. @param {Instrument} one */
function showInstrument(one) {
  openDialog(one.serial, () => {
    const body = h("div", { class: "built-all" }, h("p", { role: "status" }, "Opening…"));
    api.getInstrument(one.id).then(
      ({ history, ...now }) =>
        fill(
          body,
          state(now),
          history.length > 0 && h("h3", {}, "What stood before"),
          ...history.map((before) =>
            h(
              "details",
              {},
              h("summary", {}, `${before.serial}, kept ${whenText(before.saved)}: ${before.verdict.text}`),
              state(before),
            ),
          ),
        ),
      (error) => fill(body, h("p", { class: "problem", role: "alert" }, reasonOf(error))),
    );
    return body;
  });
}

/** @param {Instrument} one */
const state = (one) =>
  h(
    "div",
    {},
    h("p", { class: "soft small" }, `${aboutText(one)} · kept ${whenText(one.saved)}`),
    verdictLine(one),
    sidesText(one) && h("p", { class: "small" }, sidesText(one)),
    one.notes && h("p", { class: "built-notes" }, one.notes),
    h(
      "table",
      { class: "built-table" },
      h(
        "thead",
        {},
        h("tr", {}, ...["Setting", "Band", "Says"].map((text) => h("th", { scope: "col" }, text))),
      ),
      h(
        "tbody",
        {},
        ...one.readings.map((reading) =>
          h(
            "tr",
            {},
            h("th", { scope: "row" }, `${reading.setting}, ${reading.what}`),
            h("td", { "data-head": "Band" }, reading.band),
            h("td", { class: "built-said" }, sideOf({ ...reading, words: "" })),
          ),
        ),
      ),
    ),
  );
