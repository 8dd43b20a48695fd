/**
 * The choice of how the sounds are heard, all alike: direct, or through the chain behind a guitar. A page
 * behind a link has it; a file has one way alone.
 */

import { choice, h } from "../shared/dom.js";

/** @import {Offer} from "./words.js" */
/** @import {Page} from "./page.js" */

/**
 * An offer as it is heard in a way, the first one if it has no such: with the clips and levels of that one.
 * @param {Offer} offer @param {string} way @returns {Offer}
 */
export function heardIn(offer, way) {
  const heard = offer.heard?.[way] ?? offer.heard?.[offer.ways[0].name];
  if (!heard) return offer;
  const takes = offer.takes.map((one) => ({ ...one, ...heard.takes[one.id] })),
    items = offer.items.map((one) => ({
      ...one,
      clips: heard.clips[one.number],
      ...(heard.farthest && { farthest: heard.farthest[one.number] }),
    }));
  return { ...offer, takes, items };
}

/** The name of a way on a button. @param {string} name */
export const wayLabel = (name) => name.charAt(0).toUpperCase() + name.slice(1);

/** Null where there is nothing to choose. @param {Page} page */
export function waysView({ get, set, source }) {
  const { ways } = get().offer,
    options = ways.map(({ name }) => ({ value: name, label: wayLabel(name) }));
  const hear = (/** @type {string} */ way) => set({ way, offer: source.inWay?.(way) ?? get().offer });
  if (ways.length === 1) return null;
  return h(
    "div",
    { class: "loudness heard-in" },
    h("span", { "aria-hidden": "true" }, "Heard"),
    choice("How the sounds are heard", options, get().way, hear).element,
  );
}
