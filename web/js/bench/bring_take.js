/** Upload a recording: drop or choose a file, describe it, watch the progress. */

import * as api from "./api.js";
import { listTakes } from "../shared/lists.js";
import { openDialog } from "../shared/dialog.js";
import { choice, h, say } from "../shared/dom.js";
import { toast } from "../shared/notices.js";
import { takeSource } from "./take_source.js";

/** @import {Session} from "../session/session.js" */

/** The server's limit, checked before the upload starts. */
const MOST_BYTES = 200e6;

/** @param {Session} session @param {File} [dropped] */
export function bringTake(session, dropped) {
  /** @type {(() => void) | undefined} */
  let stop;
  openDialog(
    "Bring a recording",
    (close) => {
      let file = dropped;
      /** @type {"single" | "chords"} */
      let line = "chords";
      const chosen = h("p", {}, file ? named(file) : "Drop a sound file here, or");
      const picker = h("input", {
        type: "file",
        accept: "audio/*,.wav,.flac,.aiff,.aif,.ogg,.mp3",
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
      const note = h("p", { class: "soft small" });
      const explain = () =>
        say(
          note,
          line === "single"
            ? "The server tracks the pitch. Where it is clear, each coil picks up the string at its own place."
            : "You hear the wiring, but not the place of a coil along the string: chords cannot be separated into strings.",
        );
      /** @param {File | undefined} picked */
      function take(picked) {
        if (!picked) return;
        file = picked;
        say(chosen, named(picked));
        if (!name.value) name.value = bare(picked);
        say(
          problem,
          picked.size > MOST_BYTES
            ? `The file has ${Math.round(picked.size / 1e6)} MB; the limit is ${MOST_BYTES / 1e6} MB.`
            : "",
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
            const source = from.source();
            if (source === undefined) {
              say(problem, "The wiring's controls are still loading. Try again in a moment.");
              return;
            }
            go.disabled = true;
            progress.hidden = false;
            say(problem, "");
            const upload = api.uploadTake(file, { name: name.value.trim(), line, source }, (share) => {
              progress.value = share;
              say(
                status,
                share < 1 ? `${Math.round(share * 100)} % sent` : "Sent. The server is reading it…",
              );
            });
            stop = upload.stop;
            try {
              const { id } = await upload.done;
              session.set({ takes: await listTakes(), take: id });
              close();
              toast(`“${name.value.trim()}” is now a take. Press Play to hear it through this wiring.`);
            } catch (error) {
              say(problem, error instanceof Error ? error.message : String(error));
              say(status, "");
            } finally {
              go.disabled = false;
              progress.hidden = true;
              stop = undefined;
            }
          },
        },
        zone,
        h("label", { class: "field" }, h("span", {}, "Name"), name),
        h("div", { class: "field" }, h("span", {}, "What is played"), h("div", {}, played.element), note),
        from.element,
        h("p", { class: "soft small" }, "WAV, FLAC, AIFF, OGG or MP3, up to 30 minutes."),
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
const named = (file) => `${file.name} · ${(file.size / 1e6).toFixed(1)} MB`;
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
