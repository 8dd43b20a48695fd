/** The audio device behind a context. */

const OPEN_S = 4; // a browser without an audio device may wait for one without end

/**
 * Let a context run. Call in a press or tap the first time.
 * @param {AudioContext} context
 * @returns {Promise<void>} fails when the device has had time enough to open
 */
export const openDevice = (context) =>
  Promise.race([
    context.resume(),
    new Promise((_, reject) => {
      setTimeout(() => reject(new Error("the audio device does not open")), 1000 * OPEN_S);
    }),
  ]);
