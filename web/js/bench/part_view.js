/** A part or another section, unfolded: its values, its lists, the library. */

import { plainName } from "../shared/words.js";
import { h, say } from "../shared/dom.js";
import { balanceView } from "./balance_view.js";
import { libraryPicker } from "./library_picker.js";
import { listView } from "./list_view.js";
import { partActs } from "./part_acts.js";
import { valueField } from "./value_field.js";

/** @import {Session} from "../session/session.js" */
/** @import {Around, Change, Changed, Field, Part} from "../shared/types.js" */

/** The value shown beside a part's name. */
const MAIN = ["capacitance", "resistance", "inductance"];
/** Fields of a switch that appear by position instead. */
const BY_POSITION = "contacts";
const ONE_OF = { strings: "string", joints: "joint", couplings: "coupling" };

/** Fields of a switch that are shown before they have a value, each with the field that must have one. */
const OFFERED = /** @type {Record<string, string>} */ ({ timing: "", body: "", function: "poles" });

/**
 * Fields to show. A switch shows only the form used in its file: table or short form.
 * @param {Part | Around} part
 */
export const shownFields = (part) => {
  const has = (/** @type {string} */ name) =>
    part.fields.some((one) => one.name === name && (one.value !== "" || !!one.inherited));
  return part.fields.filter(
    ({ name, value, inherited }) =>
      !("kind" in part && part.kind === "switch") ||
      (value !== "" && name !== BY_POSITION) ||
      !!inherited ||
      (name in OFFERED && (!OFFERED[name] || has(OFFERED[name]))),
  );
};

/** Whether the part has anything to edit. @param {Part | Around} part */
export const canChange = (part) =>
  ("kind" in part && part.kind !== "load") || shownFields(part).length + (part.lists ?? []).length > 0;

/** The shape of a part's view: rebuild the view when it differs. @param {Part | Around} part */
export const shapeOf = (part) => [
  part.name,
  "kind" in part ? [part.kind, part.swaps] : "",
  shownFields(part).map(({ name, path, steps, choices }) => [name, path, !!steps, choices]),
  (part.lists ?? []).map(({ items, add }) => [
    items.map(({ remove }) => remove[0]),
    add.path,
    add.value === "",
  ]),
];

/** @typedef {{focusNext: (path: string[]) => void, act: (change: Change) => Promise<Changed | null>}} Ways
 *   focusNext: sets the field to focus once it exists; act: does one thing to the wiring */

/** @param {Session} session @param {Part | Around} part @param {Ways} ways */
export function partView(session, part, ways) {
  const around = !("kind" in part),
    placed = "kind" in part && part.kind === "load" ? "load" : "parts",
    word = part.name === "joints" ? "Joints as text" : plainName(part.name);
  const body = partBody(session, part, ways);
  const main = h("small", {});
  const element = h(
    "details",
    { class: "part", [around ? "data-around" : "data-part"]: part.name },
    h("summary", {}, h("span", {}, word), main),
    body.element,
  );
  return {
    element,
    /** @param {Part | Around} now */
    update(now) {
      body.update(now);
      say(main, inShort(now));
      main.classList.toggle(
        "changed",
        session
          .slot()
          .edits.some(({ path }) => (around ? path[0] : path[0] === placed && path[1]) === part.name),
      );
    },
  };
}

/**
 * What can be done with a part, its values and its lists.
 * @param {Session} session @param {Part | Around} part @param {Ways} ways
 */
export function partBody(session, part, { focusNext, act }) {
  const around = !("kind" in part);
  const fields = shownFields(part).map((field) => ({
    name: field.name,
    view: valueField(session, { part: part.name, field, label: labelOf(part, field) }),
  }));
  const lists = (part.lists ?? []).map((list) =>
    listView(session, list, {
      part: around ? "" : part.name,
      word: around ? (ONE_OF[/** @type {"joints"} */ (list.name)] ?? list.name) : "position",
      focusNext,
    }),
  );
  const like = h("p", { class: "soft small like" });
  const balance = "kind" in part && part.kind === "coil" ? balanceView() : null;
  const library = "kind" in part ? libraryPicker(session, part) : null;
  const acts = "kind" in part && part.kind !== "load" ? partActs(session, part, act) : null;
  const element = h(
    "div",
    { class: "values" },
    acts?.element,
    like,
    ...fields.map(({ view }) => view.element),
    ...lists.map((list) => list.element),
    balance?.element,
    library?.element,
  );
  return {
    element,
    /** Open the field for a new name. */
    rename: () => acts?.rename(),
    /** @param {Part | Around} now */
    update(now) {
      for (const { name, view } of fields) {
        const field = now.fields.find((one) => one.name === name);
        if (field) view.update(field);
      }
      lists.forEach((list, k) => {
        const next = now.lists?.[k];
        if (next) list.update(next);
      });
      const entry = ("kind" in now && now.like) || "";
      like.hidden = !entry;
      say(
        like,
        entry ? `From the library: ${entry.replaceAll("_", " ")}. Grey values are the library's.` : "",
      );
      if ("kind" in now) {
        balance?.update(now.balance ?? []);
        library?.update(now);
        acts?.update(now);
      }
    },
  };
}

/** @param {Part | Around} part @param {Field} field */
const labelOf = (part, field) =>
  `${part.name === "labels" ? "Label of position" : plainName(part.name)} ${field.name.replaceAll("_", " ")}`;

/** @param {Part | Around} part */
function inShort(part) {
  if ("kind" in part) {
    const shown = part.fields.find(
      ({ name, value, inherited }) => MAIN.includes(name) && (value || inherited),
    );
    const tolerance = part.fields.find(({ name }) => name === "tolerance")?.value ?? "",
      within = tolerance && !tolerance.startsWith("{") ? `± ${tolerance}` : "";
    return [part.kind, shown?.value || shown?.inherited, within].filter(Boolean).join(" ");
  }
  const [list] = part.lists;
  const count = list
    ? `${list.items.length} ${list.items.length === 1 ? ONE_OF[/** @type {"joints"} */ (list.name)] : list.name}`
    : "";
  return part.name === "instrument" ? [part.fields[0]?.value, count].filter(Boolean).join(", ") : count;
}
