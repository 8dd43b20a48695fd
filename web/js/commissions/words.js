/** A new instrument in words: types, its first state, and sentences. */

/** @import {Network} from "../drawing/types.js" */
/** @import {Problem} from "../shared/types.js" */

/**
 * @typedef {{name: string, title: string, usual: string, answers: {name: string, title: string}[]}} Question
 * @typedef {{name: string, title: string, about: string, answers: Record<string, string>, switch: string,
 *   second: string, sounds: string[] | null}} Layout
 * @typedef {{name: string, about: string, positions: number, poles: number}} SwitchRow
 * @typedef {object} Choices  What may be said.
 * @property {Question[]} questions
 * @property {string[]} places
 * @property {Layout[]} layouts
 * @property {Record<string, string>} scales  by set of strings
 * @property {SwitchRow[]} switches
 *
 * @typedef {object} Words  What is said.
 * @property {string} layout  where it started; empty for none
 * @property {Record<string, string>} answers
 * @property {string} scale
 * @property {string} switch
 * @property {string} second
 * @property {string[] | null} sounds  null for the usual ones
 * @property {"fixed" | "free"} order
 * @property {boolean} range  the sounds are left to Range
 *
 * @typedef {{words: string, expression: string, network: Network, usual: boolean}} OfferedSound
 * @typedef {object} Made  What is made of it.
 * @property {string | null} text  the wiring file; null if the sounds do not fit
 * @property {OfferedSound[]} sounds
 * @property {string[]} chosen  in the order of the positions
 * @property {string[]} stands  the positions
 * @property {boolean} apart
 * @property {string} values
 * @property {Problem[]} problems
 *
 * @typedef {{switch: string, order: "fixed" | "free", about: string}} Remedy
 * @typedef {object} Charted  A search for the chart so far.
 * @property {string} id
 * @property {number} after
 * @property {string} state
 * @property {string} [stage]
 * @property {{poles: number, wires: number, about: string, final: boolean}} [chart]
 * @property {string[]} [reason]
 * @property {boolean} [impossible]
 * @property {number[]} [left_out]
 * @property {Remedy[]} [remedies]
 * @property {[string, string, string, string][]} [problems]
 */

/** @param {Layout} layout @returns {Words} */
export const wordsOf = ({ name, answers, switch: one, second, sounds }) => ({
  layout: name,
  answers: { ...answers },
  scale: "",
  switch: one,
  second,
  sounds,
  order: "fixed",
  range: false,
});

/** The body of the request. @param {Words} words @param {string} name */
export const saidOf = ({ answers, scale, switch: one, second, sounds }, name) => ({
  answers,
  scale,
  switch: one,
  second,
  sounds,
  name,
});

/**
 * The sounds with one more or one fewer: in the order offered, from the neck to the bridge. With two
 * switches a new one comes last, since pairs belong together.
 * @param {Made} made @param {string} words @param {boolean} paired
 */
export function withToggled({ sounds, chosen }, words, paired) {
  if (chosen.includes(words)) return chosen.filter((one) => one !== words);
  const next = [...chosen, words];
  if (paired) return next;
  return sounds.map((one) => one.words).filter((one) => next.includes(one));
}

/** The pot whose shaft a push-pull takes: the tone's, or the volume's. @param {Words} words */
export function shaftOf({ answers, second }) {
  if (!/^push_(pull|switch)$/.test(second)) return "";
  if ((answers.tones ?? "one") === "one") return "tone";
  return (answers.volumes ?? "one") === "one" ? "volume" : "";
}

/** Why nothing can be made yet; empty if it can. @param {Made | null} made @param {Words} words */
export function lackOf(made, words) {
  if (!made) return "";
  if (made.text !== null) {
    if (words.range && made.sounds.length < 2) return "One sound leaves nothing to choose.";
    return "";
  }
  if (made.chosen.length === 0) return "Tick one sound at least.";
  return made.problems.map(({ got, allowed }) => `${got}: ${allowed}.`).join(" ");
}

/** How far the chart is. @param {Charted | null} news */
export function chartInWords(news) {
  if (!news) return "Writing the sketch…";
  if (news.chart?.final) return "The chart is done.";
  if (news.chart) return `Wired: ${news.chart.poles} poles, ${news.chart.wires} wires. Looking for fewer…`;
  return "The sketch is written. Looking for a lug chart…";
}
