/** Save a proposal for sending: one file to mail, or a folder as a ZIP for any web host. */

import * as api from "./api.js";
import { savedWords } from "./words.js";
import { openDialog } from "../shared/dialog.js";
import { download } from "../shared/download.js";
import { choice, h, say } from "../shared/dom.js";

/** @import {Proposal} from "../shared/types.js" */

const FORMS = [
  { value: "file", label: "One file" },
  { value: "zip", label: "Folder as ZIP" },
];
/** @type {Record<string, string>} */
const FOR = {
  file: "To mail, or to hand over on a stick. The knobs turn with as much of the music as fits into 8 MB.",
  zip: "For any web host: unpack it there. The first sound comes sooner than from one file, and the knobs turn with all of the music.",
};

/** @param {Proposal} row */
export const savingButton = (row) =>
  h(
    "button",
    {
      type: "button",
      class: "small",
      disabled: (row.ready ?? 1) < 1,
      "aria-label": `Save ${row.title} for sending`,
      onclick: () => openSaving(row),
    },
    "Save for sending",
  );

/** @param {Proposal} row */
function openSaving({ id, title }) {
  let form = "file";
  const use = h("p", { class: "small soft" }, FOR[form]),
    state = h("p", { role: "status" }),
    problem = h("p", { class: "problem", role: "alert" }),
    bar = h("progress", { max: 1, "aria-label": "Saved so far", hidden: true });
  const forms = choice("How it is saved", FORMS, form, (value) => {
    form = value;
    say(use, FOR[form]);
  });
  const save = h(
    "button",
    {
      type: "button",
      class: "main",
      onclick: async () => {
        save.disabled = true;
        bar.hidden = false;
        bar.removeAttribute("value"); // until the server has put it together
        say(problem, "");
        say(state, "Putting it together…");
        try {
          const saved = await api.saveBundle(id, form, (share) => {
            bar.value = share;
          });
          download(saved.name, saved.bytes, saved.type);
          say(state, savedWords(saved.name, saved.bytes.byteLength, saved.note));
        } catch (error) {
          say(state, "");
          say(problem, error instanceof Error ? error.message : String(error));
        } finally {
          bar.hidden = true;
          save.disabled = false;
        }
      },
    },
    "Save",
  );
  openDialog(`Save “${title}” for sending`, () =>
    h(
      "div",
      { class: "dialog-body-inner" },
      h(
        "p",
        {},
        "A page that holds its sounds, drawings and knobs. It opens without a network, and nothing leaves it. What you have sent you cannot call back.",
      ),
      h(
        "p",
        { class: "small soft" },
        "Some phones show an attachment in a preview that plays nothing. Tell the customer to open the file in a browser.",
      ),
      forms.element,
      use,
      bar,
      state,
      problem,
      h("div", { class: "actions" }, save),
    ),
  );
}
