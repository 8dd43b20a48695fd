/** What each condition of the set costs, as a small table: the range without it, on the same map. */

import { priceInWords } from "./words.js";
import { fixed } from "../shared/units.js";
import { fill, h } from "../shared/dom.js";

/** @import {Price, Search} from "./words.js" */

/**
 * @param {{show: (expressions: string[] | null) => void, use: (expressions: string[]) => void}} ways  show a
 *   set on the map beside the present one, or take it in its place
 */
export function costsView({ show, use }) {
  const body = h("tbody", {}),
    going = h("p", { class: "soft small", role: "status" });
  const element = h(
    "section",
    { class: "costs", "aria-labelledby": "costs-title", hidden: true },
    h("h4", { id: "costs-title" }, "What each condition costs"),
    h(
      "table",
      { class: "small" },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          h("th", { scope: "col" }, "Condition"),
          h("th", { scope: "col", class: "figure" }, "Costs"),
          h("th", { scope: "col", class: "figure" }, "Without it"),
          h("td", {}),
        ),
      ),
      body,
    ),
    going,
  );
  let built = "",
    shown = "";
  /** @param {Price} price */
  function rowOf(price) {
    const { condition, without } = price,
      set = without?.rows.map(({ expression }) => expression) ?? [];
    const pressed = shown === condition;
    return h(
      "tr",
      {},
      h("th", { scope: "row" }, condition),
      h("td", { class: "figure" }, priceInWords(price)),
      h(
        "td",
        { class: "figure" },
        without && without.distance_db !== null ? `${fixed(without.distance_db, 2)} dB` : "",
      ),
      h(
        "td",
        { class: "acts" },
        without &&
          h(
            "button",
            {
              type: "button",
              class: "small",
              "aria-pressed": String(pressed),
              "aria-label": `Show on the map: the set without ${condition}`,
              onclick: () => {
                shown = pressed ? "" : condition;
                show(pressed ? null : set);
                built = "";
                update(last);
              },
            },
            "Show",
          ),
        without &&
          h(
            "button",
            {
              type: "button",
              class: "small",
              "aria-label": `Use it: the set without ${condition}`,
              onclick: () => use(set),
            },
            "Use it",
          ),
      ),
    );
  }
  /** @type {Search | null} */
  let last = null;
  /** @param {Search | null} news */
  function update(news) {
    if (news?.id !== last?.id && shown) {
      shown = "";
      show(null);
    }
    last = news;
    const costs = news?.costs ?? [],
      share = news?.costs_share ?? 1;
    element.hidden = !news?.costs || (costs.length === 0 && share === 1);
    const next = JSON.stringify([costs, shown]);
    if (next !== built) {
      built = next;
      const focused = document.activeElement?.getAttribute("aria-label");
      fill(body, ...costs.map(rowOf));
      if (focused && document.activeElement === document.body)
        [...body.querySelectorAll("button")]
          .find((button) => button.getAttribute("aria-label") === focused)
          ?.focus();
    }
    going.textContent =
      share === 1
        ? ""
        : news?.state === "running"
          ? `Working out the next… ${Math.round(share * 100)} %`
          : "Stopped: the other conditions were not worked out.";
  }
  return { element, update };
}
