/** What every view of the customer's page is given. */

import { createStore } from "../shared/store.js";
import { recalled } from "./memory.js";

/** @import {Offer} from "./words.js" */

/**
 * @typedef {object} State
 * @property {Offer} offer
 * @property {string} take
 * @property {number} number  the sound that is chosen to be heard
 * @property {boolean} playing
 * @property {boolean} held  the system took the sound away
 * @property {number | null} loading  number of the sound being fetched
 * @property {boolean} matched
 * @property {number} travel  of the listening level, 0 to 100
 * @property {[number, number] | null} pair
 * @property {number[]} peaks  of what is heard
 * @property {"" | "fetching" | "live"} turning  whether the knobs of the chosen sound work
 * @property {number} fetched  share of what they need
 * @property {{name: string, value: number}[]} offered  its knobs as they stand in the proposal
 * @property {Record<string, number>} turned  and as they stand now
 * @property {number} applied  number of the filters that are heard
 * @property {string} trouble  a sentence, or nothing
 */

/** @typedef {ReturnType<typeof createPage>} Page */

export const START_TRAVEL = 60;

/** @param {string} token @param {Offer} offer */
export function createPage(token, offer) {
  const numbers = offer.items.map(({ number }) => number);
  const at = Number(recalled("number")),
    take = recalled("take");
  const pair = recalled("pair").split(",").map(Number);
  const store = createStore(
    /** @type {State} */ ({
      offer,
      take: offer.takes.some(({ id }) => id === take) ? take : offer.takes[0].id,
      number: numbers.includes(at) ? at : (offer.signoff?.number ?? numbers[0]),
      playing: false,
      held: false,
      loading: null,
      matched: recalled("loudness", "equal") === "equal",
      travel: Number(recalled("level", String(START_TRAVEL))),
      pair: pair.length === 2 && pair.every((one) => numbers.includes(one)) ? [pair[0], pair[1]] : null,
      peaks: [],
      turning: "",
      fetched: 0,
      offered: [],
      turned: {},
      applied: 0,
      trouble: "",
    }),
  );
  return {
    token,
    ...store,
    /** @param {number} number */
    item: (number) =>
      store.get().offer.items.find((one) => one.number === number) ?? store.get().offer.items[0],
    /** @param {Partial<Offer>} change */
    setOffer: (change) => store.set({ offer: { ...store.get().offer, ...change } }),
  };
}
