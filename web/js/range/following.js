/** One search at a time of its kind: started, followed to its end, stopped when another takes its place. */

import * as api from "./api.js";
import { ApiError } from "../shared/http.js";

/** @import {Search} from "./words.js" */

/**
 * @param {(news: Search) => void} told
 * @param {(error: unknown) => void} failed
 * @param {AbortSignal} signal  ends the following, not the search: another page may be at it
 */
export function createFollower(told, failed, signal) {
  let turn = 0,
    running = "";
  /** @param {(signal: AbortSignal) => Promise<Search>} start */
  async function begin(start) {
    const mine = (turn += 1),
      before = running;
    running = "";
    if (before) api.cancelSearch(before).catch(() => undefined);
    try {
      let news = await start(signal);
      if (mine !== turn) {
        if (news.state === "running") api.cancelSearch(news.id).catch(() => undefined);
        return;
      }
      running = news.state === "running" ? news.id : "";
      told(news);
      while (news.state === "running") {
        news = await again(news, start);
        if (mine !== turn) return;
        running = news.state === "running" ? news.id : "";
        told(news);
      }
      running = "";
    } catch (error) {
      running = "";
      if (mine === turn && !signal.aborted) failed(error);
    }
  }
  /** The next news, also after the server was away or has been started anew. @param {Search} news @param {(signal: AbortSignal) => Promise<Search>} start */
  async function again(news, start, patience = 30) {
    for (let tries = 0; ; tries += 1) {
      try {
        return await api.waitForSearch(news.id, news.after, signal);
      } catch (error) {
        const gone = error instanceof ApiError && error.status === 0;
        if (error instanceof ApiError && error.status === 404) return start(signal);
        if (!gone || tries >= patience || signal.aborted) throw error;
        await new Promise((done) => setTimeout(done, 1000));
      }
    }
  }
  return {
    begin,
    /** End the search that runs. */
    stop() {
      if (running) api.cancelSearch(running).catch(failed);
    },
    /** Whether one runs. */
    busy: () => running !== "",
  };
}
