/**
 * The spectrum of what plays, drawn behind the response on its axis of frequency. It moves only while
 * something plays, and costs nothing while it is hidden.
 */

import { createAverage, createBands } from "../player/spectrum.js";
import { RATE } from "../player/engine.js";
import { SHOWN_DB } from "../shared/plot.js";
import { h, s } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */
/** @import {Scale} from "../shared/plot.js" */

/** Least time between two looks, ms. */
const LOOK_MS = 66;
/** Who asked for less motion gets a slower average, drawn this rarely, ms. */
const CALM_MS = 2000;
const [AVERAGE_S, CALM_AVERAGE_S] = [0.25, 2];
/** Level at the top of the plot, dB of full scale. */
const TOP_DB = -6;
const ABOUT = `Shaded: what leaves the page, in sixths of an octave, from −${SHOWN_DB - TOP_DB} to −${-TOP_DB} dB of full scale.`;

/**
 * @param {Session} session @param {() => Float32Array | null} look  levels of the bins now
 * @param {() => {x: Scale, frame: {x: number, y: number, width: number, height: number}}} plotNow
 * @param {[number, number]} hz  shown
 */
export function spectrumView({ get, set, on, signal }, look, plotNow, hz) {
  const area = s("path", { class: "spectrum", "aria-hidden": "true" }),
    bands = createBands(RATE, hz),
    calm = window.matchMedia("(prefers-reduced-motion: reduce)");
  let frame = 0,
    looked = 0,
    drawn = 0,
    average = createAverage(AVERAGE_S);

  const button = h(
    "button",
    { type: "button", class: "small", title: ABOUT, onclick: () => set({ spectrum: !get().spectrum }) },
    "Spectrum",
  );
  const about = h("p", { class: "soft small" }, ABOUT);

  /** @param {number[]} levels dB of full scale */
  function draw(levels) {
    const { x, frame: box } = plotNow(),
      foot = box.y + box.height,
      perDb = box.height / SHOWN_DB;
    const tops = levels.map((db, k) => {
      const y = Math.min(foot, Math.max(box.y, box.y + (TOP_DB - db) * perDb));
      return `${x.to(bands.hz[k]).toFixed(1)} ${y.toFixed(1)}`;
    });
    area.setAttribute("d", `M${box.x} ${foot}L${tops.join("L")}L${box.x + box.width} ${foot}Z`);
  }
  /** @param {number} now */
  function step(now) {
    frame = requestAnimationFrame(step);
    if (now - looked < LOOK_MS || document.querySelector("dialog[open]")) return; // it would tell in a blind test
    looked = now;
    const bins = look();
    if (!bins) return;
    const levels = average(bands.powers(bins), now);
    if (calm.matches && now - drawn < CALM_MS) return;
    drawn = now;
    draw(levels);
  }
  function follow() {
    const { playing, spectrum } = get();
    cancelAnimationFrame(frame);
    area.setAttribute("d", "");
    button.setAttribute("aria-pressed", String(spectrum));
    about.hidden = !spectrum;
    if (!spectrum || !playing) return;
    average = createAverage(calm.matches ? CALM_AVERAGE_S : AVERAGE_S);
    frame = requestAnimationFrame(step);
  }
  on(["playing", "spectrum"], follow);
  signal.addEventListener("abort", () => cancelAnimationFrame(frame));
  follow();
  return { area, button, about };
}
