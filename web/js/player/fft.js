/** The discrete Fourier transform of a power of two, in place, on separate real and imaginary parts. */

export class Fourier {
  /** @param {number} size a power of two */
  constructor(size) {
    this.size = size;
    this.cosine = Float64Array.from({ length: size / 2 }, (_, k) => Math.cos((2 * Math.PI * k) / size));
    this.sine = Float64Array.from({ length: size / 2 }, (_, k) => Math.sin((2 * Math.PI * k) / size));
    this.reversed = new Uint32Array(size);
    for (let i = 1; i < size; i++) this.reversed[i] = (this.reversed[i >> 1] >> 1) | (i & 1 ? size / 2 : 0);
  }

  /**
   * Sum of x[n] exp(-2 pi i n k / size).
   * @param {Float64Array} re @param {Float64Array} im
   */
  forward(re, im) {
    const { size, cosine, sine, reversed } = this;
    for (let i = 1; i < size; i++) {
      const j = reversed[i];
      if (j > i) {
        const a = re[i],
          b = im[i];
        re[i] = re[j];
        im[i] = im[j];
        re[j] = a;
        im[j] = b;
      }
    }
    for (let half = 1; half < size; half *= 2) {
      const stride = size / (2 * half);
      for (let first = 0; first < size; first += 2 * half)
        for (let k = 0, at = 0; k < half; k++, at += stride) {
          const i = first + k,
            j = i + half,
            c = cosine[at],
            s = sine[at];
          const a = re[j] * c + im[j] * s,
            b = im[j] * c - re[j] * s;
          re[j] = re[i] - a;
          im[j] = im[i] - b;
          re[i] += a;
          im[i] += b;
        }
    }
  }

  /**
   * Its inverse, without the division by the size.
   * @param {Float64Array} re @param {Float64Array} im
   */
  back(re, im) {
    this.forward(im, re);
  }
}
