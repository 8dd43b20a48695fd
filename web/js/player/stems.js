/** Stems as the server sends them: the signal that a take induces in each coil. */

const RATE = 48_000;

/**
 * Split the body into one array a coil.
 * @param {ArrayBuffer} bytes @param {Response} answer the headers that came with them
 */
export function splitStems(bytes, { headers }) {
  const all = new Float32Array(bytes),
    samples = Number(headers.get("X-Samples"));
  return Array.from({ length: all.length / samples }, (_, k) => all.subarray(k * samples, (k + 1) * samples));
}

/**
 * Decode stems that come as sound files.
 * @param {ArrayBuffer[]} files of some coils each, in order
 * @returns {Promise<AudioBuffer>} a channel a coil, at 48 kHz whatever the device's rate
 */
export async function decodeStems(files) {
  const parts = await Promise.all(
    files.map((bytes) => new OfflineAudioContext(1, 1, RATE).decodeAudioData(bytes)),
  );
  const rows = parts.flatMap((part) =>
    Array.from({ length: part.numberOfChannels }, (_, k) => part.getChannelData(k)),
  );
  const all = new AudioBuffer({
    numberOfChannels: Math.max(rows.length, 1),
    length: rows[0]?.length ?? 1,
    sampleRate: RATE,
  });
  rows.forEach((row, k) => all.copyToChannel(row, k));
  return all;
}
