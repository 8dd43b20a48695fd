/**
 * The response plot as data: scales, ticks, grid and paths. It draws no elements, so every page can use it.
 */

/** @typedef {{to: (value: number) => number, from: (place: number) => number}} Scale */

/** @param {[number, number]} domain @param {[number, number]} range @returns {Scale} */
export function linear([d0, d1], [r0, r1]) {
  const slope = (r1 - r0) / (d1 - d0);
  return { to: (value) => r0 + (value - d0) * slope, from: (place) => d0 + (place - r0) / slope };
}

/** @param {[number, number]} domain both above 0 @param {[number, number]} range @returns {Scale} */
export function logarithmic([d0, d1], range) {
  const inner = linear([Math.log(d0), Math.log(d1)], range);
  return { to: (value) => inner.to(Math.log(value)), from: (place) => Math.exp(inner.from(place)) };
}

/** Frequencies that get a grid line: 1, 2 and 5 of each decade. @param {number} low @param {number} high */
export function frequencyTicks(low, high) {
  const ticks = [];
  for (let decade = 10 ** Math.floor(Math.log10(low)); decade <= high; decade *= 10)
    for (const first of [1, 2, 5])
      if (first * decade >= low && first * decade <= high) ticks.push(first * decade);
  return ticks;
}

/** @param {number} hz */
export const shortHz = (hz) => (hz >= 1000 ? `${hz / 1000} k` : `${hz}`);

/** Height of the response plot, dB. Anything weaker is inaudible beside the loudest. */
export const SHOWN_DB = 54;

/**
 * The dB range that shows a set of curves. Its top is a multiple of 6.
 * @param {(number | null)[][]} curves @returns {[number, number]}
 */
export function levelRange(curves) {
  let top = -Infinity;
  for (const curve of curves) for (const value of curve) if (value !== null && value > top) top = value;
  const ceiling = Number.isFinite(top) ? Math.ceil((top + 1) / 6) * 6 : 6;
  return [ceiling - SHOWN_DB, ceiling];
}

/** @param {[number, number]} range @param {number} [step] */
export function levelTicks([low, high], step = 12) {
  const ticks = [];
  for (let at = Math.ceil(low / step) * step; at <= high; at += step) ticks.push(at === 0 ? 0 : at);
  return ticks;
}

/**
 * Curves continue this far outside the plot, which clips them, so that their slope at its edge stays true.
 */
const BEYOND_DB = 60;

/**
 * A curve as the `d` of a path. Silence (null) leaves a gap.
 * @param {number[]} hz @param {(number | null)[]} db @param {Scale} x @param {Scale} y
 * @param {[number, number]} range shown, dB @param {number} [from] lowest frequency shown, Hz
 */
export function pathOf(hz, db, x, y, [low, high], from = 0) {
  let path = "",
    pen = "M";
  hz.forEach((frequency, k) => {
    const level = db[k];
    if (level === null || level === undefined || !Number.isFinite(level) || frequency < from) {
      pen = "M";
      return;
    }
    const shown = Math.min(high + BEYOND_DB, Math.max(low - BEYOND_DB, level));
    path += `${pen}${x.to(frequency).toFixed(1)} ${y.to(shown).toFixed(1)}`;
    pen = "L";
  });
  return path;
}

/** Margins of the plot, px: room for the labels. */
const MARGIN = { left: 42, right: 10, top: 10, bottom: 28 };
/** A plot narrower than this has every other frequency line, px. */
const NARROW = 460;

/** @typedef {{x1: number, y1: number, x2: number, y2: number, zero: boolean}} GridLine */
/** @typedef {{x: number, y: number, anchor: "start" | "middle" | "end", text: string}} GridText */

/**
 * Lay out a response plot.
 * @param {object} size
 * @param {number} size.wide  px
 * @param {number} size.tall  px
 * @param {[number, number]} size.hz  frequencies shown
 * @param {[number, number]} size.range  levels shown, dB
 * @param {string} [size.unit]  of the levels
 */
export function layOutPlot({ wide, tall, hz, range, unit = "dB" }) {
  const { left, top } = MARGIN,
    right = wide - MARGIN.right,
    bottom = tall - MARGIN.bottom;
  const x = logarithmic(hz, [left, right]),
    y = linear(range, [bottom, top]);
  const ticks = frequencyTicks(...hz)
    .filter((tick) => tick > hz[0])
    .filter((_, k) => wide >= NARROW || k % 2 === 0);
  /** @type {GridLine[]} */
  const lines = [
    ...ticks.map((tick) => ({ x1: x.to(tick), x2: x.to(tick), y1: top, y2: bottom, zero: false })),
    ...levelTicks(range).map((db) => ({ x1: left, x2: right, y1: y.to(db), y2: y.to(db), zero: db === 0 })),
  ];
  /** @type {GridText[]} */
  const texts = [
    ...ticks.map((tick) => {
      const anchor = tick === hz[1] ? /** @type {const} */ ("end") : /** @type {const} */ ("middle");
      return { x: x.to(tick), y: tall - 8, anchor, text: shortHz(tick) };
    }),
    ...levelTicks(range).map((db) => {
      const text = `${db > 0 ? "+" : db < 0 ? "−" : ""}${Math.abs(db)}`;
      return { x: left - 6, y: y.to(db) + 4, anchor: /** @type {const} */ ("end"), text };
    }),
    { x: left + 5, y: top + 13, anchor: "start", text: unit },
    { x: left - 6, y: tall - 8, anchor: "end", text: "Hz" },
  ];
  return {
    x,
    y,
    lines,
    texts,
    frame: { x: left, y: top, width: Math.max(0, right - left), height: Math.max(0, bottom - top) },
    /** @param {number[]} frequencies @param {(number | null)[]} db */
    path: (frequencies, db) => pathOf(frequencies, db, x, y, range, hz[0]),
  };
}

/** Index of the frequency nearest by ratio. @param {number[]} hz ascending @param {number} target */
export function nearestIndex(hz, target) {
  let low = 0,
    high = hz.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (hz[middle] <= target) low = middle;
    else high = middle;
  }
  return target * target > hz[low] * hz[high] ? high : low;
}

/** Frequencies of the table beside the plot: octaves of 1 kHz, as in hearing tests. */
export const TABLE_HZ = [63, 125, 250, 500, 1000, 2000, 3000, 4000, 6000, 8000, 12000, 16000];

/**
 * @param {number[]} hz @param {(number | null)[][]} curves
 * @returns {{hz: number, levels: (number | null)[]}[]}
 */
export function tableRows(hz, curves) {
  return TABLE_HZ.filter((row) => row >= hz[0] && row <= hz[hz.length - 1]).map((row) => {
    const k = nearestIndex(hz, row);
    return { hz: row, levels: curves.map((curve) => curve[k] ?? null) };
  });
}

/**
 * The hill behind a knob: how much of its effect lies at each part of its travel, 0 to 1.
 * @param {number[]} evenness change of the sound per step @param {number} width @param {number} height
 */
export function hillPath(evenness, width, height) {
  const most = Math.max(...evenness, 0);
  if (evenness.length === 0 || most <= 0) return "";
  const step = width / evenness.length;
  const top = evenness.map(
    (change, k) => `L${((k + 0.5) * step).toFixed(1)} ${(height * (1 - change / most)).toFixed(1)}`,
  );
  return `M0 ${height}${top.join("")}L${width} ${height}Z`;
}

/** Share of the travel that holds nine tenths of a knob's effect: 1 is even. @param {number[]} evenness */
export function usedTravel(evenness) {
  const sorted = [...evenness].sort((a, b) => b - a);
  const total = sorted.reduce((sum, change) => sum + change, 0);
  let gathered = 0,
    count = 0;
  for (const change of sorted) {
    if (gathered >= 0.9 * total) break;
    gathered += change;
    count += 1;
  }
  return sorted.length === 0 || total <= 0 ? 0 : count / sorted.length;
}
