/** What is going to be proposed: wirings with their terms, and sounds with knobs of their own. No DOM. */

import { plainName } from "../shared/words.js";
import { same } from "../shared/store.js";

/** @import {Stop} from "../session/stops.js" */
/** @import {Alternative, Offering, Sound} from "../shared/types.js" */
/**
 * @typedef {object} Known  What the bench knows of a wiring.
 * @property {Stop[]} stops
 * @property {Record<string, number>} knobs  as the bench has them
 * @property {Record<string, string>} switches
 * @property {string[]} parts
 * @property {string[]} coils
 */

/** In which ways a new proposal is heard: on a phone clean is nearer to an amplifier than direct. */
export const USUAL_WAYS = ["clean", "direct"];

/** Of one proposal; the server takes no more. */
export const MOST_SOUNDS = 24;

/** @param {string} version @returns {Alternative} */
export const newAlternative = (version) => ({
  version,
  name: "",
  price: "",
  when_ready: "",
  kept: null,
  farthest: "",
  sounds: [],
});

/**
 * The sounds of a wiring as it is now: each position, and below it those with other knobs.
 * @param {Sound[]} before @param {Known} known @returns {Sound[]}
 */
export const soundsOf = (before, { stops, knobs }) =>
  stops.flatMap(({ position, findings }) => {
    const mine = before.filter((one) => one.position === position).map((one) => withKnobsOf(one, knobs));
    const first = { position, on: !findings, more: false, knobs: null, label: "" };
    return mine.some(({ more }) => !more) ? mine : [first, ...mine];
  });

/**
 * A sound without knobs that the wiring has no longer.
 * @param {Sound} sound @param {Known["knobs"]} there
 */
const withKnobsOf = (sound, there) =>
  sound.knobs === null
    ? sound
    : {
        ...sound,
        knobs: Object.fromEntries(
          Object.entries(there).map(([name, at]) => [name, sound.knobs?.[name] ?? at]),
        ),
      };

/** @param {Sound[]} sounds @param {number} at the place of a sound @param {Partial<Sound>} change */
export const changeSound = (sounds, at, change) =>
  sounds.map((one, k) => (k === at ? { ...one, ...change } : one));

/**
 * The sound's position once more, below it.
 * @param {Sound[]} sounds @param {number} at @param {Known} known
 */
export const repeatSound = (sounds, at, known) => [
  ...sounds.slice(0, at + 1),
  { ...sounds[at], on: true, more: true, knobs: sounds[at].knobs ?? known.knobs, label: "" },
  ...sounds.slice(at + 1),
];

/**
 * The ways with one more, or without one that is there.
 * @param {string[]} ways @param {string} way
 */
export const toggleWay = (ways, way) =>
  ways.includes(way) ? ways.filter((one) => one !== way) : [...ways, way];

/** The ways with one of them heard first. @param {string[]} ways @param {string} way */
export const hearFirst = (ways, way) => [way, ...ways.filter((one) => one !== way)];

/** @param {Sound[]} sounds @param {number} at */
export const withoutSound = (sounds, at) => sounds.filter((_, k) => k !== at);

/**
 * What the customer reads of a sound unless another name was written: the position's name, and the knobs that
 * were set for this sound and differ from the bench's.
 * @param {Sound} sound @param {Known} known
 */
export function nameOf({ position, knobs, label }, known) {
  if (label.trim()) return label.trim();
  const name = known.stops.find((one) => one.position === position)?.name ?? `Position ${position}`;
  const turned = Object.entries(knobs ?? {}).filter(([knob, at]) => at !== known.knobs[knob]);
  return [name, ...turned.map(([knob, at]) => `${plainName(knob).toLowerCase()} ${at}`)].join(", ");
}

/**
 * What the server is asked to propose, or why it cannot be.
 * @param {Offering} offering @param {(version: string) => Known | undefined} knownOf
 */
export function requestOf({ title, days, takes, ways, wirings }, knownOf) {
  const offered = wirings.flatMap((wiring) => {
    const known = knownOf(wiring.version);
    return known ? [{ wiring, known, sounds: wiring.sounds.filter(({ on }) => on) }] : [];
  });
  const items = offered.flatMap(({ wiring, known, sounds }) =>
    sounds.map((sound) => ({
      version: wiring.version,
      position: sound.position,
      knobs: sound.knobs ?? known.knobs,
      switches: known.switches,
      label: nameOf(sound, known),
    })),
  );
  const problem = problemOf(offered, items, takes, ways);
  const terms = offered.map(
    ({ wiring: { version, name, price, when_ready: ready, kept, farthest = "" } }) => ({
      version,
      name: offered.length > 1 ? name.trim() : "",
      price: price.trim(),
      when_ready: ready.trim(),
      kept,
      farthest,
    }),
  );
  return {
    problem,
    form: { title: title.trim(), items, wirings: terms, takes, ways, expires_days: Number(days) },
  };
}

/**
 * @param {{wiring: Alternative, sounds: Sound[]}[]} offered @param {object[]} items @param {string[]} takes
 * @param {string[]} ways
 */
function problemOf(offered, items, takes, ways) {
  if (!items.length || !takes.length) return "Choose at least one position and one take.";
  if (!ways.length) return "Choose at least one way in which the customer hears the sounds.";
  if (items.length > MOST_SOUNDS) return `Choose at most ${MOST_SOUNDS} sounds; there are ${items.length}.`;
  if (offered.some(({ sounds }) => !sounds.length))
    return "Choose at least one position of every wiring, or take the wiring out.";
  const twice = items.find((one, k) =>
    items.slice(0, k).some((other) => same({ ...one, label: "" }, { ...other, label: "" })),
  );
  return twice ? "Two sounds are the same: turn a knob of one of them." : "";
}
