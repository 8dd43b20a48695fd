/** A response as a path and as rows of numbers. */

/** @import {Scale} from "./scales.js" */

/** A curve is drawn so far beyond the picture, which cuts it: its slope at the edge stays true. */
const BEYOND_DB = 60;

/**
 * The path of a curve; a silent stretch (null) is a gap.
 * @param {number[]} hz @param {(number | null)[]} db @param {Scale} x @param {Scale} y @param {[number, number]} range shown, dB
 * @param {number} [from] lowest frequency shown, Hz
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

/** Index of the frequency nearest by ratio. @param {number[]} hz ascending @param {number} wanted */
export function nearestIndex(hz, wanted) {
  let low = 0,
    high = hz.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (hz[middle] <= wanted) low = middle;
    else high = middle;
  }
  return wanted * wanted > hz[low] * hz[high] ? high : low;
}

/** Frequencies of the table beside the plot: octaves of 1 kHz, as hearing tests have them. */
export const TABLE_HZ = [63, 125, 250, 500, 1000, 2000, 3000, 4000, 6000, 8000, 12000, 16000];

/** @param {number[]} hz @param {(number | null)[][]} curves @returns {{hz: number, levels: (number | null)[]}[]} */
export function tableRows(hz, curves) {
  return TABLE_HZ.filter((wanted) => wanted >= hz[0] && wanted <= hz[hz.length - 1]).map((wanted) => {
    const k = nearestIndex(hz, wanted);
    return { hz: wanted, levels: curves.map((curve) => curve[k] ?? null) };
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
