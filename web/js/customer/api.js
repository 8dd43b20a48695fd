/** The proposal behind a link: requests to the workshop's server. The token of the link stands for it. */

import { queryText, readPieces, requestJson } from "../shared/http.js";
import { bendLoop } from "../player/bend_loop.js";
import { CONVOLVER, GUARD } from "../player/worklets.js";
import { recall, remember } from "./memory.js";
import { createOutbox } from "./outbox.js";
import { withUnsent } from "./talk.js";
import { heardIn } from "./ways.js";

/** @import {Source} from "./source.js" */
/** @import {Offer, Served} from "./words.js" */
/** @import {Request} from "./outbox.js" */

/** The sounds that this tab has played, each with its way. */
const HEARD = "heard";
const WAY = "way";
const heard = () => recall(HEARD).split(",").filter(Boolean);
/** @param {string} text */
function soundOf(text) {
  const [number, way] = text.split(" ");
  return { number: Number(number), way };
}

/** @param {string} token @returns {Source} */
export function linkSource(token) {
  const address = `/api/p/${encodeURIComponent(token)}`;
  /** What the server last said of the proposal. @type {Served} */
  let served;
  /** @type {(offer: Offer) => void} */
  let tell = () => {};
  const outbox = createOutbox({
    name: location.pathname,
    storage: browserStorage(),
    send: (/** @type {Request} */ said) => requestJson("POST", `${address}/operations`, { body: said }),
    onAnswer: (said) => {
      served = { ...served, ...said };
    },
    onChange: () => {
      if (served) tell(merged());
    },
  });
  const merged = () => heardIn(withUnsent(served, outbox.entries(), outbox.device), recall(WAY));
  window.addEventListener("storage", () => {
    // another tab of this browser
    if (served) tell(merged());
  });
  return {
    isFile: false,
    keeps: outbox.keeps,
    device: outbox.device,
    guard: GUARD,
    async getOffer() {
      served = await requestJson("GET", address);
      return merged();
    },
    inWay(way) {
      remember(WAY, way);
      return merged();
    },
    onOffer(listener) {
      tell = listener;
    },
    unsent: outbox.entries,
    waitForNews: (after, signal) =>
      requestJson("GET", `${address}/events?${queryText({ after })}`, { signal }),
    readFile: readPieces,
    getHead: () => null,
    getPicture: async (file) => file,
    say: outbox.add,
    send: () => void outbox.flush(),
    sayAgain: outbox.again,
    giveUp: outbox.drop,
    noteHeard: (number, _, way) => remember(HEARD, [...new Set([...heard(), `${number} ${way}`])].join(",")),
    signOff: (form) =>
      requestJson("POST", `${address}/signoff`, {
        body: { ...form, heard: heard().map(soundOf), confirm: true },
      }),
    record: `${address}/record`,
    receipt: `${address}/receipt`,
    answer: null,
    live: {
      convolver: CONVOLVER,
      turnsWith: () => true,
      getVoice: (number, take, way) =>
        requestJson("GET", `${address}/live/${number}/voice?${queryText({ take, way })}`),
      bend: (chain, stemGain) => (loop, gain, goesOn) =>
        bendLoop(loop, chain, stemGain / gain, gain / stemGain, goesOn),
    },
  };
}

/** The browser's store, or null where it refuses one. */
function browserStorage() {
  try {
    return localStorage;
  } catch {
    return null;
  }
}
