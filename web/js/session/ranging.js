/** The question of the search for a range of sounds, before anything is asked. */

/** @import {Ranging} from "../range/words.js" */

export const TABLE =
  "lugs: [A0, A1, A2, B0, B1, B2]\ncontacts:\n  1: [[A0, A1], [B0, B1]]\n  2: [[A0, A2], [B0, B2]]\n";

/** @returns {Ranging} */
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
