/** Upload a recording or a MIDI file: drop or choose it, describe it, watch the progress. */

import * as api from "./api.js";
import { listTakes } from "../shared/lists.js";
import { openDialog } from "../shared/dialog.js";
import { choice, h, say } from "../shared/dom.js";
import { toast } from "../shared/notices.js";
import { isMidi } from "./midi_words.js";
import { midiView } from "./midi_view.js";
import { takeSource } from "./take_source.js";

/** @import {Session} from "../session/session.js" */

/** The server's limit, checked before the upload starts. */
const MOST_BYTES = 200e6;
const MOST_MIDI_BYTES = 512 * 1024;

/** @param {Session} session @param {File} [dropped] */
export function bringTake(session, dropped) {
  /** @type {(() => void) | undefined} */
  let stop;
  openDialog(
    "Bring a recording or a MIDI file",
    (close) => {
      let file = dropped;
      /** @type {"single" | "chords"} */
      let line = "chords";
      const chosen = h("p", {}, file ? named(file) : "Drop a sound file or a MIDI file here, or");
      const picker = h("input", {
        type: "file",
        accept: "audio/*,.wav,.flac,.aiff,.aif,.ogg,.mp3,.mid,.midi,.smf",
        hidden: true,
        onchange: () => take(picker.files?.[0]),
      });
      const zone = h(
        "div",
        {
          class: "drop",
          ondragover: (/** @type {DragEvent} */ event) => {
            event.preventDefault();
            zone.classList.add("over");
          },
          ondragleave: () => zone.classList.remove("over"),
          ondrop: (/** @type {DragEvent} */ event) => {
            event.preventDefault();
            event.stopPropagation();
            zone.classList.remove("over");
            take(event.dataTransfer?.files[0]);
          },
        },
        chosen,
        h("button", { type: "button", onclick: () => picker.click() }, "Choose a file"),
        picker,
      );
      const name = h("input", {
        type: "text",
        maxlength: 200,
        required: true,
        value: file ? bare(file) : "",
      });
      const progress = h("progress", { max: 1, value: "0", "aria-label": "Upload" });
      const status = h("p", { class: "soft", role: "status" }),
        problem = h("p", { class: "problem", role: "alert" });
      const go = h("button", { class: "main" }, "Bring it in");
      const played = choice(
        "What is played",
        [
          { value: "single", label: "one note at a time" },
          { value: "chords", label: "chords" },
        ],
        line,
        (value) => {
          line = value === "single" ? "single" : "chords";
          explain();
        },
      );
      const from = takeSource(session, (text) => say(problem, text));
      const midi = midiView(session, {
        failed: (text) => say(problem, text),
        busy: (is) => {
          looking = is;
          ready();
          if (!stop) say(status, is ? "Laying the notes on the strings…" : "");
        },
      });
      let looking = false;
      const ready = () => {
        go.disabled = looking || stop !== undefined;
      };
      const note = h("p", { class: "soft small" });
      const explain = () =>
        say(
          note,
          line === "single"
            ? "The server tracks the pitch. Where it is clear, each coil picks up the string at its own place."
            : "You hear the wiring, but not the place of a coil along the string: chords cannot be separated into strings.",
        );
      const recording = h(
        "div",
        {},
        h("div", { class: "field" }, h("span", {}, "What is played"), h("div", {}, played.element), note),
        from.element,
      );
      let notes = false;
      /** @param {File | undefined} picked */
      async function take(picked) {
        if (!picked) return;
        file = picked;
        say(chosen, named(picked));
        if (!name.value) name.value = bare(picked);
        const is = await isMidi(picked).catch(() => false);
        if (file !== picked) return;
        notes = is;
        recording.hidden = is;
        const most = is ? MOST_MIDI_BYTES : MOST_BYTES,
          fits = picked.size <= most;
        midi.open(is && fits ? picked : undefined);
        say(
          problem,
          fits ? "" : `The file has ${inMegabytes(picked.size)}; the limit is ${inMegabytes(most)}.`,
        );
      }
      explain();
      progress.hidden = true;
      if (file) take(file);
      return h(
        "form",
        {
          onsubmit: async (/** @type {Event} */ event) => {
            event.preventDefault();
            if (!file) {
              say(problem, "Choose a file first.");
              return;
            }
            const played = midi.chosen(),
              source = notes ? null : from.source();
            if (notes && !played) return; // why not stands there
            if (source === undefined) {
              say(problem, "The wiring's controls are still loading. Try again in a moment.");
              return;
            }
            progress.hidden = false;
            say(problem, "");
            const called = name.value.trim();
            const about = played ? { name: called, ...played } : { name: called, line, source };
            const upload = api.uploadTake(file, about, (share) => {
              progress.value = share;
              say(status, share < 1 ? "Sending…" : "Sent. The server is reading it…");
            });
            stop = upload.stop;
            ready();
            midi.hold(true);
            try {
              const { id } = await upload.done;
              session.set({ takes: await listTakes(), take: id });
              close();
              toast(`“${called}” is now a take. Press Play to hear it through this wiring.`);
            } catch (error) {
              say(problem, error instanceof Error ? error.message : String(error));
              say(status, "");
            } finally {
              progress.hidden = true;
              stop = undefined;
              ready();
              midi.hold(false);
            }
          },
        },
        zone,
        h("label", { class: "field" }, h("span", {}, "Name"), name),
        recording,
        midi.element,
        h(
          "p",
          { class: "soft small" },
          "WAV, FLAC, AIFF, OGG or MP3, up to 30 minutes; or a MIDI file (.mid), which the string model plays.",
        ),
        progress,
        status,
        problem,
        h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, "Cancel"), go),
      );
    },
    { closed: () => stop?.() },
  );
}

/** @param {File} file */
const named = (file) => `${file.name} · ${inMegabytes(file.size)}`;
/** @param {number} bytes */
const inMegabytes = (bytes) =>
  bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
/** @param {File} file */
const bare = (file) => file.name.replace(/\.[^.]+$/, "").slice(0, 200);

/** Accept a file dropped anywhere on the bench. @param {Session} session */
export function listenForDrops(session) {
  const { signal } = session;
  const over = (/** @type {boolean} */ is) => document.body.classList.toggle("dropping", is);
  document.addEventListener(
    "dragover",
    (event) => {
      if (!event.dataTransfer?.types.includes("Files") || document.querySelector("dialog[open]")) return;
      event.preventDefault();
      over(true);
    },
    { signal },
  );
  document.addEventListener(
    "dragleave",
    (event) => {
      if (!event.relatedTarget) over(false);
    },
    { signal },
  );
  document.addEventListener(
    "drop",
    (event) => {
      over(false);
      const file = event.dataTransfer?.files[0];
      if (!file || document.querySelector("dialog[open]")) return;
      event.preventDefault();
      bringTake(session, file);
    },
    { signal },
  );
}
