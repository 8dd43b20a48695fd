/**
 * Looping stems: the samples at any moment of the playing time, and before its start. The end of the
 * loop fades into the samples before its start, so that the seam does not click.
 */

import { raisedCosine } from "./fade.js";

/** Shortest loop, in samples: 50 ms at 48 kHz. */
export const SHORTEST_LOOP = 2400;
const SEAM = 480;

/**
 * Limit a loop to the stems and to the shortest length.
 * @param {number} start @param {number} end @param {number} length of the stems
 * @returns {[number, number]}
 */
export function fittingLoop(start, end, length) {
  const shortest = Math.min(SHORTEST_LOOP, length);
  const from = Math.round(Math.max(0, Math.min(Number.isFinite(start) ? start : 0, length - shortest)));
  const to = Math.round(Math.max(from + shortest, Math.min(Number.isFinite(end) ? end : length, length)));
  return [from, to];
}

/** Stems, a loop in them, and the playing position. */
export class Loop {
  /**
   * @param {Float32Array[]} stems  Per coil, of one length.
   * @param {number} start @param {number} end  From `fittingLoop`.
   * @param {number} position  In the stems, at the clock's `since`.
   * @param {number} since
   * @param {boolean} fresh  Nothing played before: silence precedes.
   */
  constructor(stems, start, end, position, since, fresh = false) {
    this.stems = stems;
    this.start = start;
    this.end = end;
    this.since = since;
    this.fresh = fresh;
    this.from = position >= start && position < end ? position : start;
    this.seam = raisedCosine(Math.min(SEAM, (end - start) >> 2));
  }

  /** The playing position. @param {number} clock */
  position(clock) {
    const length = this.end - this.start;
    const gone = (this.from - this.start + clock - this.since) % length;
    return this.start + (gone < 0 ? gone + length : gone);
  }

  /**
   * Samples of every coil.
   * @param {number} clock  Of the first.
   * @param {number} n
   * @param {Float64Array[]} into @param {number} at
   */
  read(clock, n, into, at) {
    let left = n;
    if (this.fresh && clock < this.since) {
      const silent = Math.min(left, this.since - clock);
      for (const row of into) row.fill(0, at, at + silent);
      left -= silent;
      clock += silent;
      at += silent;
    }
    while (left > 0) {
      const position = this.position(clock),
        seamAt = this.end - this.seam.length;
      const plain = position < seamAt;
      const m = Math.min(left, (plain ? seamAt : this.end) - position);
      if (plain) this.#copy(position, m, into, at);
      else this.#blend(position, m, into, at);
      left -= m;
      clock += m;
      at += m;
    }
  }

  /** @param {number} position @param {number} m @param {Float64Array[]} into @param {number} at */
  #copy(position, m, into, at) {
    for (let k = 0; k < this.stems.length; k++) {
      const stem = this.stems[k],
        row = into[k];
      for (let i = 0; i < m; i++) row[at + i] = stem[position + i];
    }
  }

  /** @param {number} position @param {number} m @param {Float64Array[]} into @param {number} at */
  #blend(position, m, into, at) {
    const back = this.end - this.start,
      first = position - (this.end - this.seam.length);
    for (let k = 0; k < this.stems.length; k++) {
      const stem = this.stems[k],
        row = into[k];
      for (let i = 0; i < m; i++) {
        const share = this.seam[first + i],
          before = position + i - back;
        row[at + i] = (1 - share) * stem[position + i] + (before >= 0 ? share * stem[before] : 0);
      }
    }
  }
}
