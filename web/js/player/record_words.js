/** What a recording is worth, and why there is none, in words. */

import { PROCESSING } from "./capture.js";

/** Before an input is opened. */
export const RECORDING_CAUTIONS = [
  "Never connect the loudspeaker output of an amplifier to an interface or a computer: it destroys the input.",
  "Start quiet: turn the input's gain and your headphones down, then up.",
  "Use equipment with a mains plug only at an earthed socket behind a residual-current device, and open no amplifier. Your local rules come first.",
];
/** An input that was there a moment ago. */
export const INPUT_GONE = "The input has gone: it was unplugged, or the browser took it away.";

/** Below that nobody has played, dB of full scale. */
const SILENT_DB = -60;
/** Below that the converter's noise is near, dB of full scale. */
const SOFT_DB = -30;
/** A sample from there on touches the end of the converter; that many in a row are cut off. */
const TOUCHED = 0.9995,
  CUT = 3;

const REFUSED = {
  NotAllowedError:
    "The browser does not let this page use the input. Allow the microphone for this address in the browser's settings, then open the input again.",
  NotFoundError:
    "This computer has no input. Connect an interface or a microphone, then open the input again.",
  OverconstrainedError: "That input is no longer there. Choose another.",
  NotReadableError:
    "The input does not open: another program may hold it. Close that, then open the input again.",
};

/** Why an input does not open. @param {unknown} error */
export function refusalWords(error) {
  const { name = "", message = "" } = error instanceof Error ? error : {};
  return (
    REFUSED[/** @type {keyof typeof REFUSED} */ (name)] ??
    `The input does not open: ${message || "no reason told"}.`
  );
}

const DOES = {
  echoCancellation: "echo cancellation",
  noiseSuppression: "noise suppression",
  autoGainControl: "automatic gain",
};

/**
 * What the browser still does to the sound, though it was told not to; empty if nothing.
 * @param {MediaTrackSettings} settings @param {string} [then]  what to do where it is not told
 */
export function processingWords(settings, then = "Listen before you keep it.") {
  const still = PROCESSING.filter((one) => settings[one] === true).map((one) => DOES[one]),
    untold = PROCESSING.filter((one) => settings[one] === undefined).map((one) => DOES[one]);
  return [
    still.length &&
      `The browser did not switch off its ${still.join(", ")}: it changes a guitar's sound. Use another browser, or record with another program and bring the file.`,
    untold.length && `The browser does not tell whether its ${untold.join(", ")} is off. ${then}`,
  ]
    .filter(Boolean)
    .join(" ");
}

/**
 * @typedef {{peakDb: number, cut: number}} Verdict  cut: places where the converter's end cut it off
 * @param {Float32Array} samples
 * @returns {Verdict}
 */
export function judge(samples) {
  let peak = 0,
    row = 0,
    cut = 0;
  for (const sample of samples) {
    const size = Math.abs(sample);
    peak = Math.max(peak, size);
    row = size >= TOUCHED ? row + 1 : 0;
    if (row === CUT) cut += 1;
  }
  return { peakDb: peak > 0 ? 20 * Math.log10(peak) : -Infinity, cut };
}

/** Whether there is nothing to keep. @param {Verdict} verdict */
export const isSilent = ({ peakDb }) => peakDb < SILENT_DB;

/** @param {Verdict} verdict @returns {string} */
export function verdictWords(verdict) {
  const { peakDb, cut } = verdict,
    db = `${Math.round(peakDb)} dB`.replace("-", "−");
  if (isSilent(verdict))
    return "Nothing was played, or another input was: the recording is silent. Choose the input whose meter moves, and record again.";
  if (cut)
    return `The input was overdriven and cut off the sound in ${cut === 1 ? "one place" : `${cut} places`}. Turn its gain down and record again.`;
  if (peakDb < SOFT_DB)
    return `The loudest place is ${db} of full scale: noise may be heard. Turn the input's gain up and record again, or keep it.`;
  return `The loudest place is ${db} of full scale.`;
}
