/** Put the peak guard into a chain of audio nodes. */

/**
 * @param {BaseAudioContext} context
 * @returns {Promise<AudioNode | null>} null where the browser has no worklets: over plain http, or an old one
 */
export async function guardNode(context) {
  if (!context.audioWorklet || !globalThis.AudioWorkletNode) return null;
  try {
    await context.audioWorklet.addModule(new URL("./guard_worklet.js", import.meta.url));
  } catch {
    return null; // not loaded: the clips stay below the ceiling by their gain
  }
  return new AudioWorkletNode(context, "presolder-guard", {
    outputChannelCount: [1],
    channelCount: 1,
    channelCountMode: "explicit",
  });
}
