/** "The newest request wins": once for requests that queue, once for requests that run side by side. */

/**
 * Run one request at a time. A call during a run waits; a later call replaces the one that waits.
 * @template {unknown[]} A @param {(...args: A) => Promise<void>} work  Its errors go to `failed`.
 * @param {{spacing?: number, failed?: (error: unknown) => void}} [options]  spacing: least time between
 *   starts, ms
 * @returns {(...args: A) => Promise<void>}  Settles when nothing is left to do.
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
        const expected = error instanceof Error && ["ApiError", "AbortError"].includes(error.name);
        // a defect of the page
        if (error instanceof Error && !expected) reportError(error);
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

/**
 * Number requests that run side by side, so that only the newest one's answer counts.
 * @returns {{begin: () => () => boolean, drop: () => void}}
 *   begin: start a request; the function it returns says whether the request is still the newest.
 *   drop: no request that has begun counts any more.
 */
export function createTurns() {
  let newest = 0;
  return {
    begin() {
      newest += 1;
      const turn = newest;
      return () => turn === newest;
    },
    drop() {
      newest += 1;
    },
  };
}

/** A cache that drops the entry used longest ago. @template V @param {number} most */
export function createCache(most) {
  /** @type {Map<string, V>} */
  const entries = new Map();
  return {
    /** @param {string} key */
    get(key) {
      const value = entries.get(key);
      if (value !== undefined) {
        entries.delete(key);
        entries.set(key, value);
      }
      return value;
    },
    /** @param {string} key @param {V} value */
    set(key, value) {
      entries.delete(key);
      entries.set(key, value);
      const oldest = entries.keys().next().value;
      if (entries.size > most && oldest !== undefined) entries.delete(oldest);
    },
  };
}
