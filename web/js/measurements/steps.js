/** The recordings of the rig, ticked as they come, and the one file of a table. */

import { mayRecord } from "../player/capture.js";
import { h } from "../shared/dom.js";
import { filePlace as sharedPlace } from "../shared/file_place.js";
import { recordingText } from "../shared/recordings.js";
import * as api from "./api.js";
import { record, RECORD_S } from "./record.js";
import { lossText, RECORD_ELSEWHERE, RECORD_HERE, STEPS } from "./words.js";

/** @import {Brought} from "../shared/file_place.js" */
/** @import {Measurement, Step, Told, Where} from "./api.js" */

/** Steps of two coils alone. */
const HOUSING = ["second", "series"];
/**
 * A place that takes a file of a coil's measurement.
 * @param {object} of
 * @param {Where} of.where
 * @param {Step} of.step
 * @param {string} of.title
 * @param {string} of.about
 * @param {string} of.accept
 * @param {(now: Measurement) => void} of.came
 * @param {AbortSignal} of.signal  of the dialog
 * @param {Node | null} [of.more]
 */
export const filePlace = ({ where, step, signal, ...of }) =>
  sharedPlace({
    ...of,
    key: step,
    signal,
    bring: (file, onProgress) => api.bringReading(where, step, file, onProgress),
    drop: () => api.dropReading(where, step),
    lost: lossText(step),
    words: (/** @type {Brought | Told} */ there) =>
      "level_dbfs" in there ? recordingText(there) : { text: "", warn: "" },
    taking:
      step === "table" || !mayRecord()
        ? null
        : { label: `Record ${RECORD_S} s`, take: () => record(step, signal) },
  });

/**
 * The recordings: four, of two coils in one housing six.
 * @param {Where} where @param {(now: Measurement) => void} came @param {AbortSignal} signal
 * @param {HTMLElement} known  the field of the known resistor's value
 */
export function stepList(where, came, signal, known) {
  const places = STEPS.map(({ step, title, about }) =>
    filePlace({
      where,
      step,
      title,
      about,
      accept: "audio/*,.wav,.flac,.aiff,.aif",
      came,
      signal,
      more: step === "known" ? known : null,
    }),
  );
  return {
    element: h(
      "div",
      {},
      h("p", { class: "soft small" }, mayRecord() ? RECORD_HERE : RECORD_ELSEWHERE),
      h("ol", { class: "measure-steps" }, ...places.map((one) => one.element)),
    ),
    /** @param {Measurement} now */
    update({ rig, recording, second, series, fields }) {
      const all = { ...rig, coil: recording, second, series };
      STEPS.forEach(({ step }, k) => {
        places[k].update(all[step]);
        places[k].element.hidden = HOUSING.includes(step) && !fields.second;
      });
    },
  };
}
