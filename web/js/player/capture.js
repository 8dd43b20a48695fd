/** Record an input of the computer. Nothing of it is heard: what is recorded is never sent to the output. */

/** What a browser does to speech unless told not to. */
export const PROCESSING = /** @type {const} */ (["echoCancellation", "noiseSuppression", "autoGainControl"]);

/** Whether this page may record: only at a secure address, or on this computer. */
export const mayRecord = () =>
  window.isSecureContext && Boolean(navigator.mediaDevices?.getUserMedia) && "AudioWorkletNode" in window;

/** Inputs by name; the names are empty until the browser allows one. */
export const listInputs = async () =>
  (await navigator.mediaDevices.enumerateDevices())
    .filter(({ kind, deviceId }) => kind === "audioinput" && deviceId)
    .map(({ deviceId, label }, k) => ({ id: deviceId, label: label || `Input ${k + 1}` }));

/**
 * @typedef {object} Input
 * @property {string} id
 * @property {MediaTrackSettings} settings  as the browser has them
 * @property {number} rate  Hz
 * @property {() => number} peak  since the last look, full scale 1
 * @property {() => void} begin  record from now on
 * @property {() => Float32Array<ArrayBuffer>} end  what was recorded
 * @property {() => number} seconds  recorded so far
 * @property {() => void} close
 */

/**
 * Open an input. The browser asks whoever sits there. Call in a press or tap.
 * @param {string} worklet address of capture_worklet.js
 * @param {string} id empty for the usual input
 * @param {{most: (rate: number) => number, full: () => void, lost: () => void}} how
 *   most: samples' seconds at a rate in Hz; full: called once they are recorded; lost: the input has gone
 * @returns {Promise<Input>}
 */
export async function openInput(worklet, id, { most, full, lost }) {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: {
      ...(id && { deviceId: { exact: id } }),
      ...Object.fromEntries(PROCESSING.map((one) => [one, false])),
      channelCount: 1,
    },
  });
  const [track] = stream.getAudioTracks(),
    context = new AudioContext(); // at its own rate: an engine refuses an input at another
  const close = () => {
    track.onended = null;
    track.stop();
    if (context.state !== "closed") void context.close();
  };
  try {
    await context.audioWorklet.addModule(worklet);
    await context.resume();
  } catch (error) {
    close();
    throw error;
  }
  const source = new MediaStreamAudioSourceNode(context, { mediaStream: stream }),
    node = new AudioWorkletNode(context, "presolder-capture", { channelCount: 1 }),
    rate = context.sampleRate;
  /** @type {Float32Array[]} */
  let pieces = [];
  let samples = 0,
    recording = false,
    largest = 0;
  node.port.onmessage = ({ data }) => {
    for (const sample of data) largest = Math.max(largest, Math.abs(sample));
    if (!recording) return;
    pieces.push(data);
    samples += data.length;
    if (samples < most(rate) * rate) return;
    recording = false;
    full();
  };
  track.onended = lost;
  source
    .connect(node)
    .connect(new GainNode(context, { gain: 0 }))
    .connect(context.destination); // it is pulled
  return {
    id: track.getSettings().deviceId ?? id,
    settings: track.getSettings(),
    rate,
    peak() {
      const found = largest;
      largest = 0;
      return found;
    },
    begin() {
      pieces = [];
      samples = 0;
      recording = true;
    },
    end() {
      recording = false;
      const whole = new Float32Array(samples);
      let at = 0;
      for (const piece of pieces) {
        whole.set(piece, at);
        at += piece.length;
      }
      pieces = [];
      return whole;
    },
    seconds: () => samples / rate,
    close,
  };
}
