/**
 * Run one search of a kind at a time: start it, follow it to its end, stop it when another takes its place.
 */

import { ApiError } from "./http.js";
import { createTurns } from "./latest.js";
import * as api from "./searches.js";

/** @typedef {{id: string, after: number, state: string}} Followed  what any search says */

const RETRY_MS = 1000;
/** Tries while the server does not answer. */
const MOST_TRIES = 30;

/** Times that a search which somebody else has stopped is asked anew. */
const MOST_RESTARTS = 3;

/**
 * @template {Followed} Search
 * @param {(result: Search) => void} onResult
 * @param {(error: unknown) => void} onError
 * @param {AbortSignal} signal  stops the following, not the search: another page may follow it too
 * @param {(waiting: boolean) => void} [onWaiting]  an answer is awaited, or no longer
 */
export function createFollower(onResult, onError, signal, onWaiting = () => {}) {
  const turns = createTurns();
  let running = "",
    stopped = false;
  /** The starts of searches, one after another. @type {Promise<unknown>} */
  let starting = Promise.resolve();

  /** @param {string} search */
  const cancel = (search) => api.cancelSearch(search).catch(() => undefined);

  /**
   * Follow a search to its end. The search before it is stopped once this one's name is known: the same
   * question has the same search.
   * @param {(signal: AbortSignal) => Promise<Search>} start
   */
  async function begin(start) {
    const isNewest = turns.begin();
    stopped = false;
    onWaiting(true);
    const begun = starting.then(async () => {
      if (!isNewest()) return null;
      const result = await start(signal);
      if (running && running !== result.id) cancel(running);
      running = result.state === "running" ? result.id : "";
      return result;
    });
    starting = begun.catch(() => undefined);
    try {
      let result = await begun;
      for (let restarts = 0; result && isNewest();) {
        running = result.state === "running" ? result.id : "";
        if (stopped && running) await cancel(running);
        if (result.state === "cancelled" && !stopped && restarts < MOST_RESTARTS) {
          restarts += 1;
          result = await start(signal);
          continue;
        }
        onResult(result);
        if (!running) break;
        result = await next(result, start);
      }
    } catch (error) {
      if (!isNewest()) return;
      running = "";
      if (!signal.aborted) onError(error);
    } finally {
      if (isNewest()) onWaiting(false);
    }
  }

  /**
   * Wait for the next result, also while the server is away. A server that has restarted starts the search
   * again.
   * @param {Search} result @param {(signal: AbortSignal) => Promise<Search>} start
   */
  async function next({ id, after }, start) {
    for (let tries = 0; ; tries += 1) {
      try {
        return await api.waitForSearch(id, after, signal);
      } catch (error) {
        const gone = error instanceof ApiError && error.status === 0;
        if (error instanceof ApiError && error.status === 404) return start(signal);
        if (!gone || tries >= MOST_TRIES || signal.aborted) throw error;
        await new Promise((done) => setTimeout(done, RETRY_MS));
      }
    }
  }
  return {
    begin,
    /** Stop the search, or stop it as soon as it has started. */
    stop() {
      stopped = true;
      if (running) api.cancelSearch(running).catch(onError);
    },
  };
}
