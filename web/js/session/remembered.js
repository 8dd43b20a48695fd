/** The saved state of a commission: on the server, and in the browser while the server is away. */

import * as api from "./api.js";
import { onConnection } from "../shared/http.js";
import { startAlike } from "./alike.js";
import { startFaults } from "./faults.js";
import { knownOptions, startRanging } from "./ranging.js";
import { WITHOUT_HUM, placeOf } from "./session.js";

/** @import {Session, State} from "./session.js" */
/** @import {Commission, Slot} from "../shared/types.js" */

const KEYS = /** @type {const} */ ([
  "slots",
  "current",
  "histories",
  "take",
  "loops",
  "matched",
  "way",
  "hum",
  "drawer",
  "string",
  "spectrum",
  "fanned",
  "sweeps",
  "pair",
  "view",
  "range",
  "faults",
  "alike",
  "offering",
]);
/** Undo steps kept over a reload: the most of these that fit into the 32 kB that the server accepts. */
const STEPS_KEPT = [12, 4, 1, 0];
const MOST_BYTES = 30_000;
const SAVE_AFTER = 400;

/** @param {string} id */
const storageKey = (id) => `presolder.${id}`;

/** Save soon after every change, and at once when the page closes. @param {Session} session */
export function saveState(session) {
  const { get, on, signal } = session;
  const { id } = get().commission;
  let timer = 0,
    dirty = false;
  /** @param {boolean} leaving */
  const save = async (leaving) => {
    clearTimeout(timer);
    if (!dirty) return;
    dirty = false;
    await api.saveState(id, stateToSave(get()), leaving).catch(() => {
      dirty = true;
    });
  };
  on([...KEYS], () => {
    dirty = true;
    try {
      localStorage.setItem(storageKey(id), JSON.stringify(stateToSave(get())));
    } catch {
      /* private windows have no storage */
    }
    clearTimeout(timer);
    timer = window.setTimeout(save, SAVE_AFTER, false);
  });
  window.addEventListener("pagehide", () => save(true), { signal });
  const stop = onConnection((state) => {
    if (state === "there") save(false);
  });
  signal.addEventListener("abort", () => {
    save(true);
    stop();
  });
}

/** @param {Pick<State, typeof KEYS[number]>} state */
export function stateToSave(state) {
  const kept = Object.fromEntries(KEYS.map((key) => [key, state[key]]));
  for (const steps of STEPS_KEPT) {
    const histories = state.histories.map(({ past, now, future }) => ({
      past: steps ? past.slice(-steps) : [],
      now,
      future: future.slice(0, steps),
    }));
    const whole = { ...kept, histories, saved: Date.now() };
    if (steps === 0 || new Blob([JSON.stringify(whole)]).size <= MOST_BYTES) return whole;
  }
  return kept;
}

/**
 * The newer of the two saved states, as far as it still fits.
 * @param {Commission} commission
 * @returns {Partial<State>}
 */
export function recall(commission) {
  /** @type {any} */
  let local = {};
  try {
    local = JSON.parse(localStorage.getItem(storageKey(commission.id)) ?? "{}");
  } catch {
    /* not written by this page, or damaged */
  }
  /** @type {any} */
  const there = commission.state ?? {};
  const found = (local.saved ?? 0) > (there.saved ?? 0) ? local : there;
  if (found.slots === undefined) return startOf(found);
  /** @type {Slot[]} */
  const slots = (Array.isArray(found.slots) ? found.slots : []).filter(
    (/** @type {Slot} */ slot) => slot && placeOf(commission, slot.version) && Array.isArray(slot.edits),
  );
  if (slots.length === 0 || slots.length !== found.slots.length) return {};
  const kept = Object.fromEntries(KEYS.filter((key) => key in found).map((key) => [key, found[key]]));
  if (typeof kept.take !== "string") delete kept.take;
  if (typeof kept.way !== "string") delete kept.way;
  if (kept.hum) kept.hum = knownHum(kept.hum);
  if (!(Array.isArray(kept.histories) && kept.histories.length === slots.length)) delete kept.histories;
  if (kept.alike) kept.alike = { ...startAlike(), ...kept.alike };
  if (kept.faults) kept.faults = { ...startFaults(), ...kept.faults };
  if (kept.range?.asked) kept.range = { ...kept.range, asked: knownOptions(kept.range.asked) };
  return { ...kept, current: Math.min(Math.max(0, found.current ?? 0), slots.length - 1) };
}

/** A room and its mains as remembered. No page opens with hum. @param {any} hum @returns {State["hum"]} */
const knownHum = ({ room, mains }) => ({
  ...WITHOUT_HUM,
  ...(typeof room === "string" && { room }),
  ...(typeof mains === "number" && { mains }),
});

/**
 * How a commission opens that nobody has opened yet: its take, or Range for a switch.
 * @param {{take?: unknown, start?: {view?: string, switch?: string, count?: number}}} state
 * @returns {Partial<State>}
 */
function startOf({ take, start }) {
  const known = typeof take === "string" ? { take } : {};
  if (start?.view !== "range") return known;
  const range = startRanging(),
    one = start.switch ? { name: start.switch, table: "", stop: null } : null;
  const asked = { ...range.asked, count: start.count || range.asked.count, switch: one };
  const chart = one ? { ...range.chart, switch: one } : range.chart;
  return { ...known, view: "range", range: { ...range, asked, chart } };
}
