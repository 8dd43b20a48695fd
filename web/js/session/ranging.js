/** The state of the range view that a session remembers, and its first values. */

/**
 * @typedef {{name: string, table: string, stop: number | null}} SwitchOptions
 * @typedef {object} RangeOptions
 * @property {"widest" | "useful"} profile  useful: in phase, like levels, the plain sounds kept
 * @property {number} count
 * @property {number | "all"} quiet  how many must cancel hum
 * @property {string[]} pins
 * @property {string[]} bans
 * @property {number} window_db
 * @property {boolean} opposed  allow coils out of phase
 * @property {number} thinnest
 * @property {"dark" | "near"} order
 * @property {string[] | null} coils
 * @property {SwitchOptions | null} switch
 * @property {number} seconds
 *
 * @typedef {object} ChartOptions
 * @property {string[]} sounds
 * @property {string[]} labels  one for each sound, or none
 * @property {string} [sketch]  whose positions are charted in place of the set; empty for the set
 * @property {SwitchOptions} switch
 * @property {"free" | "fixed"} order
 * @property {boolean} shorted
 * @property {boolean} turning
 * @property {number} seconds
 *
 * @typedef {object} GoalOptions  What a knob should lead to.
 * @property {string[]} to  of `GOAL_ENDS`
 * @property {number} at_least_db
 * @property {number} within_db
 * @property {number} evenness
 *
 * @typedef {object} RangeState
 * @property {RangeOptions} asked
 * @property {boolean} began  a search has been started
 * @property {string[] | null} own  a set chosen by the technician instead of the one found
 * @property {Omit<ChartOptions, "sounds" | "labels">} chart
 * @property {string[]} charted  the sounds of the requested chart; empty for no chart
 * @property {string[]} chartedLabels  their labels, empty for none
 * @property {Record<string, string>} labels  the labels that sounds have had, by `Sound.sound`
 * @property {string} knob
 * @property {string} capacitor
 * @property {GoalOptions} [goal]  missing in a session of before
 */

export const TABLE =
  "lugs: [A0, A1, A2, B0, B1, B2]\ncontacts:\n  1: [[A0, A1], [B0, B1]]\n  2: [[A0, A2], [B0, B2]]\n";

/** @type {GoalOptions} */
export const GOAL = { to: ["thin", "clear"], at_least_db: 3, within_db: 9, evenness: 0.6 };

/** @returns {RangeState} */
export const startRanging = () => ({
  asked: {
    profile: "widest",
    count: 5,
    quiet: 0,
    pins: [],
    bans: [],
    window_db: 18,
    opposed: false,
    thinnest: 0,
    order: "dark",
    coils: null,
    switch: null,
    seconds: 20,
  },
  began: false,
  own: null,
  charted: [],
  chartedLabels: [],
  labels: {},
  knob: "",
  capacitor: "",
  goal: GOAL,
  chart: {
    sketch: "",
    switch: { name: "blade_5_four_pole", table: TABLE, stop: null },
    order: "fixed",
    shorted: true,
    turning: true,
    seconds: 10,
  },
});

/** Labels kept, the newest of them. */
const MOST_LABELS = 60;

/**
 * The labels by sound, with those of a sketch's present positions.
 * @param {Record<string, string>} known @param {{label: string, sound?: string}[]} positions
 */
export function withLabels(known, positions) {
  const now = positions.flatMap(({ label, sound }) => (sound ? [[sound, label]] : []));
  const here = new Set(now.map(([sound]) => sound));
  const before = Object.entries(known).filter(([sound]) => !here.has(sound));
  const all = [...before, ...now.filter(([, label]) => label)];
  return Object.fromEntries(all.slice(-MOST_LABELS));
}

/** Move one item of a list. @template T @param {T[]} all @param {number} from @param {number} to */
export function moved(all, from, to) {
  const others = all.filter((_, k) => k !== from);
  return [...others.slice(0, to), all[from], ...others.slice(to)];
}
