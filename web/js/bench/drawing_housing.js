/** The couplings of a coil with the others of its housing. */

import { fill, h } from "../shared/dom.js";
import { plainName } from "../shared/words.js";
import { valueField } from "./value_field.js";

/** @import {Session} from "../session/session.js" */
/** @import {Change, Field} from "../shared/types.js" */

/** Two coils side by side: what the field's own words say. */
const SIDE_BY_SIDE = "0.16";

/** Two coils as the file writes them, in brackets or without. @param {string} text */
const namesIn = (text) =>
  text
    .replace(/[[\]]/g, "")
    .split(",")
    .map((name) => name.trim());

/** @param {Session} session @param {(change: Change) => unknown} act */
export function housingView(session, act) {
  const element = h("div", { class: "values" });
  let built = "";
  /** @type {Map<string, ReturnType<typeof valueField>>} */
  let views = new Map();

  /** @param {string} coil @param {string} other */
  function fieldOf(coil, other) {
    const items = session.get().check?.around.find(({ name }) => name === "couplings")?.lists[0]?.items ?? [];
    const found = items.find(({ fields: [{ value }] }) => {
      const names = namesIn(value);
      return names.includes(coil) && names.includes(other);
    });
    const field = found?.fields.find(({ name }) => name === "coefficient");
    return field && { ...field, name: `coupling with ${other}` };
  }

  /** @param {string} coil @param {string} other @param {Field | undefined} field */
  function row(coil, other, field) {
    /** @param {string} label @param {string | null} coefficient */
    const button = (label, coefficient) =>
      h(
        "button",
        { type: "button", onclick: () => act({ do: "couple", coils: [coil, other], coefficient }) },
        label,
      );
    if (!field) return button(`Couple with ${plainName(other)}`, SIDE_BY_SIDE);
    const view = valueField(session, {
      part: "couplings",
      field,
      label: `${plainName(coil)} coupling with ${plainName(other)}`,
    });
    views.set(other, view);
    return h("div", { class: "coupling" }, view.element, button("Not coupled", null));
  }

  return {
    element,
    /** @param {string[][]} housings @param {string} coil */
    update(housings, coil) {
      const others = housings.find((names) => names.includes(coil))?.filter((name) => name !== coil) ?? [];
      const fields = others.map((other) => fieldOf(coil, other));
      const shape = JSON.stringify([coil, others, fields.map((field) => field?.path)]);
      if (shape !== built) {
        built = shape;
        views = new Map();
        fill(element, ...others.map((other, k) => row(coil, other, fields[k])));
      }
      others.forEach((other, k) => {
        const field = fields[k];
        if (field) views.get(other)?.update(field);
      });
    },
  };
}
