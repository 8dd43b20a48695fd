/** One commission on the bench: its state and the functions that change it. */

import { createStore, same } from "../shared/store.js";
import { record, redo, startHistory, undo } from "./history.js";
import { besideSlots, changeSlot, dropSlot, hearSlot, keepSlot, MOST, withEdit } from "./compare.js";
import { onTravel } from "../shared/units.js";
import { FIRST_STAND } from "../shared/output.js";
import { stepInWords, withStep } from "./names.js";
import { startAlike } from "./alike.js";
import { startFaults } from "./faults.js";
import { startRanging } from "./ranging.js";

/**
 * @import {Check, Commission, Draft, Edit, Facts, Fan, Problem, Proposal, Response as Curves, Setting, Slot,
 *   Take} from "../shared/types.js"
 */
/** @import {History} from "./history.js" */
/** @import {AlikeState} from "./alike.js" */
/** @import {FaultsState} from "./faults.js" */
/** @import {RangeState} from "./ranging.js" */

/**
 * @typedef {object} State
 * @property {Commission} commission
 * @property {Take[]} takes
 * @property {boolean} listed  whether the takes have been listed
 * @property {string} take  empty if there is none, or before they are listed
 * @property {Slot[]} slots
 * @property {number} current
 * @property {History<Edit[]>[]} histories  of the edits, one for each slot
 * @property {boolean} before  show and play the saved version, without the edits
 * @property {Record<string, [number, number]>} loops  per take, seconds
 * @property {boolean} matched
 * @property {string} way  in which it is heard, by name
 * @property {{on: boolean, room: string, mains: number}} hum  whether a room's hum is added, and which
 * @property {import("../shared/types.js").HumRecord | null} hums  those to choose from, once they have come
 * @property {{name: string, about: string}[]} ways  those to choose from; empty before the chain has come
 * @property {string} caution  to heed with an amplifier; empty until then too
 * @property {number} output  stand of the slider, 0 to 1
 * @property {boolean} drawer
 * @property {number | null} string  string of the drawn sum, from 1, the lowest; null for equal signals in
 *   all coils
 * @property {boolean} spectrum  show the spectrum of what plays
 * @property {string} fanned  the knob whose sweep is drawn, or empty
 * @property {Record<string, {from: number, to: number, seconds: number}>} sweeps
 * @property {{open: boolean, first: string, second: string}} pair  the map over two knobs, and those chosen
 * @property {"bench" | "range" | "sheet" | "built"} view
 * @property {import("../shared/types.js").Offering | null} offering  what was last going to be proposed
 * @property {FaultsState} faults  what was heard and read of the soldered guitar
 * @property {AlikeState} alike  what was asked of instruments built alike
 * @property {string[]} lit  terminals that the drawing lights
 * @property {RangeState} range  the request and the choices of the range view
 * @property {{path: string[], value: string, position: string} | null} trying  a sound that plays in place of
 *   a position
 * @property {string} sweeping  the knob that moves by itself, or empty
 * @property {Check | null} check
 * @property {string} checked  the draft that `check` belongs to, as JSON
 * @property {Facts[]} facts
 * @property {(Curves | null)[]} curves  one for each slot
 * @property {Record<string, Fan>} fans
 * @property {Record<string, string>} names  short names of edits
 * @property {Record<string, string[]>} unfinished  what drafts lack, by draft as JSON: nothing can be
 *   computed of them
 * @property {string} step  what undo or redo did, in words, until the next change
 * @property {Problem[]} problems
 * @property {Proposal[]} proposals
 * @property {boolean} playing
 * @property {boolean} opening  stems are loading
 * @property {string} silence  why nothing sounds, or empty
 * @property {number} head  seconds
 * @property {"live" | "fallback" | "offline" | null} link  the way filters arrive
 * @property {number} stumbles  gaps in the sound so far
 */
/** @typedef {ReturnType<typeof createSession>} Session */

/** The room that is offered first, and no hum yet. @type {State["hum"]} */
export const WITHOUT_HUM = { on: false, room: "stage", mains: 50 };

/**
 * The draft and the setting of a slot.
 * @param {State} state @param {number} [k]
 * @returns {{draft: Draft, setting: Setting}}
 */
export function hearingOf(state, k = state.current) {
  const { version, edits, position, knobs, switches } = state.slots[k];
  return {
    draft: { version, edits: state.before && k === state.current ? [] : edits },
    setting: { position, knobs, switches },
  };
}

/**
 * The draft and the setting that play: those of the slot, or of the sound tried in place of a position.
 * @param {State} state @param {number} [k]
 * @returns {{draft: Draft, setting: Setting}}
 */
export function playingOf(state, k = state.current) {
  const { draft, setting } = hearingOf(state, k),
    { trying } = state;
  if (!trying || k !== state.current) return { draft, setting };
  const { path, value, position } = trying;
  return {
    draft: { ...draft, edits: withEdit(draft.edits, { path, value }) },
    setting: { ...setting, position },
  };
}

/** What the draft of a slot lacks, as far as that is known. @param {State} state @param {number} [k] */
export const missingOf = (state, k) => state.unfinished[JSON.stringify(hearingOf(state, k).draft)] ?? [];

/** Unfinished drafts remembered. */
const MOST_UNFINISHED = 40;

/**
 * What drafts lack, with what one more lacks.
 * @param {State["unfinished"]} unfinished @param {Draft} draft @param {string[]} missing
 */
export const withMissing = (unfinished, draft, missing) =>
  missing.length
    ? Object.fromEntries(
        [...Object.entries(unfinished), [JSON.stringify(draft), missing]].slice(-MOST_UNFINISHED),
      )
    : unfinished;

/** @param {Commission} commission @param {Partial<State>} remembered */
export function createSession(commission, remembered) {
  const slots = remembered.slots ?? [firstSlot(commission)];
  /** @type {State} */
  const start = {
    commission,
    slots,
    current: 0,
    take: "",
    before: false,
    loops: {},
    matched: false,
    way: "direct",
    hum: WITHOUT_HUM,
    drawer: false,
    string: null,
    spectrum: true,
    fanned: "",
    sweeps: {},
    pair: { open: false, first: "", second: "" },
    view: "bench",
    offering: null,
    faults: startFaults(),
    alike: startAlike(),
    range: startRanging(),
    histories: slots.map((slot) => startHistory(slot.edits)),
    ...remembered,
    takes: [],
    listed: false,
    ways: [],
    hums: null,
    caution: "",
    output: FIRST_STAND, // not remembered: who opens the page does not know how loud the speakers are
    lit: [],
    trying: null,
    sweeping: "",
    check: null,
    checked: "",
    facts: [],
    curves: slots.map(() => null),
    fans: {},
    names: {},
    unfinished: {},
    step: "",
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
      step: "",
    });
  };
  const history = () => get().histories[get().current];
  /** Go a step back or forward, and say which. @param {string} did @param {History<Edit[]>} to */
  const step = (did, to) => {
    const { edits, version } = slot();
    if (to === history()) return;
    setHistory(to);
    const words = stepInWords(get().names, version, edits, to.now);
    set({ step: words ? `${did}: ${words}` : did });
  };
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
    /** Set knobs together. @param {Record<string, number>} values by knob */
    setKnobs: (values) =>
      change({
        knobs: {
          ...slot().knobs,
          ...Object.fromEntries(Object.entries(values).map(([name, value]) => [name, onTravel(value)])),
        },
      }),
    /** Set a knob in several slots. @param {string} name @param {Map<number, number>} values by slot */
    putBack: (name, values) =>
      set({
        slots: get().slots.map((one, k) =>
          values.has(k) ? { ...one, knobs: { ...one.knobs, [name]: values.get(k) ?? 10 } } : one,
        ),
      }),
    /** @param {string} name @param {string} position */
    setSwitch: (name, position) => change({ switches: { ...slot().switches, [name]: position } }),
    /** Change values. All of them together are one step of undo. @param {...Edit} edits */
    edit: (...edits) => setHistory(record(history(), edits.reduce(withEdit, slot().edits))),
    /**
     * Put other edits in place of all, as one step of undo.
     * @param {Edit[]} edits @param {string} words what was done
     * @param {string[]} missing what it lacks then
     */
    replaceEdits(edits, words, missing) {
      const { edits: before, version } = slot();
      set({ unfinished: withMissing(get().unfinished, { version, edits }, missing) });
      setHistory(record(history(), edits));
      set({ names: withStep(get().names, version, before, edits, words) });
    },
    /** Go back to the version's value. @param {string[]} path */
    dropEdit: (path) =>
      setHistory(
        record(
          history(),
          slot().edits.filter((edit) => !same(edit.path, path)),
        ),
      ),
    dropEdits: () => setHistory(record(history(), [])),
    undo: () => step("undone", undo(history())),
    redo: () => step("redone", redo(history())),
    /**
     * Switch to another wiring or version with the same controls.
     * @param {string} version @param {Edit[]} [edits]
     */
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
    /** Keep the current sound as another one to compare with. */
    keep() {
      const kept = keepSlot(get());
      set({
        ...kept,
        curves: [...get().curves, get().curves[get().current]],
        histories: kept.slots.map((one, k) => get().histories[k] ?? startHistory(one.edits)),
      });
    },
    /**
     * Put changed copies of the current sound beside it, and hear the first.
     * @param {Edit[][]} changes one for each copy @returns {boolean} whether there was room for all of them
     */
    putBeside(changes) {
      const { slots, curves, histories, current } = get();
      const added = besideSlots(slots[current], changes);
      if (slots.length + added.length > MOST) return false;
      set({
        slots: [...slots, ...added],
        curves: [...curves, ...added.map(() => null)],
        histories: [...histories, ...added.map(({ edits }) => startHistory(edits))],
        current: slots.length,
        before: false,
      });
      return true;
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

/** A slot with the newest version of the first wiring. @param {Commission} commission @returns {Slot} */
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
