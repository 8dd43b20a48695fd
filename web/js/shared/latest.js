/** One request at a time, the newest wins: what was asked meanwhile and overtaken is never sent. */

/**
 * @template {unknown[]} A
 * @param {(...args: A) => Promise<void>} work  Its failures go to `failed`.
 * @param {{spacing?: number, failed?: (error: unknown) => void}} [options]  spacing: least time between starts, ms
 * @returns {(...args: A) => Promise<void>}  Settles when there is nothing more to do.
 */
export function latest(work, { spacing = 0, failed = () => {} } = {}) {
  /** @type {A | undefined} */
  let next;
  /** @type {Promise<void> | undefined} */
  let running;
  async function run() {
    while (next) {
      const args = next;
      next = undefined;
      const pause = spacing > 0 ? new Promise((done) => setTimeout(done, spacing)) : undefined;
      try {
        await work(...args);
      } catch (error) {
        if (error instanceof Error && !["ApiError", "AbortError"].includes(error.name)) reportError(error); // a slip of our own
        failed(error);
      }
      await pause;
    }
    running = undefined;
  }
  return (...args) => {
    next = args;
    running ??= run();
    return running;
  };
}

/** A cache that forgets what was used longest ago. @template V @param {number} most */
export function createCache(most) {
  /** @type {Map<string, V>} */
  const kept = new Map();
  return {
    /** @param {string} key */
    get(key) {
      const value = kept.get(key);
      if (value !== undefined) {
        kept.delete(key);
        kept.set(key, value);
      }
      return value;
    },
    /** @param {string} key @param {V} value */
    set(key, value) {
      kept.delete(key);
      kept.set(key, value);
      const oldest = kept.keys().next().value;
      if (kept.size > most && oldest !== undefined) kept.delete(oldest);
    },
  };
}
