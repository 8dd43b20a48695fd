/** Numbers and sentences of the customer's page: no DOM, no sound. */

import { counted, plainName } from "../shared/words.js";

/**
 * @typedef {{flac?: string, mp3: string, seconds: number, wired_gain_db: number, even_gain_db: number,
 *   silent: boolean}} ClipRef  wired_gain_db: to the true differences; even_gain_db: to equal loudness
 * @typedef {{number: number, label: string, words: string[], stands: string[], brightness: number, picture:
 *   {file: string, words: string} | null, clips: Record<string, ClipRef>, farthest?: Record<string,
 *   ClipRef[]>}} Item  farthest: of the farthest two guitars, by take; none in a file
 * @typedef {{name: string, about: string}} WayToHear
 * @typedef {{takes: Record<string, {gain_db: number, room_db: number}>, clips: Record<string, Record<string,
 *   ClipRef>>, farthest?: Record<string, Record<string, ClipRef[]>>}} HeardIn  levels of the takes and clips
 *   of the sounds in a way
 * @typedef {{wiring: number, built: number, cables: boolean, cable_share: number, apart: Record<string,
 *   {band_db: number, level_db: number, heard: string}>}} Farthest  the farthest two guitars of a wiring;
 *   apart: by sound
 * @typedef {{id: string, name: string, seconds: number, coil_places: string, gain_db: number, room_db:
 *   number}} OfferTake  gain_db: with it the loudest clip plays at the usual level; room_db: the most that
 *   the peaks of its clips allow
 * @typedef {{id: string, text: string, when: string}} Reply  of the workshop
 * @typedef {{id: string, number: number | null, device: string, place: number, when: string, replies:
 *   Reply[]}} ServedSaid  place: counts what was said, as it came to the server
 * @typedef {{state: "here" | "refused" | "sent" | "seen", why: string}} Sent  here: in this browser alone;
 *   why: it was refused
 * @typedef {ServedSaid & {text: string}} ServedNote
 * @typedef {ServedSaid & {number: number, knobs: Record<string, number>, taken_back: boolean, sound:
 *   number | null, making: number | null}} ServedWish  sound: the one with these settings; making: rendered
 *   share of it
 * @typedef {ServedNote & Sent} Note
 * @typedef {ServedWish & Sent} Wish
 * @typedef {{number: number, device: string, place: number}} Mark  that makes a favourite
 * @typedef {{count: number, text: string, names: string[]}} OfferedPart  parts that are alike
 * @typedef {{parts: string[], points: number, ground: boolean}} OfferedJoint
 * @typedef {{number: number, name: string, price: string, when_ready: string, bought: OfferedPart[], kept:
 *   OfferedPart[], soldered: OfferedJoint[], sounds: number[]}} OfferedWiring  kept: parts that are there
 * @typedef {{of: "wiring" | "sound", number: number, label: string, name: string, date: string, when: string,
 *   sha256: string}} SignOff  of: sounds were signed for before wirings were
 * @typedef {{title: string, created: string, expires: string, ways: WayToHear[], takes: OfferTake[], items:
 *   Item[], wirings: OfferedWiring[], statement: string, signoff: SignOff | null, ready: number, failed:
 *   number, favourites: number[], workshop: {name: string, contact: string, picture: string | null} |
 *   null}} Offered
 * @typedef {{marks: Mark[], comments: ServedNote[], wishes: ServedWish[], place: number, looked: number,
 *   unread: number, after: number}} Talk  place: the newest; looked: what the workshop has seen; unread: how
 *   much it has not; after: counts all changes of the proposal
 * @typedef {Offered & Talk & {heard?: Record<string, HeardIn>, farthest?: Farthest[]}} Served  as the server
 *   says it; a file has no way but the first
 * @typedef {Omit<Served, "comments" | "wishes"> & {comments: Note[], wishes: Wish[], unsent: number,
 *   refused: import("./outbox.js").Entry[], elsewhere: number[]}} Offer  with what waits in
 *   this browser; unsent: how much that is; elsewhere: favourites of other phones
 */

/**
 * The knobs as last set, if valid; else as offered.
 * @param {{name: string, value: number}[]} offered @param {string} kept JSON, or empty
 * @returns {Record<string, number>}
 */
export function validKnobs(offered, kept) {
  let before = /** @type {any} */ ({});
  try {
    before = JSON.parse(kept || "{}") ?? {};
  } catch {
    /* damaged: as offered */
  }
  const fits = (/** @type {unknown} */ at) => typeof at === "number" && at >= 0 && at <= 10;
  return Object.fromEntries(
    offered.map(({ name, value }) => [name, fits(before[name]) ? before[name] : value]),
  );
}

/**
 * What the workshop asks and promises for a wiring: names and texts.
 * @param {Pick<OfferedWiring, "price" | "when_ready">} wiring
 */
export const termsOf = ({ price, when_ready: ready }) =>
  [
    ["Price", price],
    ["Ready", ready],
  ].filter(([, text]) => text);

/** "2 × pot, 500 kΩ (volume, tone)". @param {OfferedPart} part */
export const partInWords = ({ count, text, names }) => `${count} × ${text} (${names.join(", ")})`;

/** "Ground: volume and output, 4 points". @param {OfferedJoint} joint */
export function jointInWords({ parts, points, ground }) {
  const last = parts[parts.length - 1],
    listed = parts.length > 1 ? `${parts.slice(0, -1).join(", ")} and ${last}` : last;
  return `${ground ? "Ground: " : ""}${listed}, ${counted(points, "point")}`;
}

/** The wiring of a sound. @param {OfferedWiring[]} wirings @param {number} number of the sound */
export const wiringOf = (wirings, number) =>
  wirings.find(({ sounds }) => sounds.includes(number)) ?? wirings[0];

/** What a way is. @param {WayToHear[]} ways @param {string} way */
export const heardWords = (ways, way) =>
  `You hear every sound ${ways.map(({ name, about }) => (name === way ? `${name}: ${about}.` : "")).join("")}` +
  (way === "direct" ? "" : " One chain stands for all amplifiers; yours sounds different again.");

/** For a browser without Web Audio. */
export const CANNOT_PLAY =
  "This browser cannot play sounds in a page. Open the page in another browser, or on another device.";
/** For a device whose sound does not run. */
export const NOTHING_STARTS =
  "No sound starts on this device. Check that it has a loudspeaker or headphones and that no call holds the sound, then open the page again.";

/** "Full. A little softer. Quiet background." @param {string[]} words */
export const sentence = (words) =>
  words.map((word) => `${word.charAt(0).toUpperCase()}${word.slice(1)}.`).join(" ");

/**
 * Which music the knobs turn with, or empty if they do with this one.
 * @param {{id: string, name: string}[]} takes @param {string} take
 * @param {(take: string) => boolean} turnsWith
 */
export function turnsWithWords(takes, take, turnsWith) {
  const names = takes.filter(({ id }) => turnsWith(id)).map(({ name }) => `“${name}”`);
  if (turnsWith(take)) return "";
  return names.length ? `The knobs turn with ${names.join(", ")}.` : "The knobs do not turn in this file.";
}

/** What a take cannot show, in plain words, or empty. @param {string} places */
export const placesInWords = (places) =>
  places.includes("not modelled")
    ? `In ${places.startsWith("not modelled") ? "this recording" : "parts of this recording"} you cannot hear where along the string a pickup sits.`
    : "";

/** Minutes and seconds. @param {number} seconds */
export const clock = (seconds) =>
  `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

/** A fingerprint in groups, to read aloud. @param {string} sha256 */
export const inGroups = (sha256) => (sha256.match(/.{1,8}/g) ?? []).join(" ");

/** A day in the reader's language. @param {string} iso @param {string} [language] */
export function day(iso, language) {
  const date = new Date(iso.length === 10 ? `${iso}T12:00:00` : iso);
  return new Intl.DateTimeFormat(language, { day: "numeric", month: "long", year: "numeric" }).format(date);
}

/**
 * How long the sounds are offered.
 * @param {Pick<Offer, "created" | "expires" | "signoff">} offer @param {boolean} isFile a file stays open
 */
export function untilWords({ created, expires, signoff }, isFile) {
  if (signoff) return `Proposal of ${day(created)}`;
  return isFile ? `Proposal of ${day(created)}, meant until ${day(expires)}` : `Open until ${day(expires)}`;
}

/** What the button of a note says, and what is said once it is pressed. @param {boolean} isFile */
export const noteWords = (isFile) =>
  isFile
    ? { send: "Keep this note", done: "In your answer. The workshop does not have it yet." }
    : { send: "Send to the workshop", done: "" };

/**
 * Where a note or a wish is: here, at the workshop, or seen by it.
 * @param {Sent & {when: string}} said @param {boolean} isFile
 */
export function whereWords({ state, why, when }, isFile) {
  if (isFile) return `Written ${day(when)}`;
  return {
    here: "Kept here, not sent yet",
    refused: `Not sent: ${why}`,
    sent: `Sent ${day(when)}`,
    seen: `Sent ${day(when)}. The workshop has seen it.`,
  }[state];
}

/** A wish's knobs. @param {Record<string, number>} knobs */
export const knobsInWords = (knobs) =>
  Object.entries(knobs)
    .map(([name, at]) => `${plainName(name).toLowerCase()} ${Math.round(10 * at) / 10}`)
    .join(", ");

/**
 * The gain of a clip beside that of its take, dB.
 * @param {ClipRef | undefined} clip @param {boolean} matched
 */
export const clipGain = (clip, matched) => (clip ? (matched ? clip.even_gain_db : clip.wired_gain_db) : 0);

/** Today in the reader's time zone, YYYY-MM-DD. @param {Date} [now] */
export const today = (now = new Date()) =>
  [now.getFullYear(), now.getMonth() + 1, now.getDate()]
    .map((part) => String(part).padStart(2, "0"))
    .join("-");

/** The first two sounds to compare: two favourites if there are two, else the chosen sound and another.
 * @param {number[]} favourites @param {number} heard @param {number[]} all @returns {[number, number]} */
export function firstPair(favourites, heard, all) {
  const others = [...favourites, ...all];
  const a = favourites.includes(heard) || favourites.length < 2 ? heard : favourites[0];
  return [a, others.find((one) => one !== a) ?? a];
}

const TELL = "This page is a file and sends nothing by itself: when you are done, send your answer, below.";
const LOST = "This browser keeps nothing: what you mark or write is lost when you close the page.";

/**
 * The number of favourites, and what is still to do.
 * @param {number} favourites @param {{isFile: boolean, keeps: () => boolean}} source
 */
export function standing(favourites, { isFile, keeps }) {
  const marked =
    favourites === 0 ? "No favourites yet." : favourites === 1 ? "1 favourite." : `${favourites} favourites.`;
  return [marked, isFile ? TELL : "Nothing is final until you sign.", !keeps() && LOST]
    .filter(Boolean)
    .join(" ");
}

/** Whether an answer says nothing yet. @param {import("../answers/composing.js").Said} said */
export const isEmpty = ({ favourites, notes, wishes, sign }) =>
  favourites.length + notes.length + wishes.length === 0 && sign === null;

/** What an answer holds, in a few words. @param {import("../answers/composing.js").Said} said */
export function answerInWords({ favourites, notes, wishes, sign }) {
  const counted = (/** @type {number} */ count, /** @type {string} */ one) =>
    count > 0 && `${count} ${one}${count > 1 ? "s" : ""}`;
  const parts = [
    counted(favourites.length, "favourite"),
    counted(notes.length, "note"),
    wishes.length > 0 && `knob settings for ${wishes.map(({ number }) => `sound ${number}`).join(", ")}`,
    sign && "your signature",
  ].filter(Boolean);
  return parts.length
    ? `It holds ${parts.join(", ")}.`
    : "It is empty: mark a favourite, write a note, or sign.";
}

/** What becomes of a signature that is not recorded. */
const NOT_RECORDED = {
  waiting: " Your signature is not recorded yet: the workshop asks you first.",
  second: " Your signature is not recorded: somebody signed before. Talk to the workshop.",
};

/** What the workshop has, by its receipt. @param {import("./source.js").Receipt} receipt */
export function receiptInWords({ received, state, isLast }) {
  const found = `The workshop has ${isLast ? "this answer" : "an answer from this page"} since ${day(received.slice(0, 10))}.`;
  const rest = isLast ? "" : " What you changed afterwards it does not have: send the answer again.";
  return found + (state === "waiting" || state === "second" ? NOT_RECORDED[state] : "") + rest;
}

/** Most characters that a mail program takes with an address (common practice). */
const MOST_MAILED = 1800;

/**
 * The address that opens a mail with an answer; empty if it is too long.
 * @param {string} title @param {string} text
 */
export function mailAddress(title, text) {
  const address = `mailto:?subject=${encodeURIComponent(`Answer to ${title}`)}&body=${encodeURIComponent(text)}`;
  return address.length <= MOST_MAILED ? address : "";
}
