/** A value that calls its listeners when it changes. */

/**
 * @template {object} T
 * @typedef {object} Store
 * @property {() => T} get
 * @property {(change: Partial<T>) => void} set  Merge a change; each listener of a changed key runs once.
 * @property {(keys: (keyof T)[], listener: (now: T, before: T) => void) => () => void} on  Returns a function
 *   that removes the listener.
 */

/**
 * @template {object} T
 * @param {T} start
 * @returns {Store<T>}
 */
export function createStore(start) {
  let now = start;
  /** @type {Set<{keys: (keyof T)[], listener: (now: T, before: T) => void}>} */
  const listeners = new Set();
  return {
    get: () => now,
    set(change) {
      const before = now;
      const changed = /** @type {(keyof T)[]} */ (Object.keys(change)).filter(
        (key) => !same(change[key], before[key]),
      );
      if (changed.length === 0) return;
      now = { ...now, ...change };
      for (const { keys, listener } of [...listeners])
        if (keys.some((key) => changed.includes(key))) listener(now, before);
    },
    on(keys, listener) {
      const entry = { keys, listener };
      listeners.add(entry);
      return () => listeners.delete(entry);
    },
  };
}

/** Whether two values are equal as JSON. @param {unknown} a @param {unknown} b @returns {boolean} */
export function same(a, b) {
  if (Object.is(a, b)) return true;
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null) return false;
  const left = Object.entries(a),
    right = /** @type {Record<string, unknown>} */ (b);
  return (
    Array.isArray(a) === Array.isArray(b) &&
    left.length === Object.keys(right).length &&
    left.every(([key, value]) => key in right && same(value, right[key]))
  );
}
