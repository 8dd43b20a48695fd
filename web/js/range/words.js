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
 * @property {number} [clean_level_below_loudest_db]  the same through clean, LU; missing in an old search
 * @property {number} hum_db
 * @property {boolean} hum_cancelling
 * @property {number} brightness_hz
 * @property {{frequency_hz: number}[]} resonances
 * @property {number | null} meter_ohm
 * @property {boolean} in_phase
 * @property {string[]} words  how it sounds, empty while that is not known
 *
 * @typedef {Sound & {x: number, y: number, allowed: boolean}} Point
 * @typedef {{sounds: number, points: Point[], timbre: number[][], hum_cancelling_db: number,
 *   heard: HeardLimits}} SoundMap  timbre in hundredths of a decibel
 * @typedef {{band_db: number[], words: string[]}} HeardLimits  of the band that differs most
 * @typedef {{nearest_db?: number | null, nearest_largest_db?: number | null}} Nearest
 * @typedef {{rows: (Sound & Nearest)[], distance_db: number | null}} SoundSet
 * @typedef {{edits: Edit[], evenness: number, level_evenness: number, width_db: number}} TravelAdvice
 * @typedef {{parts: string[], beside: boolean, wander_db: number, treble_lost_db: number, edits: Edit[]}}
 *   BypassAdvice
 * @typedef {{kind: string, network: string, pot: string, coils: string[], unbeaten: boolean, width_db:
 *   number, evenness: number, at_ten_db: number, edits: Edit[]}} NetworkAdvice
 * @typedef {{knob: string, width_db: number, largest_db: number, heard: string, evenness: number,
 *   level_evenness: number, values: number[],
 *   step_db: number[], level_db: number[]}} Travel
 * @typedef {{position: string, label: string, same: boolean, width_db: number, spread_db: number,
 *   evenness: number, at_ten_db: number, at_ten_level_db: number}} Elsewhere
 * @typedef {Travel & {network: string, about: string, parts: {name: string, value: string}[], only: string,
 *   by: string, pot: string, start: number, start_db: number, hum_db: (number | null)[], change_db: number,
 *   spread_db: number, even: number, bass_db: number, treble_db: number, meets: boolean, unbeaten: boolean,
 *   curve: [number, number][] | null, curve_evenness: number, elsewhere: Elsewhere[], edits: Edit[],
 *   curve_edits: Edit[] | null}} Way
 * @typedef {{to: string[], at_least_db: number, within_db: number, evenness: number, networks: number,
 *   computed: number, meeting: number, candidates: Way[]}} GoalResult
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
 * @property {Price[]} [costs]  what each condition costs
 * @property {number} [costs_share]
 * @property {number} [elapsed_s]
 * @property {string} [stage]
 * @property {Chart} [chart]
 * @property {string[]} [reason]
 * @property {boolean} [impossible]
 * @property {number[]} [left_out]
 * @property {Remedy[]} [remedies]  what would do instead
 * @property {Record<string, number> | null} [nearest]
 * @property {Travel} [travel]
 * @property {string[]} [capacitors]
 * @property {boolean} [volume]
 * @property {TravelAdvice[]} [advice]
 * @property {BypassAdvice[]} [bypass]
 * @property {NetworkAdvice[]} [networks]
 * @property {string} [no_networks]  why there are none to try
 * @property {GoalResult} [goal]
 * @property {number} [treble_lost_db]
 * @property {number} [wander_db]
 *
 * @typedef {{name: string, about: string, positions: number, poles: number}} SwitchRow
 * @typedef {{position: string, label: string, contacts: string[][], sound: string, reading: string}}
 *   WiredPosition
 * @typedef {{name: string, selects: boolean, about: string, poles: number,
 *   lugs: {lug: string, with: string[]}[], positions: WiredPosition[]}} WiredSwitch
 * @typedef {{switches: WiredSwitch[], sounds: Record<string, string>, why: string}} Wired  sounds: what
 *   another switch would be wired for, by position; why there are none
 * @typedef {{switch: string, order: "fixed" | "free", about: string}} Remedy
 *
 * @typedef {{condition: string, costs_db: number | null, proved: boolean, without: SoundSet | null}} Price
 *   the set without the condition, null where the time did not suffice
 * @typedef {object} Profile  conditions that hold where none are set; null for any level
 * @property {string} name
 * @property {string} about
 * @property {string} in_phase
 * @property {boolean} usual
 * @property {boolean} plain
 * @property {number | null} window_db
 * @property {number | null} spread_db
 * @property {number | null} step_db
 * @property {"neck" | "dark" | "thick" | "near"} order
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
  if (where.startsWith("in phase")) return "in_phase";
  if (where.startsWith("place")) return "pins";
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
    return `Proved best: no ${count} of these ${sounds ?? ""} sounds that keep the rules${where} are farther apart than ${apart.replace(" apart", "")}.`;
  const bound =
    set.bound_db === null || set.bound_db === undefined
      ? ""
      : `; none can be above ${fixed(set.bound_db, 2)} dB`;
  if (state === "running" && (phase === "searching" || phase === "switch"))
    return `Best so far ${apart}${bound}. Looking for better ones.`;
  return `Best found: ${apart}${bound}.`;
}

/**
 * Whether a difference of timbre is heard, by the limits that the server sends.
 * @param {number} largest dB, in the band that differs most @param {HeardLimits} limits
 */
export const heardInWords = (largest, { band_db: limits, words }) =>
  words[limits.filter((limit) => largest >= limit).length];

/** How far a sound is from its nearest. @param {Nearest} sound @param {HeardLimits | undefined} limits */
export function nearestInWords({ nearest_db: away, nearest_largest_db: largest }, limits) {
  if (away === null || away === undefined) return "";
  const heard =
    limits && largest !== null && largest !== undefined ? `, ${heardInWords(largest, limits)}` : "";
  return `${fixed(away)} dB from its nearest${heard}`;
}

/** The phase of a search in words. @param {Search} search */
export function phaseInWords({
  state,
  phase,
  share,
  facts_share: facts,
  costs_share: costs,
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
  if (phase === "costs") return `Working out what each condition costs… ${Math.round((costs ?? 0) * 100)} %`;
  return "Starting…";
}

/** The price of a condition. @param {Price} price */
export const priceInWords = ({ costs_db: costs, proved }) =>
  costs === null ? "not known in the time given" : `${proved ? "" : "about "}${fixed(costs, 2)} dB`;

/** Levels and phase of a set along the selector, in words. @param {Sound[]} sounds */
export function levelsInWords(sounds) {
  if (sounds.length < 2) return "";
  const levels = sounds.map(({ level_below_loudest_db: level }) => level);
  const heard = sounds.flatMap(({ clean_level_below_loudest_db: level }) =>
    level === undefined ? [] : [level],
  );
  const steps = levels.slice(1).map((level, k) => Math.abs(level - levels[k]));
  const inPhase = sounds.filter(({ in_phase: is }) => is).length;
  const quiet = sounds.filter(({ hum_cancelling: cancels }) => cancels).length;
  return [
    `${inPhase} of ${sounds.length} in phase`,
    `${quiet} without hum`,
    `levels within ${fixed(Math.max(...levels) - Math.min(...levels))} dB`,
    ...(heard.length < sounds.length
      ? []
      : [`through clean within ${fixed(Math.max(...heard) - Math.min(...heard))} LU`]),
    `neighbours within ${fixed(Math.max(...steps))} dB`,
  ].join(", ");
}

/** The connection of coils, to read aloud. @param {Tree} tree @param {boolean} [inner] @returns {string} */
export function soundInWords(tree, inner = false) {
  if (tree.kind === "coil") return `${tree.name.replaceAll("_", " ")}${tree.turned ? " reversed" : ""}`;
  const parts = tree.members.map((member) => soundInWords(member, true));
  const all = parts.length > 1 ? `${parts.slice(0, -1).join(", ")} and ${parts[parts.length - 1]}` : parts[0];
  return inner ? `(${all} in ${tree.kind})` : `${all} in ${tree.kind}`;
}

/** A level that falls so far is silence. */
const SILENT_DB = 60;

/** What a knob may lead to, in words. @type {[string, string][]} */
export const GOAL_ENDS = [
  ["thin clear", "a thin, clear one"],
  ["thin", "a thin one: less bass"],
  ["clear", "a clear one: more treble"],
  ["dark", "a dark one: less treble"],
  ["quieter", "a quieter one of the same timbre"],
  ["other", "any other timbre"],
];

/** What a search for a goal has computed and found. @param {GoalResult} goal */
export function goalInWords({ networks, computed, meeting, candidates }) {
  const counts = `${counted(networks, "network")}, ${computed.toLocaleString("en")} travels, all computed`;
  if (meeting) return `${counts}: ${meeting.toLocaleString("en")} meet the goal.`;
  return candidates.length ? `${counts}: none meets the goal. The nearest:` : `${counts}: none leads there.`;
}

/** A way's figures, by whether the level was asked for. @param {Way} way @param {boolean} ofLevel */
export function wayInWords(way, ofLevel) {
  const [change, spread] = ofLevel ? ["level", "timbre"] : ["timbre", "level"];
  const start = `${fixed(way.start, 0)} (${fixed(way.start_db)} dB off)`;
  const wide =
    way.change_db >= SILENT_DB ? `${change} to silence` : `${fixed(way.change_db)} dB of ${change}`;
  const tilt = `; bass ${signed(way.bass_db)}, treble ${signed(way.treble_db)} dB re the total`;
  return (
    `${wide}, evenness ${fixed(way.even, 2)}, ${spread} within ${fixed(way.spread_db)} dB` +
    `${ofLevel ? "" : tilt}. Today's sound at ${start}.`
  );
}

/** @param {number} db */
const signed = (db) => (Number(db.toFixed(1)) > 0 ? `+${fixed(db)}` : fixed(db));

/** Hum at the start and at the other end. @param {Way} way */
export function humInWords({ hum_db: hum, start }) {
  const ends = hum.flatMap((db, k) =>
    db === null ? [] : [`${fixed(db, 0)} dB at ${k ? 10 - start : start}`],
  );
  return ends.length ? `Hum, re the same coils adding up: ${ends.join(", ")}.` : "";
}

/** A curve to ask for. @param {[number, number][]} curve */
export const curveInWords = (curve) =>
  curve.map(([at, share]) => `${fixed(100 * share, 0)} % at ${Number((10 * at).toFixed(1))}`).join(", ");

/** Where a way changes anything else. @param {Elsewhere[]} rows */
export function reachInWords(rows) {
  const changed = rows.filter((row) => !row.same).map(({ position }) => position);
  if (!rows.length) return "";
  return changed.length ? `Changes ${changed.join(", ")} too` : "Every other position stays as today";
}

/** What the knob does in the other positions, a sentence each. @param {Elsewhere[]} rows */
export function elsewhereInWords(rows) {
  const name = (/** @type {Elsewhere} */ { position, label }) =>
    label ? `${position} (${label})` : position;
  const same = rows.filter((row) => row.same).map(({ position }) => position);
  const others = rows
    .filter((row) => !row.same)
    .map((row) => {
      const still = row.width_db < 0.1 && row.spread_db < 0.1;
      const knob = still
        ? "the knob does nothing"
        : `${fixed(row.width_db)} dB of timbre along the knob, level within ${fixed(row.spread_db)} dB, evenness ${fixed(row.evenness, 2)}`;
      const from = `${fixed(row.at_ten_db)} dB of timbre and ${signed(row.at_ten_level_db)} dB of level from today's at 10`;
      return `In ${name(row)} ${knob}; ${from}.`;
    });
  return [...(same.length ? [`In ${same.join(", ")} as today.`] : []), ...others];
}
