/** Record a take: open an input, count in, play, listen, keep. */

import * as api from "./api.js";
import { listInputs, mayRecord, openInput } from "../player/capture.js";
import { encodeWav } from "../player/wav.js";
import {
  INPUT_GONE,
  isSilent,
  judge,
  processingWords,
  RECORDING_CAUTIONS,
  refusalWords,
  verdictWords,
} from "../player/record_words.js";
import { CAPTURE } from "../player/worklets.js";
import { openDialog } from "../shared/dialog.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";
import { listTakes } from "../shared/lists.js";
import { meterView } from "../shared/meter.js";
import { createTurns } from "../shared/latest.js";
import { toast } from "../shared/notices.js";
import { showSeconds } from "../shared/units.js";
import { bringTake } from "./bring_take.js";
import { takeSource } from "./take_source.js";

/** @import {Input} from "../player/capture.js" */
/** @import {Session} from "../session/session.js" */
/** @typedef {"closed" | "opening" | "open" | "counting" | "recording" | "done" | "sending"} State */

const TITLE = "Record a take";
/** Longest recording, s. */
const MOST_S = 300;
const BEATS = 4,
  BEAT_MS = 600;
const LOOK_MS = 200;

/** @param {Session} session */
export function recordTake(session) {
  let end = () => {},
    loss = () => "";
  openDialog(
    TITLE,
    (close) => {
      if (!mayRecord()) return elsewhere(session, close);
      const made = recorder(session, close);
      ({ end, loss } = made);
      return made.element;
    },
    { closed: () => end(), loss: () => loss() },
  );
}

/** Where the page's address is not secure. @param {Session} session @param {() => void} close */
const elsewhere = (session, close) =>
  h(
    "div",
    {},
    h(
      "p",
      {},
      "This page's address is not secure, so the browser opens no input. Record with any other program and bring the file, or open the bench on the computer that serves it, or by https.",
    ),
    h(
      "div",
      { class: "actions" },
      h("button", { type: "button", onclick: close }, "Cancel"),
      h(
        "button",
        {
          type: "button",
          class: "main",
          onclick: () => {
            close();
            bringTake(session);
          },
        },
        "Bring a file",
      ),
    ),
  );

/** @param {Session} session @param {() => void} close */
function recorder(session, close) {
  /** @type {Input | undefined} */
  let input;
  /** @type {File | undefined} */
  let file;
  /** @type {(() => void) | undefined} */
  let stopSending;
  /** @type {State} */
  let state = "closed";
  let line = /** @type {"single" | "chords"} */ ("single"),
    address = "",
    judged = "",
    timer = 0;
  const turns = createTurns();

  const problem = h("p", { class: "problem", role: "alert" }),
    status = h("p", { role: "status" }),
    clock = h("p", { role: "timer", hidden: true }), // outside of what is read aloud at each change
    told = h("p", { class: "soft small" }),
    meter = h("div", { class: "take-meter" });
  const which = h("select", { id: uid("input"), onchange: () => open(which.value) }),
    inputs = h("div", { class: "field", hidden: true }, h("label", { for: which.id }, "Input"), which);
  const go = h("button", { type: "button", class: "main", onclick: () => press() }, "Open the input");
  const counts = h("input", { type: "checkbox", checked: true }),
    counting = h("label", { class: "check" }, counts, ` Count ${BEATS} in, on the screen`);
  const listen = h("audio", { controls: true, "aria-label": "What was recorded" });
  listen.volume = 0.5;
  const name = h("input", { type: "text", maxlength: 200, required: true, value: "My take" });
  const played = choice(
    "What is played",
    [
      { value: "single", label: "one note at a time" },
      { value: "chords", label: "chords" },
    ],
    line,
    (value) => {
      line = value === "single" ? "single" : "chords";
    },
  );
  const from = takeSource(session, (text) => say(problem, text));
  const keep = h("button", { type: "submit", class: "main" }, "Keep as a take");
  const sent = h("progress", { max: 1, value: "0", hidden: true, "aria-label": "Upload" });
  const kept = h(
    "form",
    { hidden: true, onsubmit: (/** @type {Event} */ event) => store(event) },
    listen,
    h("label", { class: "field" }, h("span", {}, "Name"), name),
    h("div", { class: "field" }, h("span", {}, "What is played"), h("div", {}, played.element)),
    from.element,
    sent,
    h("div", { class: "actions" }, keep),
  );

  function shut() {
    window.clearTimeout(timer);
    input?.close();
    input = undefined;
  }
  function end() {
    turns.drop();
    shut();
    stopSending?.();
    URL.revokeObjectURL(address);
  }
  const loss = () =>
    state === "recording"
      ? "The recording is not finished."
      : file
        ? "What was recorded is not kept as a take yet."
        : "";

  /** @param {State} next */
  function enter(next) {
    state = next;
    const words = {
      closed: "Open the input",
      opening: "Open the input",
      open: "Record",
      counting: "Stop",
      recording: "Stop",
      done: "Record again",
      sending: "Record again",
    };
    say(go, words[next]);
    counting.hidden = next !== "open" && next !== "done";
    which.disabled = !["closed", "open", "done"].includes(next);
    go.disabled = next === "opening" || next === "sending";
    keep.disabled = go.disabled;
    go.classList.toggle("main", !file);
    kept.hidden = !file || next === "counting" || next === "recording";
    clock.hidden = next !== "recording";
    sent.hidden = next !== "sending";
  }
  /** Nothing is going on: with what was recorded, if there is any. */
  function rest() {
    say(status, judged);
    enter(judged ? "done" : input ? "open" : "closed");
  }

  function press() {
    say(problem, "");
    if (state === "recording") finish();
    else if (!input) void open("");
    else if (state === "counting") {
      window.clearTimeout(timer);
      rest();
    } else if (counts.checked) count(BEATS);
    else begin();
  }

  /** @param {string} id */
  async function open(id) {
    const isNewest = turns.begin(),
      at = document.activeElement; // it cannot be used while an input opens, and would lose the focus
    shut();
    enter("opening");
    /** @type {Input | undefined} */
    let opened;
    try {
      opened = await openInput(CAPTURE, id, { most: () => MOST_S, full: finish, lost });
      const found = await listInputs();
      if (!isNewest()) return opened.close(); // the dialog was closed, or the input is gone
      input = opened;
      fill(which, ...found.map((one) => h("option", { value: one.id }, one.label)));
      which.value = opened.id;
      inputs.hidden = false;
      const view = meterView({ peak: opened.peak, playing: () => input === opened, name: "Input meter" });
      fill(meter, view.element);
      say(
        told,
        processingWords(opened.settings) ||
          "The browser leaves the sound as it is. You do not hear yourself through this page.",
      );
      say(problem, "");
    } catch (error) {
      opened?.close();
      if (!isNewest()) return;
      input = undefined;
      say(problem, refusalWords(error));
      fill(meter);
    }
    rest();
    if (at instanceof HTMLElement && document.activeElement === document.body) at.focus();
  }

  function lost() {
    turns.drop();
    finish();
    shut();
    fill(meter);
    say(problem, INPUT_GONE);
    if (state !== "sending") rest();
  }

  /** @param {number} left beats */
  function count(left) {
    listen.pause();
    enter("counting");
    if (left === 0) return begin();
    say(status, `${left}…`);
    timer = window.setTimeout(count, BEAT_MS, left - 1);
  }

  function begin() {
    if (!input) return;
    listen.pause();
    input.begin();
    enter("recording");
    say(status, "Recording…");
    follow();
  }

  function follow() {
    if (!input || state !== "recording") return;
    say(clock, `${showSeconds(Math.floor(input.seconds()))} of at most ${showSeconds(MOST_S)}`);
    timer = window.setTimeout(follow, LOOK_MS);
  }

  function finish() {
    if (!input || state !== "recording") return;
    window.clearTimeout(timer);
    const samples = input.end(),
      verdict = judge(samples);
    judged = `${showSeconds(samples.length / input.rate)}. ${verdictWords(verdict)}`;
    if (isSilent(verdict) && file) judged += " What was recorded before is still here.";
    if (!isSilent(verdict)) {
      file = new File([encodeWav(samples, input.rate)], "take.wav", { type: "audio/wav" });
      URL.revokeObjectURL(address);
      listen.src = address = URL.createObjectURL(file);
      say(keep, verdict.cut ? "Keep it though it is cut off" : "Keep as a take");
    }
    rest();
  }

  /** @param {Event} event */
  async function store(event) {
    event.preventDefault();
    const source = from.source(),
      called = name.value.trim();
    if (!file) return;
    if (source === undefined)
      return say(problem, "The wiring's controls are still loading. Try again in a moment.");
    sent.value = 0;
    enter("sending");
    say(problem, "");
    say(status, "Sending…");
    try {
      const sending = api.uploadTake(file, { name: called, line, source }, (share) => {
        sent.value = share;
        if (share === 1) say(status, "Sent. The server is reading it…");
      });
      stopSending = sending.stop;
      const { id } = await sending.done;
      file = undefined; // it is kept
      const takes = await listTakes();
      if (!go.isConnected) return session.set({ takes });
      session.set({ takes, take: id });
      close();
      toast(`“${called}” is now a take. Press Play to hear it through this wiring.`);
    } catch (error) {
      if (!go.isConnected) return;
      if (!file) judged = `“${called}” is kept as a take.`;
      rest();
      say(problem, error instanceof Error ? error.message : String(error));
      if (file) say(status, "What was recorded is still here.");
    } finally {
      stopSending = undefined;
    }
  }
  enter("closed");
  const element = h(
    "div",
    { class: "record-take" },
    h("ul", { class: "warn small" }, ...RECORDING_CAUTIONS.map((text) => h("li", {}, text))),
    inputs,
    meter,
    told,
    counting,
    status,
    clock,
    problem,
    kept,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, "Cancel"), go),
  );
  return { element, end, loss };
}
