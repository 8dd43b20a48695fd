/** The takes of a session: listed by name at once, examined one after another, the chosen one first. */

import { examineTakes, listTakes, takeExamined } from "../shared/lists.js";

/** @import {Session} from "./session.js" */
/** @import {Take} from "../shared/types.js" */

const RETRY_MS = 2000;

/**
 * Put the takes into the session when they are listed, and their rows as they are examined.
 * @param {Session} session @param {Promise<Take[]>} listing
 */
export async function followTakes(session, listing) {
  const { get, set, on, signal } = session;
  /** @param {Take} row */
  const found = (row) => set({ takes: get().takes.map((one) => (one.id === row.id ? row : one)) });
  on(["take"], ({ take, takes }) => {
    const broken = takes.some(({ id, state }) => id === take && state === "broken");
    if (broken) takeExamined(take, signal).then(found, () => {}); // it may have been mended
  });
  const takes = await listed(session, listing);
  if (signal.aborted) return;
  set({ takes, listed: true, take: takeToPlay(takes, get().take) });
  await examineTakes({ takes: () => get().takes, chosen: () => get().take, found, signal });
}

/**
 * The list; asked for again while the server does not answer.
 * @param {Session} session @param {Promise<Take[]>} listing
 */
async function listed({ set, signal }, listing) {
  for (;;) {
    try {
      return await listing;
    } catch (error) {
      if (signal.aborted) return [];
      const why = error instanceof Error ? error.message : String(error);
      set({ silence: `The takes could not be listed: ${why}` });
      await new Promise((done) => setTimeout(done, RETRY_MS));
      listing = listTakes();
    }
  }
}

/**
 * The take that was chosen, if it is there still; else the first that is not known to be broken.
 * @param {Take[]} takes @param {string} chosen
 */
export function takeToPlay(takes, chosen) {
  if (takes.some(({ id }) => id === chosen)) return chosen;
  return (takes.find(({ state }) => state !== "broken") ?? takes[0])?.id ?? "";
}
