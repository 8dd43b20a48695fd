/** Record a setting of the finished guitar on the page: open an input, strum, stop, keep. */

import { listInputs, openInput } from "../player/capture.js";
import {
  INPUT_GONE,
  isSilent,
  judge,
  processingWords,
  RECORDING_CAUTIONS,
  refusalWords,
  verdictWords,
} from "../player/record_words.js";
import { encodeWav, secondsIn } from "../player/wav.js";
import { CAPTURE } from "../player/worklets.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { createTurns } from "../shared/latest.js";
import { meterView } from "../shared/meter.js";
import { showSeconds } from "../shared/units.js";
import { MOST } from "./sounds.js";

/** @import {Input} from "../player/capture.js" */

/** Longest recording, s: the server takes three minutes, and at high rates fewer bytes than those. */
const MOST_S = 170;
/** @param {number} rate  Hz */
export const longest = (rate) => Math.min(MOST_S, secondsIn(MOST.bytes, rate) - 1);
const LOOK_MS = 200;
const NOTHING = "Nothing was recorded.";
const LISTEN = "Listen to the recording once it is here.";
const STRUM =
  "Record, leave the strings damped for a second, strum the chord five times, two seconds apart, then stop. Keep the gain for all settings.";

/**
 * Record one setting. A recording that is silent or cut off is not kept: it says so, and one records again.
 * @param {string} title  of the setting @param {string} name  of the file, without ending
 * @returns {Promise<File>}
 */
export const recordSetting = (title, name) =>
  new Promise((resolve, reject) => {
    let end = () => {},
      loss = () => "";
    openDialog(
      `Record: ${title}`,
      (close) => {
        const made = recorder((file) => {
          resolve(file);
          close();
        }, name);
        ({ end, loss } = made);
        return made.element;
      },
      {
        closed: () => {
          end();
          // no effect once there is a file
          reject(new Error(NOTHING));
        },
        loss: () => loss(),
      },
    );
  });

/** @param {(file: File) => void} done @param {string} name */
function recorder(done, name) {
  /** @type {Input | undefined} */
  let input;
  /** Of an input that went. @type {File | undefined} */
  let file;
  let recording = false,
    timer = 0;
  const turns = createTurns();
  const problem = h("p", { class: "problem", role: "alert" }),
    status = h("p", { role: "status" }),
    clock = h("p", { role: "timer", hidden: true }),
    told = h("p", { class: "soft small" }),
    meter = h("div", { class: "take-meter" });
  const which = h("select", { onchange: () => void open(which.value) }),
    inputs = h("label", { class: "field", hidden: true }, h("span", {}, "Input"), which);
  const go = h("button", { type: "button", class: "main", onclick: press }, "Open the input");
  const keep = h(
    "button",
    {
      type: "button",
      hidden: true,
      onclick: () => {
        const found = file;
        file = undefined; // nothing is lost by closing
        if (found) done(found);
      },
    },
    "Keep what was recorded",
  );

  function shut() {
    window.clearTimeout(timer);
    recording = false;
    input?.close();
    input = undefined;
  }
  function rest() {
    say(go, input ? "Record" : "Open the input");
    go.disabled = false;
    which.disabled = recording;
    clock.hidden = !recording;
    keep.hidden = !file;
  }
  function press() {
    say(problem, "");
    if (!input) void open("");
    else if (recording) finish(done);
    else begin(input);
  }
  /** @param {string} id */
  async function open(id) {
    const isNewest = turns.begin();
    shut();
    go.disabled = true;
    /** @type {Input | undefined} */
    let opened;
    try {
      opened = await openInput(CAPTURE, id, { most: longest, full: () => finish(done), lost });
      const found = await listInputs();
      // the dialog was closed, or another input was chosen
      if (!isNewest()) return opened.close();
      input = opened;
      fill(which, ...found.map((one) => h("option", { value: one.id }, one.label)));
      which.value = opened.id;
      inputs.hidden = false;
      fill(
        meter,
        meterView({ peak: opened.peak, playing: () => input === opened, name: "Input meter" }).element,
      );
      say(told, processingWords(opened.settings, LISTEN));
      say(status, STRUM);
    } catch (error) {
      opened?.close();
      if (!isNewest()) return;
      fill(meter);
      say(problem, refusalWords(error));
    }
    rest();
  }
  function lost() {
    turns.drop();
    say(status, "");
    say(problem, file || recording ? "" : NOTHING);
    finish((whole) => {
      file = whole;
    });
    shut();
    fill(meter);
    if (file) say(status, "Keep what was recorded until then, or open an input and record again.");
    say(problem, `${INPUT_GONE} ${problem.textContent}`);
    rest();
  }
  /** @param {Input} from */
  function begin(from) {
    from.begin();
    file = undefined;
    recording = true;
    rest();
    say(go, "Stop and keep");
    say(status, "Recording…");
    follow(from);
  }
  /** @param {Input} from */
  function follow(from) {
    if (!recording) return;
    say(clock, `${showSeconds(Math.floor(from.seconds()))} of at most ${showSeconds(longest(from.rate))}`);
    timer = window.setTimeout(follow, LOOK_MS, from);
  }
  /** @param {(file: File) => void} take  gets what can be used */
  function finish(take) {
    if (!input || !recording) return;
    window.clearTimeout(timer);
    recording = false;
    const samples = input.end(),
      verdict = judge(samples);
    if (!isSilent(verdict) && !verdict.cut)
      return take(new File([encodeWav(samples, input.rate)], `${name}.wav`, { type: "audio/wav" }));
    say(status, STRUM);
    say(problem, verdictWords(verdict));
    rest();
  }
  const element = h(
    "div",
    { class: "record-take" },
    h("ul", { class: "warn small" }, ...RECORDING_CAUTIONS.map((text) => h("li", {}, text))),
    inputs,
    meter,
    told,
    status,
    clock,
    problem,
    h("div", { class: "actions" }, keep, go),
  );
  return {
    element,
    loss: () =>
      recording ? "The recording is not finished." : file ? "What was recorded is not kept yet." : "",
    end() {
      turns.drop();
      shut();
    },
  };
}
