/**
 * Each joint has a number, its place in the file, a hue and a tracer. The tracer is a line inside the wire:
 * it tells joints apart for eyes that see no hues, and on a black print. Ground is plain ink.
 */

/** @import {WiringFacts} from "./types.js" */

/** `outer` breaks the wire itself, `inner` is the line in it ("0" is unbroken). */
export const TRACERS = [
  { outer: "", inner: "" },
  { outer: "", inner: "0" },
  { outer: "", inner: "9 7" },
  { outer: "", inner: "1.5 7" },
  { outer: "", inner: "16 4 2 4" },
  { outer: "10 4", inner: "" },
  { outer: "", inner: "24 14" },
  { outer: "22 4", inner: "0" },
  { outer: "3 3.5", inner: "" },
  { outer: "", inner: "3 14" },
];
const HUES = 8;

/** @typedef {{ground: boolean, label: string, hue: string, tracer: typeof TRACERS[0]}} Look */

/** What each joint's wires look like. @param {WiringFacts} facts @returns {Look[]} */
export function looksOf(facts) {
  let number = 0;
  return facts.joints.map((_, k) => {
    if (k === facts.ground) return { ground: true, label: "G", hue: "ink", tracer: TRACERS[0] };
    const look = {
      ground: false,
      label: String(k + 1),
      hue: `hue-${number % HUES}`,
      tracer: TRACERS[number % TRACERS.length],
    };
    number++;
    return look;
  });
}
