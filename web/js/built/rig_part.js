/** The impedance at the jack: the rig's calibrations at the plug, a recording for each setting. */

import { fill, h, say } from "../shared/dom.js";
import { filePlace } from "../shared/file_place.js";
import { recordingText } from "../shared/recordings.js";
import * as api from "./api.js";
import { sideOf, takeOver } from "./meter_table.js";
import { RIG_HELP, CALIBRATION_LOST, RIG_STEPS, settingText } from "./words.js";

/** @import {Brought} from "../shared/file_place.js" */
/** @import {JackReadings, Judged, Plan, RigStep, Told, Where} from "./api.js" */

const SOUND = "audio/*,.wav,.flac,.aiff,.aif";
const TABLES = ",.csv,.tsv,.txt,.s1p,.z1p,.y1p";

/**
 * @param {object} of
 * @param {Plan} of.plan
 * @param {string} of.known  the known resistor as typed
 * @param {Where} of.where
 * @param {(known: string) => void} of.type
 * @param {(now: JackReadings) => void} of.came
 * @param {(more: number) => void} of.coming  files of the guitar that are on their way now, or no more
 * @param {AbortSignal} of.ending
 */
export function rigPart({ plan, known, where, type, came, coming, ending }) {
  const value = h("input", {
    type: "text",
    value: known,
    maxlength: 40,
    autocomplete: "off",
    spellcheck: "false",
    placeholder: "99.87 kΩ",
    oninput: () => type(value.value.trim()),
  });
  const field = h("label", { class: "field" }, h("span", {}, "Its resistance on the meter"), value);
  const waiting = h("p", { class: "warn small", role: "status" });
  const rig = RIG_STEPS.map(({ step, title, about }) => ({
    step,
    place: placeOf({ step, title, about, accept: SOUND, more: step === "known" ? field : null }),
  }));
  const settings = plan.settings.map((one) => {
    const read = h("div", { class: "built-read" });
    return {
      setting: one.setting,
      read,
      place: placeOf({
        step: "guitar",
        setting: one.setting,
        title: settingText(one),
        about: one.label,
        accept: SOUND + TABLES,
        more: read,
      }),
    };
  });

  /**
   * @param {{step: RigStep | "guitar", setting?: string, title: string, about: string, accept: string, more:
   *   Node | null}} of
   */
  function placeOf({ step, setting, title, about, accept, more }) {
    return filePlace({
      key: setting ?? step,
      title,
      about,
      accept,
      more,
      bring: (file, onProgress) => {
        const sending = api.bringRecording({ ...where, step, setting }, file, onProgress);
        if (step !== "guitar") return sending;
        coming(1);
        return { ...sending, done: sending.done.finally(() => coming(-1)) };
      },
      drop: () => api.dropReadings(where.wiring, step, setting),
      lost: step === "guitar" ? "" : CALIBRATION_LOST,
      words: (/** @type {Brought & Partial<Told>} */ there) => wordsOf(there),
      came,
      signal: ending,
    });
  }

  const element = h(
    "details",
    { class: "built-rig" },
    h("summary", {}, "Impedance at the jack, by the rig"),
    h("p", { class: "soft small" }, RIG_HELP),
    h("ol", { class: "measure-steps" }, ...rig.map(({ place }) => place.element)),
    waiting,
    h("h4", {}, "The guitar, setting by setting"),
    h("ul", { class: "measure-steps" }, ...settings.map(({ place }) => place.element)),
  );
  return {
    element,
    /** Take over what was typed in another window. @param {string} now */
    take: (now) => takeOver(value, now),
    /** @param {JackReadings} now */
    update(now) {
      for (const { step, place } of rig) place.update(now.rig[step]);
      for (const { setting, place, read } of settings) {
        const there = now.recordings[setting] ?? null;
        place.update(there);
        const readings = (now.judged?.readings ?? []).filter(
          (one) => one.setting === setting && /^\d/.test(one.what),
        );
        fill(read, readings.length > 0 && readTable(readings));
      }
      say(waiting, now.waiting);
      if (Object.keys(now.recordings).length) element.open = true;
    },
  };
}

/** @param {Partial<Told>} told @returns {{text: string, warn: string}} */
function wordsOf({ signal, frequencies = 0, level_dbfs: level = 0, hum_dbfs: hum = null }) {
  if (!signal) return { text: `a table of ${frequencies} frequencies`, warn: "" };
  return recordingText({ signal, frequencies, level_dbfs: level, hum_dbfs: hum });
}

/** @param {Judged[]} readings */
const readTable = (readings) =>
  h(
    "ul",
    { class: "small" },
    ...readings.map((one) =>
      h("li", {}, h("span", {}, `|Z| at ${one.what}, band ${one.band}: `), sideOf(one)),
    ),
  );
