/** Record a take: open an input, count in, play, listen, keep. */

import * as api from "./api.js";
import { listInputs, mayRecord, openInput } from "../player/capture.js";
import { encodeWav } from "../player/wav.js";
import { CAPTURE } from "../player/worklets.js";
import { openDialog } from "../shared/dialog.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";
import { listTakes } from "../shared/lists.js";
import { meterView } from "../shared/meter.js";
import { toast } from "../shared/notices.js";
import { showSeconds } from "../shared/units.js";
import { bringTake } from "./bring_take.js";
import { isSilent, judge, processingWords, refusalWords, verdictWords } from "./record_words.js";
import { takeSource } from "./take_source.js";

/** @import {Input} from "../player/capture.js" */
/** @import {Session} from "../session/session.js" */
/** @typedef {"closed" | "open" | "counting" | "recording" | "done"} State */

const TITLE = "Record a take";
/** Longest recording, s. */
const MOST_S = 300;
const BEATS = 4,
  BEAT_MS = 600;
const LOOK_MS = 200;
const CAUTIONS = [
  "Never connect the loudspeaker output of an amplifier to an interface or a computer: it destroys the input.",
  "Start quiet: turn the input's gain and your headphones down, then up.",
  "Use equipment with a mains plug only at an earthed socket behind a residual-current device, and open no amplifier. Your local rules come first.",
];

/** @param {Session} session */
export function recordTake(session) {
  let end = () => {};
  openDialog(
    TITLE,
    (close) => {
      if (!mayRecord()) return elsewhere(session, close);
      const made = recorder(session, close);
      end = made.end;
      return made.element;
    },
    { closed: () => end() },
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
  /** @type {State} */
  let state = "closed";
  let line = /** @type {"single" | "chords"} */ ("single"),
    address = "",
    timer = 0;

  const problem = h("p", { class: "problem", role: "alert" }),
    status = h("p", { role: "status" }),
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
  const kept = h(
    "form",
    { hidden: true, onsubmit: (/** @type {Event} */ event) => store(event) },
    listen,
    h("label", { class: "field" }, h("span", {}, "Name"), name),
    h("div", { class: "field" }, h("span", {}, "What is played"), h("div", {}, played.element)),
    from.element,
    h("div", { class: "actions" }, keep),
  );

  function end() {
    window.clearTimeout(timer);
    input?.close();
    input = undefined;
    URL.revokeObjectURL(address);
  }

  /** @param {State} next */
  function enter(next) {
    state = next;
    const words = {
      closed: "Open the input",
      open: "Record",
      counting: "Stop",
      recording: "Stop",
      done: "Record again",
    };
    say(go, words[next]);
    counting.hidden = next !== "open" && next !== "done";
    which.disabled = next === "counting" || next === "recording";
    go.classList.toggle("main", next !== "done");
    kept.hidden = next !== "done" || !file;
  }

  function press() {
    say(problem, "");
    if (state === "closed") void open("");
    else if (state === "recording") finish();
    else if (state === "counting") {
      window.clearTimeout(timer);
      say(status, "");
      enter("open");
    } else if (counts.checked) count(BEATS);
    else begin();
  }

  /** @param {string} id */
  async function open(id) {
    go.disabled = true;
    input?.close();
    input = undefined;
    try {
      const opened = await openInput(CAPTURE, id, { most: MOST_S, full: finish, lost });
      if (!go.isConnected) return opened.close(); // the dialog was closed meanwhile
      input = opened;
      const found = await listInputs();
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
      enter("open");
    } catch (error) {
      say(problem, refusalWords(error));
      fill(meter);
      enter("closed");
    } finally {
      go.disabled = false;
    }
  }

  function lost() {
    window.clearTimeout(timer);
    input = undefined;
    fill(meter);
    say(status, "");
    say(problem, "The input has gone: it was unplugged, or the browser took it away.");
    enter("closed");
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
    file = undefined;
    input.begin();
    enter("recording");
    follow();
  }

  function follow() {
    if (!input || state !== "recording") return;
    say(status, `Recording: ${showSeconds(Math.floor(input.seconds()))} of at most ${showSeconds(MOST_S)}`);
    timer = window.setTimeout(follow, LOOK_MS);
  }

  function finish() {
    if (!input || state !== "recording") return;
    window.clearTimeout(timer);
    const samples = input.end(),
      verdict = judge(samples);
    say(status, `${showSeconds(samples.length / input.rate)}. ${verdictWords(verdict)}`);
    if (!isSilent(verdict)) {
      file = new File([encodeWav(samples, input.rate)], "take.wav", { type: "audio/wav" });
      URL.revokeObjectURL(address);
      listen.src = address = URL.createObjectURL(file);
      say(keep, verdict.cut ? "Keep it though it is cut off" : "Keep as a take");
    }
    enter("done");
  }

  /** @param {Event} event */
  async function store(event) {
    event.preventDefault();
    const source = from.source(),
      called = name.value.trim();
    if (!file) return;
    if (source === undefined)
      return say(problem, "The wiring's controls are still loading. Try again in a moment.");
    keep.disabled = go.disabled = true;
    say(problem, "");
    try {
      const sending = api.uploadTake(file, { name: called, line, source }, (share) =>
        say(status, share < 1 ? `${Math.round(share * 100)} % sent` : "Sent. The server is reading it…"),
      );
      const { id } = await sending.done;
      session.set({ takes: await listTakes(), take: id });
      close();
      toast(`“${called}” is now a take. Press Play to hear it through this wiring.`);
    } catch (error) {
      say(problem, error instanceof Error ? error.message : String(error));
      say(status, "What was recorded is still here.");
    } finally {
      keep.disabled = go.disabled = false;
    }
  }
  enter("closed");
  const element = h(
    "div",
    { class: "record-take" },
    h("ul", { class: "warn small" }, ...CAUTIONS.map((text) => h("li", {}, text))),
    inputs,
    meter,
    told,
    counting,
    status,
    problem,
    kept,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, "Cancel"), go),
  );
  return { element, end };
}
