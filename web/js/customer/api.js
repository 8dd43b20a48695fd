/** The proposal behind a link: requests to the workshop's server. The token of the link stands for it. */

import { getBytes, queryText, readBytes, request, requestBytes, requestJson } from "../shared/http.js";
import { splitStems } from "../player/stems.js";
import { GUARD, PLAYER } from "../player/worklets.js";

/** @import {LiveSource, Source} from "./source.js" */

/** @param {string} token @returns {Source} */
export function linkSource(token) {
  const address = `/api/p/${encodeURIComponent(token)}`;
  return {
    isFile: false,
    keeps: () => true,
    guard: GUARD,
    getOffer: () => requestJson("GET", address),
    getClip: (file) => getBytes(file),
    getHead: () => null,
    getPicture: async (file) => file,
    setFavourites: (numbers) => requestJson("PUT", `${address}/favourites`, { body: { numbers } }),
    sendComment: (number, text) => requestJson("POST", `${address}/comments`, { body: { number, text } }),
    signOff: (form) => requestJson("POST", `${address}/signoff`, { body: { ...form, confirm: true } }),
    record: `${address}/record`,
    answer: null,
    live: liveSource(address),
  };
}

/** @param {string} address @returns {LiveSource} */
function liveSource(address) {
  const liveAddress = (/** @type {number} */ number) => `${address}/live/${number}`;
  return {
    player: PLAYER,
    getKnobs: (number) => requestJson("GET", liveAddress(number)),
    getFilters: (number, form) => requestBytes("POST", `${liveAddress(number)}/filters`, { body: form }),
    async getStems(number, take, onProgress) {
      const answer = await request("GET", `${liveAddress(number)}/stems?${queryText({ take })}`);
      return splitStems(await readBytes(answer, onProgress), answer);
    },
  };
}
