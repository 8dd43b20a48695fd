/** Stems as the server sends them: the signal that a take induces in each coil. */

/**
 * Split the body into one array a coil.
 * @param {ArrayBuffer} bytes @param {Response} answer the headers that came with them
 */
export function splitStems(bytes, { headers }) {
  const all = new Float32Array(bytes),
    samples = Number(headers.get("X-Samples"));
  return Array.from({ length: all.length / samples }, (_, k) => all.subarray(k * samples, (k + 1) * samples));
}
