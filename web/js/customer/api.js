/** The proposal behind a link: requests to the workshop's server. The token of the link stands for it. */

import { queryText, readPieces, requestJson } from "../shared/http.js";
import { bendLoop } from "../player/bend_loop.js";
import { turnDown } from "../player/loudness.js";
import { CONVOLVER, GUARD } from "../player/worklets.js";
import { recall, remember } from "./memory.js";
import { createOutbox } from "./outbox.js";
import { withUnsent } from "./talk.js";
import { heardIn } from "./ways.js";

/** @import {Source} from "./source.js" */
/** @import {Offer, Served} from "./words.js" */
/** @import {Request} from "./outbox.js" */

const WAY = "way";

/** @param {string} token @returns {Source} */
export function linkSource(token) {
  const address = `/api/p/${encodeURIComponent(token)}`;
  /** What the server last said of the proposal. @type {Served} */
  let served;
  /** @type {(offer: Offer) => void} */
  let tell = () => {};
  const storage = browserStorage(),
    heard = keepHeard(storage);
  const outbox = createOutbox({
    name: location.pathname,
    storage,
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
    noteHeard: (number, _, way) => heard.note(number, way),
    signOff: (form) =>
      requestJson("POST", `${address}/signoff`, {
        body: { ...form, heard: heard.sounds(), confirm: true },
      }),
    record: `${address}/record`,
    receipt: `${address}/receipt`,
    answer: null,
    live: {
      convolver: CONVOLVER,
      turnsWith: () => true,
      getVoice: (number, take, way) =>
        requestJson("GET", `${address}/live/${number}/voice?${queryText({ take, way })}`),
      bend: (chain, stemGain) => async (loop, gain, goesOn) => {
        const whole = await bendLoop(loop, chain, stemGain / gain, gain / stemGain, goesOn);
        if (whole) turnDown(loop);
        return whole;
      },
    },
  };
}

/**
 * The sounds that have been played here, each with its way: by this tab, and by each before it where the
 * browser keeps them.
 * @param {Storage | null} storage
 */
function keepHeard(storage) {
  const key = `presolder heard ${location.pathname}`,
    known = new Set();
  const all = () => {
    try {
      for (const one of (storage?.getItem(key) ?? "").split(",")) if (one) known.add(one);
    } catch {
      // no storage: this tab's own are known
    }
    return [...known];
  };
  return {
    /** @param {number} number @param {string} way */
    note(number, way) {
      known.add(`${number} ${way}`);
      const text = all().join(",");
      try {
        storage?.setItem(key, text);
      } catch {
        // full: they are known until the tab is closed
      }
    },
    sounds: () =>
      all().map((text) => {
        const [number, way] = text.split(" ");
        return { number: Number(number), way };
      }),
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
