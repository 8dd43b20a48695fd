/** Fades and ramps: changes without a click. */

/** Samples of the fade from one bank to the next: 20 ms at 48 kHz. */
export const FADE = 960;
/** Samples of the ramps of play and pause: 10 ms at 48 kHz. */
export const PLAY_RAMP = 480;

/**
 * Gains of a fade in, a raised cosine. The fade out is one minus these.
 * @param {number} length in samples
 */
export function raisedCosine(length) {
  return Float64Array.from({ length }, (_, i) => 0.5 - 0.5 * Math.cos((Math.PI * (i + 0.5)) / length));
}

/** A number that moves linearly to its target and reaches it exactly. */
export class Ramp {
  /** @param {number} value @param {number} length samples that a whole move takes */
  constructor(value, length) {
    this.value = value;
    this.target = value;
    this.length = length;
    this.step = 0;
    this.left = 0;
  }

  /** @param {number} target */
  to(target) {
    if (target === this.target) return;
    this.target = target;
    this.left = this.length;
    this.step = (target - this.value) / this.length;
  }

  /** Jump to a target. @param {number} target */
  jump(target) {
    this.value = this.target = target;
    this.left = 0;
  }

  /** Value of the next sample. */
  next() {
    if (this.left > 0) {
      this.left -= 1;
      this.value = this.left === 0 ? this.target : this.value + this.step;
    }
    return this.value;
  }
}
