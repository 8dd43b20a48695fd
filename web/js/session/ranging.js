/** The state of the range view that a session remembers, and its first values. */

/**
 * @typedef {{name: string, table: string, stop: number | null}} SwitchOptions
 * @typedef {object} RangeOptions
 * @property {"widest" | "useful"} profile  gives what is null below
 * @property {number} count
 * @property {number | string} quiet  how many must cancel hum: a number, a share or all
 * @property {number | string | null} in_phase  how many must be in phase
 * @property {boolean | null} usual  keep to usual connections
 * @property {boolean | null} plain  keep the plain sounds
 * @property {string[]} pins
 * @property {string[]} bans
 * @property {{position: number, expression: string}[]} places  sounds at a position by hand
 * @property {number | null} window_db
 * @property {number | null} spread_db
 * @property {number | null} step_db
 * @property {"wired" | "clean"} levels  where those three compare levels
 * @property {number} thinnest
 * @property {"neck" | "dark" | "thick" | "near" | null} order
 * @property {boolean} in_order  a switch must keep the order
 * @property {boolean} costs  work out what each condition costs
 * @property {string[] | null} coils
 * @property {SwitchOptions | null} switch
 * @property {number} seconds
 *
 * @typedef {object} ChartOptions
 * @property {string[]} sounds
 * @property {string[]} labels  one for each sound, or none
 * @property {string} [sketch]  whose positions are charted in place of the set; empty for the set
 * @property {SwitchOptions} switch
 * @property {SwitchOptions | null} [second]  a further switch beside it
 * @property {string} [shaft]  the pot whose shaft that one shares
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
 * @property {boolean} [keep_pot]  missing in a session of before
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
export const GOAL = { to: ["thin", "clear"], at_least_db: 3, within_db: 9, evenness: 0.6, keep_pot: false };

/** Conditions that follow from the profile until somebody sets them. */
export const OF_PROFILE = /** @type {const} */ ({
  in_phase: null,
  usual: null,
  plain: null,
  window_db: null,
  spread_db: null,
  step_db: null,
  order: null,
});

/** @returns {RangeOptions} */
const startAsking = () => ({
  profile: "useful",
  count: 5,
  quiet: 0,
  ...OF_PROFILE,
  pins: [],
  bans: [],
  places: [],
  levels: "wired",
  thinnest: 0,
  in_order: false,
  costs: true,
  coils: null,
  switch: null,
  seconds: 20,
});

/**
 * Options as saved, perhaps by an earlier version of the page: those that there are no more are dropped.
 * @param {Partial<RangeOptions>} saved @returns {RangeOptions}
 */
export function knownOptions(saved) {
  const start = startAsking();
  return /** @type {RangeOptions} */ (
    Object.fromEntries(
      Object.entries(start).map(([key, value]) => [
        key,
        saved[/** @type {keyof RangeOptions} */ (key)] ?? value,
      ]),
    )
  );
}

/** @returns {RangeState} */
export const startRanging = () => ({
  asked: startAsking(),
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
    second: null,
    shaft: "",
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
