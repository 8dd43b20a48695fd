/** Undo and redo over immutable values. */

import { same } from "../shared/store.js";

/** @template T @typedef {{past: T[], now: T, future: T[]}} History */

/** Steps kept: more than anyone undoes, few enough for the saved state. */
export const MOST_STEPS = 100;

/** @template T @param {T} now @returns {History<T>} */
export const startHistory = (now) => ({ past: [], now, future: [] });

/**
 * Add a step and drop the undone ones.
 * @template T @param {History<T>} history @param {T} now
 * @returns {History<T>}
 */
export function record(history, now) {
  if (same(now, history.now)) return history;
  return { past: [...history.past, history.now].slice(-MOST_STEPS), now, future: [] };
}

/** @template T @param {History<T>} history @returns {History<T>} */
export function undo(history) {
  if (history.past.length === 0) return history;
  const past = history.past.slice(0, -1);
  return { past, now: history.past[history.past.length - 1], future: [history.now, ...history.future] };
}

/** @template T @param {History<T>} history @returns {History<T>} */
export function redo(history) {
  if (history.future.length === 0) return history;
  const [now, ...future] = history.future;
  return { past: [...history.past, history.now], now, future };
}
