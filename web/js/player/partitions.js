/**
 * Convolution of several channels with a filter each, added up, block by block: the filters are cut into
 * blocks whose spectra meet the spectra of the latest blocks of input (overlap-save). Without delay.
 */

import { Fourier } from "./fft.js";

export class Convolution {
  /** @param {Float32Array[]} filters one a channel, of one length @param {number} block a power of two */
  constructor(filters, block) {
    this.block = block;
    this.fourier = new Fourier(2 * block);
    this.parts = Math.max(1, Math.ceil((filters[0]?.length ?? 0) / block));
    this.filters = filters.map((filter) =>
      Array.from({ length: this.parts }, (_, p) =>
        this.#spectrum(filter.subarray(p * block, (p + 1) * block)),
      ),
    );
    /** Spectra of the latest blocks of every channel, in a ring. */
    this.heard = filters.map(() => Array.from({ length: this.parts }, () => this.#spectrum([])));
    this.before = filters.map(() => new Float64Array(block));
    this.newest = 0;
    this.re = new Float64Array(2 * block);
    this.im = new Float64Array(2 * block);
  }

  /** @param {ArrayLike<number>} samples at most a block; zeros follow */
  #spectrum(samples) {
    const re = new Float64Array(2 * this.block),
      im = new Float64Array(2 * this.block);
    re.set(samples);
    this.fourier.forward(re, im);
    return { re, im };
  }

  /**
   * Filter a block.
   * @param {ArrayLike<number>[]} inputs a block of every channel; a channel left out is silent
   * @param {Float32Array} out
   */
  run(inputs, out) {
    const { block, parts, re, im } = this,
      size = 2 * block;
    this.newest = (this.newest + parts - 1) % parts;
    re.fill(0);
    im.fill(0);
    this.filters.forEach((filter, k) => {
      const latest = this.heard[k][this.newest];
      latest.re.set(this.before[k]);
      latest.im.fill(0);
      if (inputs[k]) this.before[k].set(inputs[k]);
      else this.before[k].fill(0);
      latest.re.set(this.before[k], block);
      this.fourier.forward(latest.re, latest.im);
      for (let p = 0; p < parts; p++) {
        const x = this.heard[k][(this.newest + p) % parts],
          h = filter[p];
        for (let i = 0; i < size; i++) {
          re[i] += x.re[i] * h.re[i] - x.im[i] * h.im[i];
          im[i] += x.re[i] * h.im[i] + x.im[i] * h.re[i];
        }
      }
    });
    this.fourier.back(re, im);
    for (let i = 0; i < block; i++) out[i] = re[block + i] / size;
  }
}
