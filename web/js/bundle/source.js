/** The proposal of a page that is a file: everything is in it or beside it, and nothing leaves it. */

import { createKept } from "./kept.js";
import { createPieces } from "./pieces.js";

/** @import {Offer} from "../customer/words.js" */
/** @import {Source} from "../customer/source.js" */
/**
 * @typedef {object} Sent  What the workshop wrote into the file.
 * @property {string} id  of the proposal
 * @property {Offer} offer  its clips and pictures are names of pieces
 * @property {string} folder  of the pieces, or empty if they are in the page
 * @property {string} guard  the worklet that keeps peaks below the ceiling, as an address
 */

/** @param {Sent} sent @returns {Source} */
export function fileSource({ id, offer, folder, guard }) {
  const { getBytes, getAddress } = createPieces(folder),
    kept = createKept(id, { favourites: offer.favourites, comments: offer.comments });
  return {
    isFile: true,
    keeps: kept.keeps,
    guard,
    getOffer: async () => ({ ...offer, ...kept.get() }),
    getClip: getBytes,
    getPicture: (name) => getAddress(name, "image/svg+xml"),
    async setFavourites(numbers) {
      kept.set({ favourites: numbers });
      return { numbers };
    },
    async sendComment(number, text) {
      const comment = { number, text, when: new Date().toISOString() };
      kept.set({ comments: [...kept.get().comments, comment] });
      return comment;
    },
    signOff: null,
    record: null,
    live: null,
  };
}
