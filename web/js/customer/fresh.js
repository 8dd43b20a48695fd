/** Keep the offer as it is at the workshop: wait for news while the page is seen, and send what waits. */

import { ApiError } from "../shared/http.js";

/** @import {Page} from "./page.js" */

/** Pause between two looks; clips that are being rendered change often. */
const PAUSE_S = 1.2;
const RETRY_S = [3, 6, 12, 30];

/** @param {Page} page @param {(error: unknown) => void} close what to do when the link has ended */
export function keepFresh({ get, set, source }, close) {
  const { waitForNews } = source;
  if (!waitForNews) return;
  const wait = waitForNews;
  let stop = new AbortController();
  /** Hidden: nobody looks. Seen again, or on the line again: look and send at once. */
  const lookAgain = () => {
    stop.abort();
    stop = new AbortController();
    if (!document.hidden) source.send();
  };
  document.addEventListener("visibilitychange", lookAgain);
  window.addEventListener("online", lookAgain);
  source.send();
  void follow();

  async function follow() {
    for (let failed = 0; ;) {
      await untilSeen();
      const { signal } = stop;
      try {
        if (failed > 0) {
          set({ offer: await source.getOffer() });
          source.send();
          failed = 0;
        } else {
          if ((await wait(get().offer.after, signal)).changed) set({ offer: await source.getOffer() });
          await pause(PAUSE_S, signal);
        }
      } catch (error) {
        if (error instanceof ApiError && [404, 410].includes(error.status)) return close(error);
        failed += 1;
        if (!signal.aborted) await pause(RETRY_S[Math.min(failed, RETRY_S.length) - 1], signal);
      }
    }
  }
}

/** @param {number} seconds @param {AbortSignal} signal ends it early @returns {Promise<void>} */
const pause = (seconds, signal) =>
  new Promise((done) => {
    const end = () => done();
    setTimeout(end, 1000 * seconds);
    signal.addEventListener("abort", end, { once: true });
  });

/** @returns {Promise<void>} */
const untilSeen = () =>
  new Promise((done) => {
    const look = () => {
      if (document.hidden) return;
      document.removeEventListener("visibilitychange", look);
      done();
    };
    document.addEventListener("visibilitychange", look);
    look();
  });
