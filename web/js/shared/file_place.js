/** A place that takes a file, by choosing or dropping it, and says what was read from it. */

import { askFirst } from "./dialog.js";
import { h, say } from "./dom.js";
import { whenText } from "./recordings.js";

/**
 * The server's limit, checked before the upload starts.
 * @typedef {{bytes: number, less: string}} Most  `less` has fewer bytes, in words
 */
/** @type {Most} */
const MOST = { bytes: 48 * 2 ** 20, less: "two minutes of two channels" };

/** @typedef {{name: string, came: string}} Brought  a file that is there */

/** @param {unknown} error */
export const reasonOf = (error) => (error instanceof Error ? error.message : String(error));

/**
 * @template Now @template {Brought} There
 * @param {object} of
 * @param {string} of.key  what the line's `data-step` says
 * @param {string} of.title
 * @param {string} of.about
 * @param {string} of.accept
 * @param {Most} [of.most]
 * @param {(file: File, progress: (share: number) => void) => {done: Promise<Now>, stop: () => void}} of.bring
 * @param {() => Promise<Now>} of.drop
 * @param {string} [of.lost]  what goes with it when it is thrown away, in words: it asks first
 * @param {(there: There) => {text: string, warn: string}} of.words  what is said of a file that is there
 * @param {(now: Now) => void} of.came
 * @param {AbortSignal} of.signal  of the view: what is on its way ends with it
 * @param {Node | null} [of.more]
 * @param {{label: string, take: () => Promise<File>} | null} [of.taking]  records it here
 */
export function filePlace({
  key,
  title,
  about,
  accept,
  most = MOST,
  bring: send,
  drop,
  lost = "",
  words,
  came,
  signal,
  more = null,
  taking = null,
}) {
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
        const go = () => void drop().then(came, fail);
        if (lost) askFirst(`Throw away: ${title}?`, lost, "Throw it away", go);
        else go();
      },
    },
    "Throw away",
  );
  const record =
    taking &&
    h(
      "button",
      { type: "button", "aria-label": `${taking.label}: ${title}`, onclick: () => take() },
      taking.label,
    );
  const again = h(
    "button",
    {
      type: "button",
      hidden: true,
      "aria-label": `Send it again: ${title}`,
      onclick: () => held && bring(held),
    },
    "Send it again",
  );
  const element = h(
    "li",
    {
      class: "measure-step",
      "data-step": key,
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
    h("div", { class: "row" }, choose, record, again, away, picker),
  );
  /** @param {unknown} error */
  const fail = (error) => say(problem, reasonOf(error));
  /** Recorded here, and not at the server yet: it is nowhere else. @type {File | undefined} */
  let held;
  let onWay = 0;

  /** @param {File} file */
  async function bring(file) {
    say(problem, "");
    if (file.size > most.bytes)
      return say(problem, `The file has ${Math.round(file.size / 1e6)} MB; ${most.less} have less.`);
    const sending = send(file, (share) => {
      if (share < 1) progress.value = share;
      else progress.removeAttribute("value"); // it is being measured
    });
    signal.addEventListener("abort", sending.stop);
    onWay += 1;
    progress.hidden = false;
    choose.disabled = true;
    again.hidden = true;
    try {
      const now = await sending.done;
      held = undefined;
      came(now);
    } catch (error) {
      if (!signal.aborted) fail(error);
    } finally {
      onWay -= 1;
      progress.hidden = true;
      choose.disabled = false;
      again.hidden = !held;
      signal.removeEventListener("abort", sending.stop);
    }
  }

  async function take() {
    if (!taking || !record) return;
    say(problem, "");
    record.disabled = true;
    const before = told.textContent ?? "";
    say(told, "Recording…");
    try {
      const file = await taking.take();
      held = file;
      await bring(file);
    } catch (error) {
      if (!signal.aborted) fail(error);
    } finally {
      record.disabled = false;
      if (told.textContent === "Recording…") say(told, before);
    }
  }
  return {
    element,
    /** What is lost if the view closes now, in words; empty: nothing. */
    loss: () =>
      onWay
        ? `${title}: the file is still on its way.`
        : held
          ? `${title}: what was recorded is not kept yet.`
          : "",
    /** @param {There | null} now */
    update(now) {
      element.classList.toggle("there", !!now);
      mark.textContent = now ? "✓" : "";
      away.hidden = !now;
      const { text, warn: worse } = now ? words(now) : { text: "", warn: "" };
      say(told, now ? [`${now.name}, ${whenText(now.came)}`, text].filter(Boolean).join(": ") : "");
      say(warn, worse);
    },
  };
}
