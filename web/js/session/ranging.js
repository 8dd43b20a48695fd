/** The state of the range view that a session remembers, and its first values. */

/**
 * @typedef {{name: string, table: string, stop: number | null}} SwitchOptions
 * @typedef {object} RangeOptions
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
 * @property {SwitchOptions} switch
 * @property {"free" | "fixed"} order
 * @property {boolean} shorted
 * @property {boolean} turning
 * @property {number} seconds
 *
 * @typedef {object} RangeState
 * @property {RangeOptions} asked
 * @property {boolean} began  a search has been started
 * @property {string[] | null} own  a set chosen by the technician instead of the one found
 * @property {Omit<ChartOptions, "sounds">} chart
 * @property {string[]} charted  the sounds of the requested chart; empty for no chart
 * @property {string} knob
 * @property {string} capacitor
 */

export const TABLE =
  "lugs: [A0, A1, A2, B0, B1, B2]\ncontacts:\n  1: [[A0, A1], [B0, B1]]\n  2: [[A0, A2], [B0, B2]]\n";

/** @returns {RangeState} */
export const startRanging = () => ({
  asked: {
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
  knob: "",
  capacitor: "",
  chart: {
    switch: { name: "blade_5_four_pole", table: TABLE, stop: null },
    order: "free",
    shorted: true,
    turning: true,
    seconds: 10,
  },
});
