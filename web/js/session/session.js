/** One commission on the bench: what is heard, how it was changed, and the ways to change it. */

import { createStore, same } from "../shared/store.js";
import { record, redo, startHistory, undo } from "./history.js";
import { changeSlot, dropSlot, hearSlot, keepSlot, withEdit } from "./compare.js";
import { onTravel } from "../shared/units.js";
import { startRanging } from "./ranging.js";

/** @import {Check, Commission, Draft, Edit, Facts, Fan, Problem, Proposal, Response as Curves, Setting, Slot, Take} from "../shared/types.js" */
/** @import {History} from "./history.js" */
/** @import {RangeState} from "./ranging.js" */

/**
 * @typedef {object} State
 * @property {Commission} commission
 * @property {Take[]} takes
 * @property {string} take
 * @property {Slot[]} slots
 * @property {number} current
 * @property {History<Edit[]>[]} histories  of the edits, one for each slot
 * @property {boolean} before  hear and see the saved version, without the edits
 * @property {Record<string, [number, number]>} loops  per take, seconds
 * @property {boolean} matched
 * @property {number} output
 * @property {boolean} drawer
 * @property {number | null} string  whose sum is drawn, the lowest being 1; null for coils that hear alike
 * @property {string} fanned  the knob whose sweep is drawn, or nothing
 * @property {Record<string, {from: number, to: number, seconds: number}>} sweeps
 * @property {"bench" | "range"} view
 * @property {RangeState} range  what is asked of the search for the range, and what was made of it
 * @property {{path: string[], value: string, position: string} | null} trying  a sound heard in a position's place
 * @property {string} sweeping  the knob that moves by itself, or nothing
 * @property {Check | null} check
 * @property {Facts[]} facts
 * @property {(Curves | null)[]} curves  one for each slot
 * @property {Record<string, Fan>} fans
 * @property {Problem[]} problems
 * @property {Proposal[]} proposals  put before the customer
 * @property {boolean} playing
 * @property {boolean} opening  stems are on their way
 * @property {string} silence  why nothing is heard, or nothing
 * @property {number} head  seconds
 * @property {"live" | "fallback" | "offline" | null} link  how filters come
 * @property {number} stumbles  times the sound has broken off
 */
/** @typedef {ReturnType<typeof createSession>} Session */

/** Output at the start, half of its travel of 60 dB: quiet, because nobody knows how loud the speakers are. */
export const QUIET = 0.5;

/** What a slot sounds through and where its controls stand. @param {State} state @param {number} [k] @returns {{draft: Draft, setting: Setting}} */
export function heard(state, k = state.current) {
  const { version, edits, position, knobs, switches } = state.slots[k];
  return {
    draft: { version, edits: state.before && k === state.current ? [] : edits },
    setting: { position, knobs, switches },
  };
}

/** What comes out of the loudspeaker: as `heard`, or the sound that is tried in a position's place. @param {State} state @param {number} [k]
 * @returns {{draft: Draft, setting: Setting}} */
export function sounding(state, k = state.current) {
  const { draft, setting } = heard(state, k),
    { trying } = state;
  if (!trying || k !== state.current) return { draft, setting };
  const { path, value, position } = trying;
  return {
    draft: { ...draft, edits: withEdit(draft.edits, { path, value }) },
    setting: { ...setting, position },
  };
}

/** @param {Commission} commission @param {Take[]} takes @param {Partial<State>} remembered */
export function createSession(commission, takes, remembered) {
  const slots = remembered.slots ?? [firstSlot(commission)];
  /** @type {State} */
  const start = {
    commission,
    takes,
    slots,
    current: 0,
    take: takes[0]?.id ?? "",
    before: false,
    loops: {},
    matched: false,
    drawer: false,
    string: null,
    fanned: "",
    sweeps: {},
    view: "bench",
    range: startRanging(),
    histories: slots.map((slot) => startHistory(slot.edits)),
    ...remembered,
    output: QUIET,
    trying: null,
    sweeping: "",
    check: null,
    facts: [],
    curves: slots.map(() => null),
    fans: {},
    problems: [],
    proposals: [],
    playing: false,
    opening: false,
    silence: "",
    head: 0,
    link: null,
    stumbles: 0,
  };
  const store = createStore(start);
  const closing = new AbortController();
  const { get, set } = store;
  /** @param {Partial<Slot>} change */
  const change = (change) => set(changeSlot(get(), change));
  const slot = () => get().slots[get().current];
  /** @param {History<Edit[]>} history */
  const setHistory = (history) => {
    const { histories, current } = get();
    set({
      ...changeSlot(get(), { edits: history.now }),
      histories: histories.map((one, k) => (k === current ? history : one)),
      before: false,
    });
  };
  const history = () => get().histories[get().current];
  return {
    store,
    get,
    set,
    slot,
    on: store.on,
    signal: closing.signal,
    close: () => closing.abort(),
    /** @param {string} position */
    setPosition: (position) => change({ position }),
    /** @param {string} name @param {number} value */
    setKnob: (name, value) => change({ knobs: { ...slot().knobs, [name]: onTravel(value) } }),
    /** Put a knob of several slots back. @param {string} name @param {Map<number, number>} values by slot */
    putBack: (name, values) =>
      set({
        slots: get().slots.map((one, k) =>
          values.has(k) ? { ...one, knobs: { ...one.knobs, [name]: values.get(k) ?? 10 } } : one,
        ),
      }),
    /** @param {string} name @param {string} position */
    setSwitch: (name, position) => change({ switches: { ...slot().switches, [name]: position } }),
    /** One step back in history, however many values change. @param {...Edit} edits */
    edit: (...edits) => setHistory(record(history(), edits.reduce(withEdit, slot().edits))),
    /** Back to what the version says. @param {string[]} path */
    dropEdit: (path) =>
      setHistory(
        record(
          history(),
          slot().edits.filter((edit) => !same(edit.path, path)),
        ),
      ),
    dropEdits: () => setHistory(record(history(), [])),
    undo: () => setHistory(undo(history())),
    redo: () => setHistory(redo(history())),
    /** Another wiring or version under the same controls. @param {string} version @param {Edit[]} [edits] */
    setVersion(version, edits = []) {
      const { histories, current } = get();
      set({
        ...changeSlot(get(), { version, edits }),
        before: false,
        check: null,
        fans: {},
        histories: histories.map((one, k) => (k === current ? startHistory(edits) : one)),
      });
    },
    /** Keep what is heard as a further sound to compare with. */
    keep() {
      const kept = keepSlot(get());
      set({
        ...kept,
        curves: [...get().curves, get().curves[get().current]],
        histories: kept.slots.map((one, k) => get().histories[k] ?? startHistory(one.edits)),
      });
    },
    /** @param {number} k */
    hear: (k) => {
      if (k !== get().current) set({ ...hearSlot(get(), k), before: false });
    },
    /** @param {number} k */
    drop(k) {
      const others = dropSlot(get(), k);
      if (others.slots.length === get().slots.length) return;
      const without = /** @template T @param {T[]} all */ (all) => all.filter((_, j) => j !== k);
      set({ ...others, curves: without(get().curves), histories: without(get().histories) });
    },
    /** @param {[number, number] | null} loop seconds; null for the whole take */
    setLoop(loop) {
      const { [get().take]: _, ...others } = get().loops;
      set({ loops: loop ? { ...others, [get().take]: loop } : others });
    },
  };
}

/** The newest version of the first wiring, its controls where they are found. @param {Commission} commission @returns {Slot} */
function firstSlot({ wirings }) {
  const versions = wirings[0]?.versions ?? [];
  return { version: newest(versions)?.id ?? "", edits: [], position: "", knobs: {}, switches: {} };
}

/** @template {{number: number}} V @param {V[]} versions @returns {V | undefined} */
export const newest = (versions) =>
  versions.reduce((a, b) => (a && a.number > b.number ? a : b), versions[0]);

/** @param {Commission} commission @param {string} version */
export function placeOf({ wirings }, version) {
  for (const wiring of wirings) {
    const found = wiring.versions.find(({ id }) => id === version);
    if (found) return { wiring, version: found };
  }
  return undefined;
}
