/** What was heard of a soldered guitar, so that the fault can be found: kept by wiring. */

/** @typedef {{setting: string, what: string, value: string}} Row  of a table of readings */
/**
 * @typedef {object} FaultsState
 * @property {boolean} open
 * @property {boolean} rig  there is a rig for |Z|, not a meter alone
 * @property {boolean} [exciter]  there is an exciter and a blade
 * @property {Record<string, Row[]>} heard  by the wiring's id
 */

export const HEARD = "heard",
  METER = "meter",
  FINE = "fine";
/** Whether a row was read with an exciter or a blade. @param {string} what */
export const isExcited = (what) => /^(exciter|blade) /.test(what);
/** Rows kept of a wiring, and wirings: a commission's state has a bound. */
const MOST_ROWS = 60,
  MOST_WIRINGS = 3;

/** @returns {FaultsState} */
export const startFaults = () => ({ open: false, rig: false, exciter: false, heard: {} });

/**
 * Words with one more, or without it. Several may be heard at one setting; "fine" goes with no other.
 * @param {Row[]} rows @param {Row} row @param {boolean} there whether it was heard
 */
export function withWord(rows, row, there) {
  /** @param {Row} one */
  const replaced = (one) =>
    one.setting === row.setting &&
    (one.value === row.value || (there && (one.value === FINE || row.value === FINE)));
  const others = rows.filter((one) => !replaced(one));
  return there && others.length < MOST_ROWS ? [...others, row] : others;
}

/**
 * The state with other words of a wiring.
 * @param {FaultsState} state @param {string} wiring @param {Row[]} rows @returns {FaultsState}
 */
export function withHeard(state, wiring, rows) {
  const { [wiring]: _, ...others } = state.heard;
  const kept = Object.entries(others).slice(-(MOST_WIRINGS - 1));
  return {
    ...state,
    heard: Object.fromEntries(rows.length ? [...kept, [wiring, rows]] : kept),
  };
}

/** Rows as the table that the server reads. @param {Row[]} rows */
export const tableOf = (rows) =>
  rows.length
    ? ["setting;what;value", ...rows.map((row) => [row.setting, row.what, row.value].map(cell).join(";"))]
        .join("\n")
        .concat("\n")
    : "";

/** @param {string} text */
const cell = (text) => text.replace(/[;"\t\r\n]/g, " ").trim();

/** The rows of a table that the server wrote. @param {string} text @returns {Row[]} */
export const rowsOf = (text) =>
  text
    .split("\n")
    .slice(1)
    .filter(Boolean)
    .map((line) => line.split(";"))
    .map(([setting = "", what = "", value = ""]) => ({ setting, what, value }));

/** The row of a table that a problem names, from 0, or -1. @param {string} where such as `readings:3` */
export const rowOf = (where) => {
  const found = /^readings:(\d+)/.exec(where);
  return found ? Number(found[1]) - 2 : -1;
};
