/** The recordings of the rig, ticked as they come, and the one file of a table. */

import { mayRecord } from "../player/capture.js";
import { askFirst } from "../shared/dialog.js";
import { h, say } from "../shared/dom.js";
import * as api from "./api.js";
import { record, RECORD_S } from "./record.js";
import { lossText, RECORD_ELSEWHERE, RECORD_HERE, recordingText, STEPS, whenText } from "./words.js";

/** @import {Measurement, Step, Told, Where} from "./api.js" */

/** Steps of two coils alone. */
const HOUSING = ["second", "series"];
/** The server's limit, checked before the upload starts. */
const MOST_BYTES = 48 * 2 ** 20;

/** @param {unknown} error */
export const reasonOf = (error) => (error instanceof Error ? error.message : String(error));

/**
 * A place that takes a file, by choosing or dropping it.
 * @param {object} of
 * @param {Where} of.where
 * @param {Step} of.step
 * @param {string} of.title
 * @param {string} of.about
 * @param {string} of.accept
 * @param {(now: Measurement) => void} of.came
 * @param {AbortSignal} of.signal  of the dialog: what is on its way ends with it
 * @param {Node | null} [of.more]
 */
export function filePlace({ where, step, title, about, accept, came, signal, more = null }) {
  const told = h("p", { class: "small told" }),
    warn = h("p", { class: "warn small", role: "status" });
  const problem = h("p", { class: "problem small", role: "alert" });
  const progress = h("progress", { max: 1, value: "0", hidden: true, "aria-label": `${title} is sent` });
  const mark = h("span", { class: "measure-tick", "aria-hidden": "true" });
  const picker = h("input", {
    type: "file",
    accept,
    hidden: true,
    onchange: () => {
      const [file] = picker.files ?? [];
      picker.value = "";
      if (file) bring(file);
    },
  });
  const choose = h("button", { type: "button", onclick: () => picker.click() }, "Choose a file");
  choose.setAttribute("aria-label", `Choose a file: ${title}`);
  const away = h(
    "button",
    {
      type: "button",
      class: "quiet",
      hidden: true,
      "aria-label": `Throw away: ${title}`,
      onclick: () => {
        const drop = () => void api.dropReading(where, step).then(came, fail),
          lost = lossText(step);
        if (lost) askFirst(`Throw away: ${title}?`, lost, "Throw it away", drop);
        else drop();
      },
    },
    "Throw away",
  );
  const taking =
    step === "table" || !mayRecord()
      ? null
      : h(
          "button",
          { type: "button", "aria-label": `Record ${RECORD_S} s: ${title}`, onclick: () => take() },
          `Record ${RECORD_S} s`,
        );
  const element = h(
    "li",
    {
      class: "measure-step",
      "data-step": step,
      ondragover: (/** @type {DragEvent} */ event) => {
        event.preventDefault();
        element.classList.add("over");
      },
      ondragleave: () => element.classList.remove("over"),
      ondrop: (/** @type {DragEvent} */ event) => {
        event.preventDefault();
        event.stopPropagation();
        element.classList.remove("over");
        const file = event.dataTransfer?.files[0];
        if (file) bring(file);
      },
    },
    mark,
    h(
      "div",
      { class: "step-words" },
      h("b", {}, title),
      h("p", { class: "soft small" }, about),
      more,
      told,
      warn,
      progress,
      problem,
    ),
    h("div", { class: "row" }, choose, taking, away, picker),
  );
  /** @param {unknown} error */
  const fail = (error) => say(problem, reasonOf(error));

  /** @param {File} file */
  async function bring(file) {
    say(problem, "");
    if (file.size > MOST_BYTES)
      return say(
        problem,
        `The file has ${Math.round(file.size / 1e6)} MB; two minutes of two channels have less.`,
      );
    const sending = api.bringReading(where, step, file, (share) => {
      if (share < 1) progress.value = share;
      else progress.removeAttribute("value"); // it is being measured
    });
    signal.addEventListener("abort", sending.stop);
    progress.hidden = false;
    choose.disabled = true;
    try {
      came(await sending.done);
    } catch (error) {
      if (!signal.aborted) fail(error);
    } finally {
      progress.hidden = true;
      choose.disabled = false;
      signal.removeEventListener("abort", sending.stop);
    }
  }

  async function take() {
    if (!taking) return;
    say(problem, "");
    taking.disabled = true;
    const before = told.textContent ?? "";
    say(told, "Recording…");
    try {
      await bring(await record(step, signal));
    } catch (error) {
      if (!signal.aborted) fail(error);
    } finally {
      taking.disabled = false;
      if (told.textContent === "Recording…") say(told, before);
    }
  }
  return {
    element,
    /** @param {{name: string, came: string} | Told | null} now */
    update(now) {
      element.classList.toggle("there", !!now);
      mark.textContent = now ? "✓" : "";
      away.hidden = !now;
      const words = now && "level_dbfs" in now ? recordingText(now) : { text: "", warn: "" };
      say(told, now ? [`${now.name}, ${whenText(now.came)}`, words.text].filter(Boolean).join(": ") : "");
      say(warn, words.warn);
    },
  };
}

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
