/** The searches' results as types, and sentences about them. */

import { fixed } from "../shared/units.js";
import { counted } from "../shared/words.js";

/** @import {ChartOptions, RangeOptions, RangeState, SwitchOptions} from "../session/ranging.js" */
/** @import {Edit, Tree} from "../shared/types.js" */

/**
 * @typedef {object} Sound  A candidate.
 * @property {number} index
 * @property {string} expression
 * @property {string} sound  the same for every way to write it
 * @property {Tree[]} connection
 * @property {string[] | null} out_of_phase  null while it is not known which coils
 * @property {number} level_below_loudest_db  0 for the loudest, below 0 for the others
 * @property {number} hum_db
 * @property {boolean} hum_cancelling
 * @property {number} brightness_hz
 * @property {{frequency_hz: number}[]} resonances
 * @property {number | null} meter_ohm
 * @property {boolean} in_phase
 * @property {string[]} words  how it sounds, empty while that is not known
 *
 * @typedef {Sound & {x: number, y: number, allowed: boolean}} Point
 * @typedef {{sounds: number, points: Point[], timbre: number[][], hum_cancelling_db: number}} SoundMap
 *   timbre in hundredths of a decibel
 * @typedef {{rows: (Sound & {nearest_db: number | null})[], distance_db: number | null}} SoundSet
 * @typedef {{edits: Edit[], evenness: number, level_evenness: number, width_db: number}} TravelAdvice
 * @typedef {{parts: string[], beside: boolean, wander_db: number, treble_lost_db: number, edits: Edit[]}}
 *   BypassAdvice
 * @typedef {{kind: string, network: string, pot: string, coils: string[], unbeaten: boolean, width_db:
 *   number, evenness: number, at_ten_db: number, edits: Edit[]}} NetworkAdvice
 * @typedef {{knob: string, width_db: number, evenness: number, level_evenness: number, values: number[],
 *   step_db: number[], level_db: number[]}} Travel
 *
 * @typedef {object} Chart
 * @property {string} title
 * @property {string} switch
 * @property {string} about  the switch in words
 * @property {number} poles
 * @property {number} wires
 * @property {number} lugs
 * @property {{position: string, sound: string, note: string, reading: string, label: string}[]} rows
 * @property {{number: number, kind: string, text: string}[]} steps
 * @property {{net: string, terminals: string[]}[]} joints
 * @property {[string, number][]} needed
 * @property {string[]} transit
 * @property {string[]} summary
 * @property {string[]} cautions
 * @property {string[]} checks
 * @property {boolean} final
 * @property {boolean} poles_proved
 * @property {boolean} wires_proved
 *
 * @typedef {object} Search  A search's result so far: without what is unknown yet.
 * @property {string} id
 * @property {number} after
 * @property {"running" | "done" | "cancelled" | "failed" | "refused" | "time"} state
 * @property {string[]} has
 * @property {[string, string, string, string][]} [problems]
 * @property {string} [phase]
 * @property {number} [share]
 * @property {number} [facts_share]
 * @property {number} [sounds]
 * @property {string[]} [notes]
 * @property {SoundSet & {bound_db: number | null, proved: boolean, at_s: number}} [set]
 * @property {(SoundSet & {new: string[], gone: string[]})[]} [others]
 * @property {number} [tried]
 * @property {number} [ruled_out]
 * @property {number} [anywhere_db]
 * @property {number} [below_db]  no chart of the switch has more
 * @property {number} [elapsed_s]
 * @property {string} [stage]
 * @property {Chart} [chart]
 * @property {string[]} [reason]
 * @property {boolean} [impossible]
 * @property {number[]} [left_out]
 * @property {Record<string, number> | null} [nearest]
 * @property {Travel} [travel]
 * @property {string[]} [capacitors]
 * @property {boolean} [volume]
 * @property {TravelAdvice[]} [advice]
 * @property {BypassAdvice[]} [bypass]
 * @property {NetworkAdvice[]} [networks]
 * @property {number} [treble_lost_db]
 * @property {number} [wander_db]
 *
 * @typedef {{name: string, about: string, positions: number, poles: number}} SwitchRow
 */

export const OWN_SWITCH = "own";

/** The first options: as many positions as the coils allow, hum-cancelling ones if windings differ.
 * @param {{winding?: string}[]} coils @returns {Pick<RangeOptions, "count" | "quiet">} */
export function firstAsked(coils) {
  const both = new Set(coils.map(({ winding }) => winding)).size > 1;
  return { count: coils.length > 2 ? 5 : 3, quiet: !both ? 0 : coils.length > 3 ? 2 : 1 };
}

/** What counts as hum that cancels. @param {number} limit dB */
export const cancellingInWords = (limit) => `Hum cancels where ${fixed(limit, 0)} dB of it or less is left.`;

/** Most coils that a search uses. */
export const MOST_COILS = 6;

/** The field of a problem. @param {string} where */
export function fieldOf(where) {
  if (where.startsWith("pin")) return "pins";
  if (where.startsWith("hum")) return "quiet";
  if (where.startsWith("table") || where.startsWith("switch") || where.startsWith("stop")) return "switch";
  return where.startsWith("coils") ? "coils" : where.startsWith("positions") ? "count" : "";
}

/** What is proved of the best set so far. @param {Search} search @param {number} [count] positions */
export function proofInWords(
  { set, state, sounds, phase, anywhere_db: anywhere },
  count = set?.rows.length ?? 0,
) {
  if (!set || set.distance_db === null) return "";
  const apart = `${fixed(set.distance_db, 2)} dB apart`;
  const where = anywhere === undefined ? "" : " on this switch";
  if (set.proved)
    return `Proved best: no ${count} of these ${sounds ?? ""} sounds${where} are farther apart than ${apart.replace(" apart", "")}.`;
  const bound =
    set.bound_db === null || set.bound_db === undefined
      ? ""
      : `; none can be above ${fixed(set.bound_db, 2)} dB`;
  if (state === "running" && (phase === "searching" || phase === "switch"))
    return `Best so far ${apart}${bound}. Looking for better ones.`;
  return `Best found: ${apart}${bound}.`;
}

/** The phase of a search in words. @param {Search} search */
export function phaseInWords({
  state,
  phase,
  share,
  facts_share: facts,
  sounds,
  tried,
  ruled_out: ruledOut,
  below_db: below,
  elapsed_s: elapsed,
}) {
  if (state === "cancelled") return "Stopped. The result so far stays.";
  if (state === "failed") return "The search failed. The result so far stays.";
  if (state === "refused") return "";
  if (state === "time") return "Time is up. The result so far stays.";
  if (state === "done") return elapsed === undefined ? "" : `Done in ${fixed(elapsed)} s.`;
  if (phase === "waiting") return "Waiting for another search to end…";
  if (phase === "sounds")
    return `Computing every sound of these coils… ${share ? `${Math.round(share * 100)} %` : ""}`;
  if (phase === "searching") return `${sounds} sounds. Looking for the set farthest apart…`;
  if (phase === "switch" && below !== undefined)
    return `Searching all charts of the switch: none has more than ${fixed(below, 2)} dB…`;
  if (phase === "switch")
    return tried
      ? `${counted(tried, "set")} tried on the switch, ${ruledOut ?? 0} ruled out…`
      : "Trying sets on the switch…";
  if (phase === "others") return "Looking for sets nearly as good…";
  if (phase === "facts") return `Describing every sound… ${Math.round((facts ?? 0) * 100)} %`;
  return "Starting…";
}

/** The connection of coils, to read aloud. @param {Tree} tree @param {boolean} [inner] @returns {string} */
export function soundInWords(tree, inner = false) {
  if (tree.kind === "coil") return `${tree.name.replaceAll("_", " ")}${tree.turned ? " reversed" : ""}`;
  const parts = tree.members.map((member) => soundInWords(member, true));
  const all = parts.length > 1 ? `${parts.slice(0, -1).join(", ")} and ${parts[parts.length - 1]}` : parts[0];
  return inner ? `(${all} in ${tree.kind})` : `${all} in ${tree.kind}`;
}
