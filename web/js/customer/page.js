/** The state that the views of the customer's page share. */

import { createStore } from "../shared/store.js";
import { FIRST_STAND } from "../shared/output.js";
import { recall } from "./memory.js";

/** @import {Offer} from "./words.js" */
/** @import {Source} from "./source.js" */
/** @import {ModelKnob} from "../player/live_model.js" */

/**
 * @typedef {object} State
 * @property {Offer} offer  as it is heard
 * @property {string} way  in which it is
 * @property {string} take
 * @property {number} number  the chosen sound
 * @property {{number: number, which: number} | null} end  which of the farthest two is heard of a sound;
 *   null as drawn
 * @property {boolean} playing
 * @property {boolean} held  the system took the sound away
 * @property {number | null} loading  number of the sound that loads
 * @property {boolean} matched
 * @property {number} travel  of the listening level, 0 to 100
 * @property {number[]} news  sounds that came later, until they are chosen
 * @property {[number, number] | null} pair
 * @property {number[]} peaks  of the chosen sound
 * @property {"" | "fetching" | "live"} turning  state of the knobs of the chosen sound
 * @property {number} fetched  loaded share of their stems
 * @property {ModelKnob[]} offered  its knobs in the proposal
 * @property {Record<string, number>} turned  and now
 * @property {number} applied  number of the filters that sound
 * @property {string} trouble  a sentence, or empty
 */

/** @typedef {ReturnType<typeof createPage>} Page */

/** The sound to begin with: one that was signed for, else the first. @param {Offer} offer */
function firstOf({ items, wirings, signoff }) {
  if (!signoff) return items[0].number;
  return signoff.of === "sound"
    ? signoff.number
    : (wirings.find(({ number }) => number === signoff.number)?.sounds[0] ?? items[0].number);
}

const START_TRAVEL = 100 * FIRST_STAND;

/** @param {Source} source @param {Offer} offer */
export function createPage(source, offer) {
  const numbers = offer.items.map(({ number }) => number);
  const at = Number(recall("number")),
    take = recall("take"),
    way = recall("way");
  const pair = recall("pair").split(",").map(Number);
  const store = createStore(
    /** @type {State} */ ({
      offer,
      way: offer.heard?.[way] ? way : offer.ways[0].name,
      take: offer.takes.some(({ id }) => id === take) ? take : offer.takes[0].id,
      number: numbers.includes(at) ? at : firstOf(offer),
      end: null,
      playing: false,
      held: false,
      loading: null,
      matched: recall("loudness", "equal") === "equal",
      news: [],
      travel: Number(recall("level", String(START_TRAVEL))),
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
    source,
    ...store,
    /** @param {number} number */
    item: (number) =>
      store.get().offer.items.find((one) => one.number === number) ?? store.get().offer.items[0],
    /** @param {Partial<Offer>} change */
    setOffer: (change) => store.set({ offer: { ...store.get().offer, ...change } }),
  };
}
