/** A list of a wiring: strings, joints, couplings, positions. Change, remove and add its items. */

import { problemText } from "../shared/http.js";
import { drawNetwork, networkInWords } from "../drawing/network.js";
import { fill, h, picture, say } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { toast } from "../shared/notices.js";
import { focusMover, moveButtons } from "../shared/moving.js";
import { isInUse } from "../shared/typing.js";
import { movePosition } from "./positions.js";
import { tryEdits } from "./try_edits.js";
import { valueField } from "./value_field.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit, Item, List} from "../shared/types.js" */

/**
 * @param {Session} session @param {List} list
 * @param {{part: string, word: string, focusNext: (path: string[]) => void}} about
 */
export function listView(session, list, { part, word, focusNext }) {
  const problem = h("p", { class: "problem", role: "alert" });
  const wide = list.items.some(({ fields }) => fields.length > 1);
  const title = (/** @type {Item} */ item, /** @type {number} */ k) =>
    part ? `${part.replaceAll("_", " ")} ${word} ${item.fields[0].name}` : `${word} ${k + 1}`;
  const rows = list.items.map((item, k) => itemView(item, capital(title(item, k)), k));

  /**
   * Apply edits if the whole wiring is valid with them; else show the reason here.
   * @param {() => Edit[]} makeEdits @param {() => void} [onApplied]
   */
  async function tried(makeEdits, onApplied) {
    try {
      const problems = await tryEdits(session, makeEdits, onApplied);
      say(problem, problems.map(problemText).join(" "));
      return problems.length === 0;
    } catch (error) {
      say(problem, error instanceof Error ? error.message : String(error));
      return false;
    }
  }
  /**
   * Buttons that move a position of a sketch, whose order is the selector's.
   * @param {Item} item @param {number} k
   */
  function movers({ fields: [{ name, form, path }] }, k) {
    if (form !== "expression") return [];
    const numbered = list.items.every(({ fields: [one] }) => /^\d+$/.test(one.name));
    return moveButtons({
      name: `position ${name}`,
      mark: path.join("/"),
      first: k === 0,
      last: k === list.items.length - 1,
      move: async (by) => {
        const way = by < 0 ? "up" : "down",
          within = /** @type {Element} */ (element.closest("details"));
        await movePosition(session, k, by);
        const to = list.items[numbered ? k + by : k].fields[0].path; // a number is a place: the sound moved
        focusMover(within, `${way} ${to.join("/")}`);
      },
    });
  }
  /** @param {Item} item @param {string} name @param {number} k */
  function itemView(item, name, k) {
    let now = item;
    const several = item.fields.length > 1;
    const fields = item.fields.map((field) =>
      valueField(session, {
        part,
        field,
        bare: true,
        label: several
          ? `${name} ${field.name}`
          : part
            ? `${capital(part.replaceAll("_", " "))} ${field.name}`
            : name,
      }),
    );
    const out = h(
      "button",
      {
        type: "button",
        class: "quiet",
        "aria-label": `Remove ${name.charAt(0).toLowerCase()}${name.slice(1)}`,
        onclick: async () => {
          if (await tried(() => now.remove.map((path) => ({ path, value: null }))))
            toast(`${name} removed.`, { label: "Undo", act: session.undo });
        },
      },
      icon("close"),
    );
    const lead = several
      ? null
      : h(
          "span",
          { class: "soft small lead", "aria-hidden": "true" },
          item.fields[0].name === "leads" ? name.replace(/\D+/, "") : item.fields[0].name,
        );
    const drawn = h("span", { class: "item-network", hidden: true });
    const element = h(
      "div",
      { class: several ? "item several" : "item" },
      lead,
      ...fields.map((field) => field.element),
      ...movers(item, k),
      out,
      item.network ? drawn : null,
    );
    drawSound(drawn, item);
    return {
      element,
      /** @param {Item} next */
      update(next) {
        now = next;
        drawSound(drawn, next);
        fields.forEach((field, k) => field.update(next.fields[k]));
      },
    };
  }
  const heads =
    wide &&
    h(
      "div",
      { class: "item several heads", "aria-hidden": "true" },
      ...list.items[0].fields.map(({ name }) => h("span", { class: "soft small" }, name)),
      h("span", {}),
    );
  let add = list.add;
  const adding = list.add.value
    ? h(
        "button",
        {
          type: "button",
          onclick: () =>
            tried(
              () => [{ path: add.path, value: add.value }],
              () => {
                focusNext(add.path);
                add = { ...add, path: pathAfter(add.path) };
              },
            ),
        },
        `Add a ${word}`,
      )
    : newOne();
  function newOne() {
    const field = valueField(session, {
      part,
      field: list.add,
      label: `New ${part ? `${word} of ${part.replaceAll("_", " ")}` : word}`,
      bare: true,
      hint: HINTS[/** @type {"terminals"} */ (list.add.form)] ?? "",
      onApplied: () => {
        const made = add.path;
        add = { ...add, path: pathAfter(made) };
        field.update(add);
        const input = field.element.querySelector("input, textarea");
        if (document.activeElement === input && !isInUse(/** @type {HTMLInputElement} */ (input)))
          focusNext(made);
      },
    });
    return h(
      "div",
      { class: "item" },
      h("span", { class: "soft small lead" }, `new ${part ? list.add.name : ""}`),
      field.element,
      h("span", {}),
    );
  }
  const element = h(
    "div",
    { class: "list", role: "group", "aria-label": list.name },
    part && h("span", { class: "soft small", "aria-hidden": "true" }, list.name),
    heads,
    ...rows.map((row) => row.element),
    problem,
    adding,
  );
  return {
    element,
    /** @param {List} next */
    update(next) {
      add = { ...next.add, path: add.path }; // items may have been added since that answer
      rows.forEach((row, k) => {
        if (next.items[k]) row.update(next.items[k]);
      });
    },
  };
}

/** The path of the item after a new one. @param {string[]} path */
const pathAfter = (path) => [...path.slice(0, -1), String(Number(path.at(-1)) + 1)];

const HINTS = {
  terminals: "volume.2, output.tip",
  contacts: "[A0, A1], [B0, B1]",
  expression: "neck | bridge",
};
/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** The small network of a sketched position. @param {HTMLElement} place @param {Item} item */
function drawSound(place, { network }) {
  place.hidden = !network;
  if (network) fill(place, picture(drawNetwork(network), networkInWords(network), "network-picture"));
}
