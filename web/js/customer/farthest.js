/**
 * The farthest two of ten guitars built of an offered wiring, beside the sound as drawn: what tolerances do.
 * A page behind a link has it. Nobody signs for one of them.
 */

import { choice, h, say } from "../shared/dom.js";
import { wiringOf } from "./words.js";

/** @import {Farthest} from "./words.js" */
/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof import("./listening.js").startListening>} Listening */

const DRAWN = "drawn",
  LEAST_TOLD_DB = 0.05;
const GUITARS = [
  { value: DRAWN, label: "As drawn" },
  { value: "0", label: "One" },
  { value: "1", label: "The other" },
];
/** By the word for a difference; each is for two sounds heard one right after the other. */
const HEARD = new Map([
  ["not heard", "hardly anybody hears that"],
  ["at the edge", "that is at the edge of what is heard"],
  ["heard", "that is heard"],
]);

/** The cable first: it differs most, and is the player's own. @param {Farthest} two */
export const aboutWords = ({ built, cables, cable_share: share }) =>
  (cables
    ? `Players' cables differ: each of these guitars has its own, and ${Math.round(100 * share)} % of what differs is the cable. `
    : "") +
  `Built ${built === 10 ? "ten" : built} times, these two are farthest apart in tone, over all sounds together: parts have tolerances.`;

/** How far they are apart at a sound. @param {Farthest} two @param {number} number */
export function apartWords({ apart }, number) {
  const found = apart[number];
  if (!found) return `Sound ${number} is silent, or nearly.`;
  const { band_db: band, level_db: level, heard } = found,
    inLevel = level < LEAST_TOLD_DB ? "hardly" : `by ${level.toFixed(1)} dB`;
  return `At sound ${number} they differ by ${band.toFixed(1)} dB in the band that differs most and ${inLevel} in level: one right after the other, ${HEARD.get(heard) ?? heard}.`;
}

export const NO_CHOICE =
  "Both play with one gain, so their levels differ as they do. All of it is computed. You choose the wiring, not one of these guitars: nobody can say in advance how far yours is from the drawing.";

/**
 * @param {Page} page
 * @param {Pick<Listening, "play"> & {end: () => void}} listening of the clips, and ends what knobs turn
 */
export function farthestView({ get, set, on, item }, listening) {
  const [about, apart, honest] = [0, 1, 2].map(() => h("p", { class: "small soft" }));
  const guitars = choice("Which guitar you hear", GUITARS, DRAWN, (value) => {
    if (get().turning) listening.end();
    set({ end: value === DRAWN ? null : { number: get().number, which: Number(value) } });
    listening.play();
  });
  const heard = h(
    "div",
    { class: "loudness" },
    h("span", { "aria-hidden": "true" }, "Heard"),
    guitars.element,
  );
  const section = h(
    "section",
    { class: "built", "aria-labelledby": "farthest" },
    h("h2", { id: "farthest" }, "Built ten times"),
    heard,
    about,
    apart,
    honest,
  );
  say(honest, NO_CHOICE);
  /** @type {unknown[]} */
  let shown = [];
  function show() {
    const { number, offer, end } = get(),
      { wirings, farthest = [] } = offer,
      two = farthest.find(({ wiring }) => wiring === wiringOf(wirings, number)?.number),
      isThere = Boolean(item(number).farthest),
      now = [number, JSON.stringify(two), isThere];
    guitars.set(end?.number === number ? String(end.which) : DRAWN);
    if (now.every((one, k) => one === shown[k])) return;
    shown = now;
    section.hidden = !two;
    heard.hidden = !isThere;
    if (!two) return;
    say(about, aboutWords(two));
    say(apart, isThere ? apartWords(two, number) : `Not at sound ${number}: it was added later.`);
  }
  on(["number", "offer", "end"], show);
  // another sound, or turned knobs, are heard as drawn
  on(["number"], () => set({ end: null }));
  on(["turning"], ({ turning }) => {
    if (turning) set({ end: null });
  });
  show();
  return section;
}
