/** A small meter of what a page sends to the loudspeaker, or of an input. */

import { h, say } from "./dom.js";

const LOWEST_DB = -60;
/** Longest rest in the music that is not called silence, s. */
const REST_S = 1;
/** Fall of the bar, dB a second. */
const FALL = 40;
/** Least time between two looks, ms. */
const LOOK_MS = 50;
/** Least time between two changes of the words, ms. */
const WORDS_MS = 500;

/**
 * Follow peaks in time.
 * @returns {(peak: number, now: number) => {db: number, silent: boolean}} of a peak, full scale 1, at a time,
 *   ms: the height of the bar, and whether nothing has sounded for a while
 */
export function createBallistics() {
  let shown = LOWEST_DB,
    before = NaN,
    heard = NaN;
  return (peak, now) => {
    const db = Math.max(LOWEST_DB, 20 * Math.log10(peak)),
      fallen = shown - (FALL * (now - before || 0)) / 1000;
    before = now;
    shown = Math.max(db, fallen, LOWEST_DB);
    if (db > LOWEST_DB || Number.isNaN(heard)) heard = now;
    return { db: shown, silent: now - heard > 1000 * REST_S };
  };
}

/**
 * The words of a meter.
 * @param {boolean} playing @param {number} db @param {boolean} silent
 */
export const levelWords = (playing, db, silent) =>
  !playing ? "not playing" : silent ? "silent" : `${Math.round(db)} dB of full scale`.replace("-", "−");

/**
 * @param {{peak: () => number, playing: () => boolean, name?: string}} source
 * @returns {{element: HTMLElement, follow: () => void}} follow: call when the sound starts or stops
 */
export function meterView({ peak, playing, name = "Output meter" }) {
  const bar = h("i", {}),
    words = h("span", {});
  const element = h(
    "div",
    {
      class: "meter",
      role: "meter",
      "aria-label": name,
      "aria-valuemin": LOWEST_DB,
      "aria-valuemax": 0,
    },
    h("span", { class: "meter-bar" }, bar),
    words,
  );
  let frame = 0,
    looked = 0,
    told = 0,
    wasSilent = false,
    measure = createBallistics();

  /** @param {number} db @param {boolean} silent */
  function tell(db, silent) {
    const text = levelWords(playing(), db, silent);
    element.setAttribute("aria-valuenow", String(Math.round(db)));
    element.setAttribute("aria-valuetext", text);
    element.classList.toggle("silent", silent);
    say(words, silent ? text : "");
  }
  /** @param {number} now */
  function look(now) {
    frame = requestAnimationFrame(look);
    if (now - looked < LOOK_MS) return;
    looked = now;
    const { db, silent } = measure(peak(), now);
    bar.style.transform = `scaleX(${(1 - db / LOWEST_DB).toFixed(3)})`;
    if (now - told < WORDS_MS && silent === wasSilent) return;
    told = now;
    wasSilent = silent;
    tell(db, silent);
  }
  function follow() {
    cancelAnimationFrame(frame);
    if (playing()) {
      measure = createBallistics();
      frame = requestAnimationFrame(look);
      return;
    }
    bar.style.transform = "scaleX(0)";
    wasSilent = false;
    tell(LOWEST_DB, false);
  }
  follow();
  return { element, follow };
}
