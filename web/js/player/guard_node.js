/** Put the peak guard into a chain of audio nodes. */

/**
 * @param {string} address of guard_worklet.js
 * @returns {(context: BaseAudioContext) => Promise<AudioNode | null>} null where the browser has no worklets:
 *   over plain http, or an old one
 */
export const guardFrom = (address) => async (context) => {
  if (!context.audioWorklet || !globalThis.AudioWorkletNode) return null;
  try {
    await context.audioWorklet.addModule(address);
  } catch {
    // not loaded: the clips stay below the ceiling by their gain
    return null;
  }
  return new AudioWorkletNode(context, "presolder-guard", {
    outputChannelCount: [1],
    channelCount: 1,
    channelCountMode: "explicit",
  });
};
