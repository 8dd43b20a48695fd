/** The choice of wirings for a listing, and of positions of each. */

import { plainName } from "../shared/words.js";
import { buyersView } from "./for_buyers.js";
import { fill, h } from "../shared/dom.js";

/** @import {CommissionRow} from "../shared/types.js" */
/** @import {Form, FormField, Planned} from "./words.js" */

/**
 * @param {CommissionRow[]} commissions @param {FormField[]} fields what a page says to buyers
 * @param {Form} form changed in place @param {() => void} changed
 * @returns {{element: HTMLElement, show: (plan: Map<string, Planned>) => void}} show: show the positions that
 *   each wiring offers
 */
export function instrumentsView(commissions, fields, form, changed) {
  const groups = commissions
    .filter(({ wirings }) => wirings.length > 0)
    .map((row) => commissionView(row, fields, form, changed));
  const none = h("p", { class: "soft", hidden: true }, "No commission matches.");
  const search = h("input", {
    type: "search",
    placeholder: "Search",
    "aria-label": "Search instruments",
    oninput: () => {
      const words = search.value.toLocaleLowerCase().split(/\s+/);
      for (const group of groups) group.element.hidden = !words.every((word) => group.words.includes(word));
      none.hidden = groups.some((group) => !group.element.hidden);
    },
  });
  /** Choose all visible wirings, or none. @param {boolean} on */
  const all = (on) => {
    for (const group of groups) if (!group.element.hidden) group.tick(on);
    changed();
  };
  const element = h(
    "fieldset",
    { class: "sheet choose" },
    h("legend", {}, "Instruments"),
    h(
      "p",
      { class: "soft small" },
      "The listing uses the newest saved version of each wiring. Later versions do not change it.",
    ),
    groups.length > 1
      ? h(
          "div",
          { class: "row" },
          h("div", { class: "spread" }, search),
          h("button", { type: "button", class: "small", onclick: () => all(true) }, "All"),
          h("button", { type: "button", class: "small", onclick: () => all(false) }, "None"),
        )
      : null,
    ...groups.map((group) => group.element),
    none,
  );
  return {
    element,
    show: (/** @type {Map<string, Planned>} */ plan) => {
      for (const group of groups) group.show(plan);
    },
  };
}

/** @param {CommissionRow} row @param {FormField[]} fields @param {Form} form @param {() => void} changed */
function commissionView({ title, client, wirings }, fields, form, changed) {
  const rows = wirings.map((wiring) =>
    wiringView(wiring, wirings.length === 1 && wiring.name === title ? "" : title, fields, form, changed),
  );
  const element = h("div", { class: "ticks" }, ...rows.map((row) => row.element));
  return {
    element,
    words: [title, client, ...wirings.map(({ name }) => name)].join(" ").toLocaleLowerCase(),
    tick: (/** @type {boolean} */ on) => {
      for (const row of rows) row.tick(on);
    },
    show: (/** @type {Map<string, Planned>} */ plan) => {
      for (const row of rows) row.show(plan);
    },
  };
}

/**
 * @param {CommissionRow["wirings"][number]} wiring @param {string} home @param {FormField[]} fields
 * @param {Form} form @param {() => void} changed
 */
function wiringView({ id, name, version }, home, fields, form, changed) {
  const on = h("input", {
    type: "checkbox",
    checked: id in form.wirings,
    onchange: () => {
      tick(on.checked);
      changed();
    },
  });
  const summary = h("summary", { class: "small soft" }),
    places = h("div", { class: "places" }),
    notes = h("ul", { class: "small" });
  const details = h("details", { hidden: true }, summary, places),
    buyers = h("div", { class: "buyers", hidden: !on.checked });
  const showBuyers = () => fill(buyers, buyersView(fields, name, (form.sales[id] ??= {}), changed));
  if (on.checked) showBuyers();
  /** @param {boolean} now */
  function tick(now) {
    on.checked = now;
    buyers.hidden = !now;
    if (now && !buyers.firstChild) showBuyers();
    if (now) form.wirings[id] ??= [];
    else delete form.wirings[id];
    if (!now) {
      details.hidden = true;
      fill(notes);
    }
  }
  let known = "";
  /** @param {Map<string, Planned>} plan */
  function show(plan) {
    const found = on.checked ? plan.get(version) : undefined;
    details.hidden = !found?.positions.length;
    fill(
      notes,
      ...(found?.problems ?? []).map((text) => h("li", { class: "bad" }, text)),
      ...(found?.left_out ?? []).map((text) => h("li", { class: "warn" }, `Left out: ${text}`)),
    );
    if (!found) return;
    const key = JSON.stringify(found.positions);
    if (key !== known)
      fill(places, ...found.positions.map(({ position, label }) => placeView(position, label)));
    known = key;
    showCount(found.positions.length);
  }
  /** @param {number} total */
  const showCount = (total) => {
    summary.textContent = form.wirings[id]?.length
      ? `${form.wirings[id].length} of ${total} positions`
      : `All ${total} positions`;
  };
  /** @param {string} position @param {string} label */
  function placeView(position, label) {
    const box = h("input", {
      type: "checkbox",
      checked: !form.wirings[id]?.length || form.wirings[id].includes(position),
      onchange: () => {
        const boxes = [...places.querySelectorAll("input")],
          chosen = boxes.filter((one) => one.checked).map((one) => one.value);
        if (chosen.length === 0) {
          box.checked = true;
          return;
        } // a wiring without positions is not chosen
        form.wirings[id] = chosen.length === boxes.length ? [] : chosen;
        showCount(boxes.length);
        changed();
      },
    });
    box.value = position;
    return h("label", {}, box, h("span", {}, `${position}  ${label || plainName("position")}`.trim()));
  }
  const element = h(
    "div",
    { class: "instrument" },
    h(
      "label",
      {},
      on,
      h("span", { class: "words" }, name, " ", home ? h("small", { class: "soft" }, home) : null),
    ),
    details,
    buyers,
    notes,
  );
  return { element, tick, show };
}
