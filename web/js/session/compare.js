/** Two to four sounds to compare: a slot each, one of them playing. */

import { same } from "../shared/store.js";
import { fixed } from "../shared/units.js";
import { plainName } from "../shared/words.js";

/** @import {Draft, Slot} from "../shared/types.js" */

export const LETTERS = ["A", "B", "C", "D"];
export const MOST = LETTERS.length;

/** @typedef {{slots: Slot[], current: number}} Slots */

/** Change the current slot. @param {Slots} all @param {Partial<Slot>} change @returns {Slots} */
export const changeSlot = ({ slots, current }, change) => ({
  slots: slots.map((slot, k) => (k === current ? { ...slot, ...change } : slot)),
  current,
});

/** Keep the current sound as another slot. @param {Slots} all @returns {Slots} */
export const keepSlot = ({ slots, current }) => ({
  slots: slots.length >= MOST ? slots : [...slots, structuredClone(slots[current])],
  current,
});

/** Copies of a slot with edits on top of its own. @param {Slot} slot @param {Draft["edits"][]} changes */
export const besideSlots = (slot, changes) =>
  changes.map((edits) => ({ ...structuredClone(slot), edits: edits.reduce(withEdit, slot.edits) }));

/** @param {Slots} all @param {number} k @returns {Slots} */
export const hearSlot = ({ slots, current }, k) => ({
  slots,
  current: k >= 0 && k < slots.length ? k : current,
});

/** Remove a slot, but never the last one. @param {Slots} all @param {number} k @returns {Slots} */
export function dropSlot({ slots, current }, k) {
  if (slots.length < 2 || k < 0 || k >= slots.length) return { slots, current };
  const left = slots.filter((_, j) => j !== k);
  return { slots: left, current: k < current ? current - 1 : Math.min(current, left.length - 1) };
}

/**
 * What distinguishes a slot from the others, in few words.
 * @param {Slot} slot @param {Slot[]} all @param {(version: string) => string} [named]
 * @param {(version: string, edit: Draft["edits"][number]) => string} [nameEdit]
 */
export function slotInWords(
  slot,
  all,
  named = () => "",
  nameEdit = (_version, { path }) => placeInWords(path),
) {
  const others = all.filter((other) => other !== slot);
  const knobs = Object.entries(slot.knobs)
    .filter(
      ([name, value]) =>
        others.some((other) => other.knobs[name] !== value) || (others.length === 0 && value !== 10),
    )
    .map(([name, value]) => `${plainName(name).toLowerCase()} ${fixed(value)}`);
  const switches = Object.entries(slot.switches)
    .filter(([name, at]) => others.some((other) => other.switches[name] !== at))
    .map(([name, at]) => `${plainName(name).toLowerCase()} ${/^\d+$/.test(at) ? "at " : ""}${at}`);
  const edits = slot.edits
    .filter((edit) => others.length === 0 || others.some((other) => !other.edits.some((e) => same(e, edit))))
    .map((edit) => nameEdit(slot.version, edit));
  const version = others.some((other) => other.version !== slot.version) ? named(slot.version) : "";
  return [version, slot.position, ...switches, ...knobs, listNames(edits)].filter(Boolean).join(", ");
}

/** Names of edits as one text, at most three of them. @param {string[]} names */
export function listNames(names) {
  const told = [...new Set(names.filter(Boolean))];
  return told.length > 3
    ? `${told.slice(0, 2).join(", ")} and ${told.length - 2} more edits`
    : told.join(", ");
}

/** @param {string[]} path @param {string[]} above */
const isWithin = (path, above) => same(path.slice(0, above.length), above);

/**
 * Add an edit. It replaces edits of the same place and of places below it.
 * @param {Draft["edits"]} edits @param {Draft["edits"][number]} edit
 */
export const withEdit = (edits, edit) => [...edits.filter((one) => !isWithin(one.path, edit.path)), edit];

/**
 * A map of texts as a wiring file writes it on one line, without the empty ones.
 * @param {[string, string][]} entries
 */
export const mapText = (entries) =>
  `{${entries
    .filter(([, text]) => text)
    .map(([name, text]) => `${name}: ${JSON.stringify(text)}`)
    .join(", ")}}`;

const ONE_OF = {
  strings: "string",
  joints: "joint",
  couplings: "coupling",
  labels: "label",
  contacts: "position",
  positions: "position",
};

/** The place of an edit in words. Items of lists count from 1. @param {string[]} path */
export function placeInWords(path) {
  const named = path.filter((name, k) => !(k === 0 && ["parts", "instrument"].includes(name)));
  return named
    .map((name, k) => {
      const list = k > 0 && isNumbered(named[k - 1]) && /^\d+$/.test(name);
      return list
        ? String(Number(name) + 1)
        : (ONE_OF[/** @type {"joints"} */ (name)] ?? name).replaceAll("_", " ");
    })
    .join(" ");
}

/** Whether edits address the items of a list by number, from 0. @param {string} name */
const isNumbered = (name) => ["strings", "joints", "couplings"].includes(name);

/**
 * Whether edits depend on the order of a list, which another version may have changed.
 * @param {Draft["edits"]} edits
 */
export const usesNumbers = (edits) => edits.some(({ path }) => path.slice(0, -1).some(isNumbered));

/** Fields of a coil on which the signals that strings induce in it depend. */
const HEARD_BY_STRINGS = [
  "at",
  "aperture",
  "winding",
  "magnet",
  "sensitivity",
  "string_balance",
  "like",
  "kind",
];
/** Those on which the hum of a room does. */
const HEARD_BY_HUM = ["winding", "turns_area", "hum_area", "like", "kind"];

/**
 * Whether an edit of a whole part may add or remove a coil.
 * @param {string | null} value
 */
const mayBeCoil = (value) => value === null || !/\bkind: (?!coil)/.test(value);

/** Edits that change the signals induced in the coils, and so the stems. @param {Draft["edits"]} edits */
export const stemEdits = (edits) => coilEdits(edits, HEARD_BY_STRINGS);

/** Edits that change the hum induced in the coils. @param {Draft["edits"]} edits */
export const humEdits = (edits) => coilEdits(edits, HEARD_BY_HUM);

/**
 * Edits that may change which coils there are, and those of some of their fields.
 * @param {Draft["edits"]} edits @param {string[]} fields
 */
function coilEdits(edits, fields) {
  const others = new Set(
    edits
      .filter(({ path, value }) => path[0] === "parts" && path.length === 2 && !mayBeCoil(value))
      .map(({ path }) => path[1]),
  );
  return edits.filter(
    ({ path }) =>
      ["instrument", "renamed"].includes(path[0]) ||
      (path[0] === "parts" && !others.has(path[1]) && (path.length === 2 || fields.includes(path[2]))),
  );
}
