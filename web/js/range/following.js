/**
 * Run one search of a kind at a time: start it, follow it to its end, stop it when another takes its place.
 */

import * as api from "./api.js";
import { ApiError } from "../shared/http.js";
import { createTurns } from "../shared/latest.js";

/** @import {Search} from "./words.js" */

const RETRY_MS = 1000;
/** Tries while the server does not answer. */
const MOST_TRIES = 30;

/**
 * @param {(result: Search) => void} onResult
 * @param {(error: unknown) => void} onError
 * @param {AbortSignal} signal  stops the following, not the search: another page may follow it too
 */
export function createFollower(onResult, onError, signal) {
  const turns = createTurns();
  let running = "";

  /** @param {string} search */
  const cancel = (search) => api.cancelSearch(search).catch(() => undefined);

  /** @param {(signal: AbortSignal) => Promise<Search>} start */
  async function begin(start) {
    const isNewest = turns.begin();
    if (running) cancel(running);
    running = "";
    try {
      let result = await start(signal);
      while (isNewest()) {
        running = result.state === "running" ? result.id : "";
        onResult(result);
        if (!running) return;
        result = await next(result, start);
      }
      if (result.state === "running" && result.id !== running) cancel(result.id);
    } catch (error) {
      if (!isNewest()) return;
      running = "";
      if (!signal.aborted) onError(error);
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
    stop() {
      if (running) api.cancelSearch(running).catch(onError);
    },
  };
}
