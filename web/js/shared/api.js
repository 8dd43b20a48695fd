/**
 * Everything the page says to the server: the only fetch, XMLHttpRequest and WebSocket there are.
 * One function per endpoint; every failure is an `ApiError` that carries the server's own words.
 */

/** @import {BlindTest, BlindTests, Check, Commission, CommissionRow, Draft, Edit, Facts, Fan, Fitting, LibraryPart, Problem, Proposal, Response as Curve,
 *   Setting, Starter, StringSet, Take} from "./types.js" */

/** @import {Source} from "../bench/take_source.js" */

/** A refusal or a failure, with the problems the server named. */
export class ApiError extends Error {
  /** @param {number} status 0 if the server could not be reached. @param {Problem[]} problems */
  constructor(status, problems) {
    super(problems.map(inWords).join(" ") || `The server answered ${status}.`);
    this.name = "ApiError";
    this.status = status;
    this.problems = problems;
  }
}

/** One problem as a sentence. @param {Problem} problem */
export function inWords({ where, got, allowed, hint }) {
  const said = [where, got && `got ${got}`, allowed && `allowed: ${allowed}`].filter(Boolean).join(": ");
  return hint ? `${said} (${hint}).` : `${said}.`;
}

/** @typedef {"there" | "gone" | "key"} Connection */
/** @type {Set<(state: Connection) => void>} */
const watchers = new Set();
/** @type {Connection} */
let connection = "there";

/** Be told when the server goes, comes back or asks for its key. @param {(state: Connection) => void} told */
export function onConnection(told) {
  watchers.add(told);
  return () => watchers.delete(told);
}

/** @param {Connection} state */
function connected(state) {
  if (state === connection) return;
  connection = state;
  for (const told of watchers) told(state);
}

/** @typedef {{body?: unknown, signal?: AbortSignal, keepalive?: boolean}} Options */

/** @param {string} method @param {string} path @param {Options} [options] @returns {Promise<Response>} */
async function ask(method, path, { body, signal, keepalive } = {}) {
  /** @type {Record<string, string>} */
  const headers = method === "GET" ? {} : { "X-Presolder": "1" };
  if (body !== undefined) headers["Content-Type"] = "application/json";
  let answer;
  try {
    answer = await fetch(path, {
      method,
      headers,
      signal,
      keepalive,
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch (error) {
    throw noAnswer(error);
  }
  if (!answer.ok) throw await refusal(answer, path !== ACCESS);
  connected("there");
  return answer;
}

/** What a server that is not there is told as; an asker's own wish to stop stays what it is. @param {unknown} error */
function noAnswer(error) {
  if (error instanceof DOMException && error.name === "AbortError") return error;
  connected("gone");
  return new ApiError(0, [{ where: "the server", got: "no answer", allowed: "", hint: "it is tried again" }]);
}

/** An answer's body; the server may go in the middle of it. @template T @param {Promise<T>} reading @returns {Promise<T>} */
const whole = (reading) => reading.catch((error) => Promise.reject(noAnswer(error)));

const ACCESS = "/api/access";

/** @param {Response} answer @param {boolean} watched a wrong key is the asker's own matter */
async function refusal(answer, watched) {
  if (answer.status === 401 && watched) connected("key");
  else if (answer.status < 500) connected("there");
  const said = await answer.json().catch(() => ({}));
  return new ApiError(answer.status, Array.isArray(said.problems) ? said.problems : []);
}

/** @param {string} method @param {string} path @param {Options} [options] @returns {Promise<any>} */
async function json(method, path, options) {
  const answer = await ask(method, path, options);
  return answer.status === 204 ? null : whole(answer.json());
}

/** @param {Record<string, string | number | undefined>} values */
const query = (values) =>
  new URLSearchParams(Object.entries(values).flatMap(([k, v]) => (v === undefined ? [] : [[k, String(v)]])));

const id = encodeURIComponent;

// Access
/** @returns {Promise<{needs_key: boolean, signed_in: boolean, tls: boolean}>} */
export const access = () => json("GET", ACCESS);
/** @param {string} key */
export const signIn = (key) => json("POST", ACCESS, { body: { key } });
export const signOut = () => json("DELETE", ACCESS);

// Commissions
/** @param {string} search @param {boolean} archived @returns {Promise<CommissionRow[]>} */
export const commissions = (search, archived) =>
  json("GET", `/api/commissions?${query({ search, archived: archived ? 1 : 0 })}`);
/** @param {{title: string, client?: string, starter: string | null} & Fitting} wanted @returns {Promise<{id: string}>} */
export const newCommission = (wanted) => json("POST", "/api/commissions", { body: wanted });
/** @param {string} which @returns {Promise<Commission>} */
export const commission = (which) => json("GET", `/api/commissions/${id(which)}`);
/** @param {string} which @param {{title?: string, client?: string, archived?: boolean}} change */
export const changeCommission = (which, change) =>
  json("PATCH", `/api/commissions/${id(which)}`, { body: change });
/** @param {string} which @returns {Promise<{id: string}>} */
export const copyCommission = (which) => json("POST", `/api/commissions/${id(which)}/copy`);
/** @param {string} which @param {unknown} state @param {boolean} [leaving] the page is being closed */
export const remember = (which, state, leaving = false) =>
  json("PUT", `/api/commissions/${id(which)}/state`, { body: state, keepalive: leaving });
/** @returns {Promise<Starter[]>} */
export const starters = () => json("GET", "/api/starters");
/** Sets of strings in words. @returns {Promise<StringSet[]>} */
export const stringSets = () => json("GET", "/api/starters/strings");

/** Generic parts to take values from. @returns {Promise<LibraryPart[]>} */
export const library = () => json("GET", "/api/library");

// Wirings and their versions
/** @param {string} which @returns {Promise<{id: string, wiring_id: string, number: number, text: string, note: string}>} */
export const version = (which) => json("GET", `/api/versions/${id(which)}`);
/** @param {string} wiring @param {{base: string, edits: Edit[], note?: string}} saved @returns {Promise<{id: string, number: number}>} */
export const saveVersion = (wiring, saved) =>
  json("POST", `/api/wirings/${id(wiring)}/versions`, { body: saved });
/** @param {string} which @param {{name: string, text: string}} wiring @returns {Promise<{wiring_id: string, version_id: string}>} */
export const addWiring = (which, wiring) =>
  json("POST", `/api/commissions/${id(which)}/wirings`, { body: wiring });

// What a draft is and sounds like
/** @param {Draft} draft @param {AbortSignal} [signal] @returns {Promise<Check>} */
export const check = (draft, signal) => json("POST", "/api/draft/check", { body: { draft }, signal });
/** @param {Draft} draft @param {Pick<Setting, "knobs" | "switches">} at @param {AbortSignal} [signal]
 * @returns {Promise<{positions: Facts[]}>} */
export const facts = (draft, { knobs, switches }, signal) =>
  json("POST", "/api/draft/facts", { body: { draft, knobs, switches }, signal });
/** @param {Draft} draft @param {Setting[]} settings @param {number | null} string the lowest is 1; null for coils that hear alike
 * @param {AbortSignal} [signal] @returns {Promise<Curve>} */
export const response = (draft, settings, string, signal) =>
  json("POST", "/api/draft/response", { body: { draft, settings, string }, signal });
/** @param {Draft} draft @param {Setting} setting @param {string} knob @param {number} steps @param {AbortSignal} [signal]
 * @returns {Promise<Fan>} */
export const fan = (draft, setting, knob, steps, signal) =>
  json("POST", "/api/draft/fan", { body: { draft, setting, knob, steps }, signal });
/** One setting's filters, when there is no live connection.
 * @param {Draft} draft @param {Setting} setting @param {string | undefined} take @param {AbortSignal} [signal] */
export const filters = async (draft, setting, take, signal) =>
  whole((await ask("POST", "/api/draft/filters", { body: { draft, setting, take }, signal })).arrayBuffer());

/** The signal a take induces in each coil, from a time on, at most three minutes. @param {Draft} draft @param {string} take
 * @param {number} fromS @param {AbortSignal} [signal]
 * @returns {Promise<{coils: string[], stems: Float32Array[]}>} */
export async function stems(draft, take, fromS, signal) {
  const at = query({
    version: draft.version,
    edits: JSON.stringify(draft.edits),
    take,
    from_s: fromS || undefined,
  });
  const answer = await ask("GET", `/api/stems?${at}`, { signal });
  const coils = (answer.headers.get("X-Coils") ?? "").split(",").map(decodeURIComponent).filter(Boolean);
  return { coils, stems: planar(await whole(answer.arrayBuffer()), answer) };
}

/** Stem after stem. @param {ArrayBuffer} bytes @param {Response} answer that they came with */
function planar(bytes, answer) {
  const all = new Float32Array(bytes),
    samples = Number(answer.headers.get("X-Samples"));
  return Array.from({ length: all.length / samples }, (_, k) => all.subarray(k * samples, (k + 1) * samples));
}

// Takes
/** @returns {Promise<Take[]>} */
export const takes = () => json("GET", "/api/takes");
/** @param {string} take @param {string} versionId @param {AbortSignal} [signal] @returns {Promise<{seconds: number, peaks: number[]}>} */
export const overview = (take, versionId, signal) =>
  json("GET", `/api/overview?${query({ take, version: versionId })}`, { signal });

/** Bring a recording in. XMLHttpRequest, because fetch does not tell how far an upload is.
 * @param {File} file @param {{name: string, line: "single" | "chords", source: Source | null}} about @param {(share: number) => void} told
 * @returns {{done: Promise<{id: string}>, stop: () => void}} */
export function bringTake(file, { name, line, source }, told) {
  const request = new XMLHttpRequest();
  const from =
    source === null
      ? { source: "flat" }
      : {
          source: "wiring",
          source_version: source.version,
          source_position: source.position,
          source_knobs: JSON.stringify(source.knobs),
          source_switches: JSON.stringify(source.switches),
        };
  const done = new Promise((resolve, reject) => {
    request.open("POST", `/api/takes?${query({ name, kind: "mono", line, ...from })}`);
    request.setRequestHeader("X-Presolder", "1");
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.responseType = "json";
    request.upload.onprogress = (event) => told(event.lengthComputable ? event.loaded / event.total : 0);
    request.onload = () =>
      request.status < 300
        ? resolve(request.response)
        : reject(new ApiError(request.status, request.response?.problems ?? []));
    request.onerror = () => reject(new ApiError(0, [{ where: "the server", got: "no answer", allowed: "" }]));
    request.onabort = () => reject(new DOMException("stopped", "AbortError"));
    request.send(file);
  });
  return { done, stop: () => request.abort() };
}

// Proposals, as the bench sees them
/** @param {string} which @returns {Promise<Proposal[]>} */
export const proposals = (which) => json("GET", `/api/commissions/${id(which)}/proposals`);
/** @param {string} which @param {object} wanted @returns {Promise<{id: string, link: string}>} */
export const propose = (which, wanted) =>
  json("POST", `/api/commissions/${id(which)}/proposals`, { body: wanted });
/** @param {string} which */
export const revoke = (which) => json("POST", `/api/proposals/${id(which)}/revoke`);
/** A link in place of the one before, which ends. @param {string} which @returns {Promise<{link: string, reachable?: boolean}>} */
export const renewLink = (which) => json("POST", `/api/proposals/${id(which)}/link`, { body: {} });
/** Whether what was signed is still as it was. @param {string} which @returns {Promise<{holds: boolean, problems: string[]}>} */
export const verifySignOff = (which) => json("GET", `/api/proposals/${id(which)}/verify`);
/** Waits up to 25 s for news of one proposal. @param {string} which @param {number | string} after @param {AbortSignal} signal */
export const proposalEvents = (which, after, signal) =>
  json("GET", `/api/proposals/${id(which)}/events?${query({ after })}`, { signal });

// Blind tests
/** @param {string} which @param {AbortSignal} [signal] @returns {Promise<BlindTests>} */
export const blindTests = (which, signal) =>
  json("GET", `/api/commissions/${id(which)}/blind-tests`, { signal });
/** @param {string} which @param {{sounds: {draft: Draft, setting: Setting}[], take: string, trials: number, from_s: number, to_s: number}} wanted
 * @returns {Promise<BlindTest>} */
export const beginBlind = (which, wanted) =>
  json("POST", `/api/commissions/${id(which)}/blind-tests`, { body: wanted });
/** @param {string} test @param {AbortSignal} [signal] @returns {Promise<BlindTest>} */
export const blindTest = (test, signal) => json("GET", `/api/blind-tests/${id(test)}`, { signal });
/** @param {string} test @param {number} number of the trial @param {"A" | "B"} said @returns {Promise<BlindTest>} */
export const answerBlind = (test, number, said) =>
  json("PUT", `/api/blind-tests/${id(test)}/answers/${number}`, { body: { said } });
/** @param {string} test @returns {Promise<BlindTest>} */
export const giveUpBlind = (test) => json("POST", `/api/blind-tests/${id(test)}/give-up`);

// Listings
/** @import {Listing, ListingPlan, Wanted} from "../listings/words.js" */
/** @param {boolean} archived @returns {Promise<Listing[]>} */
export const listings = (archived) => json("GET", `/api/listings?${query({ archived: archived ? 1 : 0 })}`);
/** What a listing would become. @param {Wanted} wanted @param {AbortSignal} [signal] @returns {Promise<ListingPlan>} */
export const planListing = (wanted, signal) => json("POST", "/api/listings/plan", { body: wanted, signal });
/** @param {Wanted} wanted @returns {Promise<{id: string}>} */
export const startListing = (wanted) => json("POST", "/api/listings", { body: wanted });
/** @param {string} which */
export const cancelListing = (which) => json("POST", `/api/listings/${id(which)}/cancel`);
/** @param {string} which */
export const resumeListing = (which) => json("POST", `/api/listings/${id(which)}/resume`);
/** @param {string} which @param {boolean} archived */
export const archiveListing = (which, archived) =>
  json("PATCH", `/api/listings/${id(which)}`, { body: { archived } });
/** Where all of its files can be fetched in one. @param {string} which */
export const zipAddress = (which) => `/api/listings/${id(which)}/zip`;
/** Waits up to 25 s for news of any listing. @param {number} after @param {AbortSignal} signal @returns {Promise<{after: number, changed: boolean}>} */
export const listingEvents = (after, signal) =>
  json("GET", `/api/listings/events?${query({ after })}`, { signal });

/** @typedef {{id: number, draft: Draft, setting: Setting, take: string | undefined}} LiveAsk */
/** @typedef {{send: (ask: LiveAsk) => boolean, close: () => void}} Live */

/**
 * The live connection: settings go out, filters come in. It reconnects by itself.
 * @param {{frame: (frame: ArrayBuffer) => void, problems: (id: number, problems: Problem[]) => void, open: (open: boolean) => void}} on
 * @returns {Live}
 */
export function openLive(on) {
  let wait = 250,
    closed = false,
    timer = 0;
  /** @type {WebSocket | undefined} */
  let socket;
  function connect() {
    socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/api/live`);
    socket.binaryType = "arraybuffer";
    socket.onopen = () => {
      wait = 250;
      on.open(true);
    };
    socket.onmessage = ({ data }) => {
      if (data instanceof ArrayBuffer) on.frame(data);
      else {
        const said = JSON.parse(data);
        on.problems(said.id, said.problems ?? []);
      }
    };
    socket.onclose = () => {
      on.open(false);
      if (!closed) timer = window.setTimeout(connect, wait);
      wait = Math.min(wait * 2, 4000);
    };
  }
  connect();
  return {
    send(asked) {
      if (socket?.readyState !== WebSocket.OPEN) return false;
      socket.send(JSON.stringify(asked));
      return true;
    },
    close() {
      closed = true;
      clearTimeout(timer);
      socket?.close();
    },
  };
}

// ---- the customer's page (functions by the owner of web/js/customer.js below this line) ----
/** @import {Comment, Offer, SignOff} from "../customer/words.js" */

/** @param {string} token @param {AbortSignal} [signal] @returns {Promise<Offer>} */
export const offer = (token, signal) => json("GET", `/api/p/${id(token)}`, { signal });
/** The bytes of a clip, by the address that the offer gives. @param {string} url @param {AbortSignal} [signal] */
export const clip = async (url, signal) => whole((await ask("GET", url, { signal })).arrayBuffer());
/** @param {string} token @param {number[]} numbers @returns {Promise<{numbers: number[]}>} */
export const setFavourites = (token, numbers) =>
  json("PUT", `/api/p/${id(token)}/favourites`, { body: { numbers } });
/** @param {string} token @param {number | null} number @param {string} text @returns {Promise<Comment>} */
export const sendComment = (token, number, text) =>
  json("POST", `/api/p/${id(token)}/comments`, { body: { number, text } });
/** @param {string} token @param {{number: number, name: string, date: string}} signed @returns {Promise<SignOff>} */
export const signOff = (token, signed) =>
  json("POST", `/api/p/${id(token)}/signoff`, { body: { ...signed, confirm: true } });
/** Where the signed record can be fetched. @param {string} token */
export const recordAddress = (token) => `/api/p/${id(token)}/record`;

/** The knobs of an offered sound, and the number of the sound that has its stems.
 * @param {string} token @param {number} number
 * @returns {Promise<{knobs: {name: string, value: number}[], strings: number, longest_s: number}>} */
export const liveKnobs = (token, number) => json("GET", liveAddress(token, number));
/** @param {string} token @param {number} number @param {{take: string, knobs: Record<string, number>, id: number}} turned */
export const liveFilters = async (token, number, turned) =>
  whole((await ask("POST", `${liveAddress(token, number)}/filters`, { body: turned })).arrayBuffer());
/** The stems of an offered sound: megabytes, so it is told what share has come.
 * @param {string} token @param {number} number @param {string} take @param {(share: number) => void} told */
export async function liveStems(token, number, take, told) {
  const answer = await ask("GET", `${liveAddress(token, number)}/stems?${query({ take })}`);
  const all = Number(answer.headers.get("Content-Length")),
    reader = answer.body?.getReader();
  const parts = [];
  let come = 0;
  for (let part = await reader?.read(); part?.value; part = await reader?.read()) {
    parts.push(part.value);
    come += part.value.length;
    told(all > 0 ? Math.min(come / all, 1) : 0);
  }
  return planar(await new Blob(parts).arrayBuffer(), answer);
}
/** @param {string} token @param {number} number */
const liveAddress = (token, number) => `/api/p/${id(token)}/live/${number}`;

// ---- the range of sounds, lug charts, a knob's travel
/** @import {ChartAsked, RangeAsked, Search, SoundMap, SwitchRow} from "../range/words.js" */

/** @param {Draft} draft @param {RangeAsked} options @param {AbortSignal} [signal] @returns {Promise<Search>} */
export const startRange = (draft, options, signal) =>
  json("POST", "/api/range", { body: { draft, options }, signal });
/** @param {Draft} draft @param {ChartAsked} options @param {AbortSignal} [signal] @returns {Promise<Search>} */
export const startChart = (draft, options, signal) =>
  json("POST", "/api/charts", { body: { draft, options }, signal });
/** @param {Draft} draft @param {Setting} setting @param {string} knob @param {string} capacitor @param {AbortSignal} [signal] @returns {Promise<Search>} */
export const startTravel = (draft, setting, knob, capacitor, signal) =>
  json("POST", "/api/travels", { body: { draft, setting, knob, capacitor }, signal });
/** Waits up to 25 s for more than was known. @param {string} which @param {number} after @param {AbortSignal} [signal] @returns {Promise<Search>} */
export const followSearch = (which, after, signal) =>
  json("GET", `/api/searches/${id(which)}?${query({ after })}`, { signal });
/** @param {string} which @returns {Promise<Search>} */
export const cancelSearch = (which) => json("POST", `/api/searches/${id(which)}/cancel`);
/** @param {string} which @param {AbortSignal} [signal] @returns {Promise<SoundMap>} */
export const soundMap = (which, signal) => json("GET", `/api/searches/${id(which)}/map`, { signal });
/** Where a document of a chart is. @param {string} which @param {"drawing.svg" | "chart.txt" | "wiring.yaml"} file */
export const chartFile = (which, file) => `/api/searches/${id(which)}/${file}`;
/** @param {string} which @param {{commission: string, name: string} | {wiring: string, base: string, note: string}} where
 * @returns {Promise<{wiring_id: string, version_id: string}>} */
export const keepChart = (which, where) => json("POST", `/api/searches/${id(which)}/keep`, { body: where });
/** @returns {Promise<SwitchRow[]>} */
export const switches = () => json("GET", "/api/switches");
/** Edits that put a sketch in a switch's place. @param {Draft} draft @returns {Promise<{edits: Edit[]}>} */
export const sketchEdits = (draft) => json("POST", "/api/draft/sketch", { body: { draft } });
