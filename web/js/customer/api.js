/** The proposal behind a link: requests to the workshop's server. The token of the link stands for it. */

import { queryText, readPieces, requestJson } from "../shared/http.js";
import { CONVOLVER, GUARD } from "../player/worklets.js";

/** @import {Source} from "./source.js" */

/** @param {string} token @returns {Source} */
export function linkSource(token) {
  const address = `/api/p/${encodeURIComponent(token)}`;
  return {
    isFile: false,
    keeps: () => true,
    guard: GUARD,
    getOffer: () => requestJson("GET", address),
    readFile: readPieces,
    getHead: () => null,
    getPicture: async (file) => file,
    setFavourites: (numbers) => requestJson("PUT", `${address}/favourites`, { body: { numbers } }),
    sendComment: (number, text) => requestJson("POST", `${address}/comments`, { body: { number, text } }),
    signOff: (form) => requestJson("POST", `${address}/signoff`, { body: { ...form, confirm: true } }),
    record: `${address}/record`,
    answer: null,
    live: {
      convolver: CONVOLVER,
      turnsWith: () => true,
      getVoice: (number, take) =>
        requestJson("GET", `${address}/live/${number}/voice?${queryText({ take })}`),
    },
  };
}
