/** Two to four sounds side by side: a slot each, one of them heard. */

import { same } from "./store.js";
import { fixed } from "./units.js";
import { plainName } from "./words.js";

/** @import {Draft, Slot} from "./types.js" */

export const LETTERS = ["A", "B", "C", "D"];
export const MOST = LETTERS.length;

/** @typedef {{slots: Slot[], current: number}} Slots */

/** Change the heard slot. @param {Slots} all @param {Partial<Slot>} change @returns {Slots} */
export const changeSlot = ({ slots, current }, change) => ({
  slots: slots.map((slot, k) => (k === current ? { ...slot, ...change } : slot)),
  current,
});

/** The heard sound, kept as a further slot. @param {Slots} all @returns {Slots} */
export const keepSlot = ({ slots, current }) => ({
  slots: slots.length >= MOST ? slots : [...slots, structuredClone(slots[current])],
  current,
});

/** @param {Slots} all @param {number} k @returns {Slots} */
export const hearSlot = ({ slots, current }, k) => ({ slots, current: k >= 0 && k < slots.length ? k : current });

/** The last one cannot go. @param {Slots} all @param {number} k @returns {Slots} */
export function dropSlot({ slots, current }, k) {
  if (slots.length < 2 || k < 0 || k >= slots.length) return { slots, current };
  const left = slots.filter((_, j) => j !== k);
  return { slots: left, current: k < current ? current - 1 : Math.min(current, left.length - 1) };
}

/** What sets a slot apart, in as few words as do. @param {Slot} slot @param {Slot[]} all @param {(version: string) => string} [named] */
export function slotInWords(slot, all, named = () => "") {
  const others = all.filter((other) => other !== slot);
  const knobs = Object.entries(slot.knobs)
    .filter(([name, value]) => others.some((other) => other.knobs[name] !== value) || (others.length === 0 && value !== 10))
    .map(([name, value]) => `${plainName(name).toLowerCase()} ${fixed(value)}`);
  const switches = Object.entries(slot.switches)
    .filter(([name, at]) => others.some((other) => other.switches[name] !== at))
    .map(([name, at]) => `${plainName(name).toLowerCase()} ${at}`);
  const edits = slot.edits
    .filter((edit) => others.length === 0 || others.some((other) => !other.edits.some((e) => same(e, edit))))
    .map((edit) => `${edit.path.slice(1, 2).join("").replaceAll("_", " ")} ${edit.value}`);
  const version = others.some((other) => other.version !== slot.version) ? named(slot.version) : "";
  return [version, slot.position, ...switches, ...knobs, ...edits].filter(Boolean).join(", ");
}

/** Put an edit among others: one per place, the newest wins. @param {Draft["edits"]} edits @param {Draft["edits"][number]} edit */
export const withEdit = (edits, edit) => [...edits.filter((one) => !same(one.path, edit.path)), edit];

const HEARD_BY_STRINGS = ["at", "aperture", "winding", "magnet", "sensitivity", "string_balance", "like", "kind"];

/** Edits that change what the strings induce in the coils, so that stems must be fetched anew. @param {Draft["edits"]} edits */
export const stemEdits = (edits) =>
  edits.filter(({ path }) => path[0] === "instrument" || HEARD_BY_STRINGS.includes(path[2] ?? ""));
