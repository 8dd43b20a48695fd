/** The workshop's name, contact and picture, which every proposal shows. */

import * as api from "./api.js";
import { openDialog } from "../shared/dialog.js";
import { h, say } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";

/** @import {Workshop} from "./api.js" */

/** Megabytes; the server takes no more. */
const LARGEST_MB = 12;

export async function openWorkshop() {
  try {
    const known = await api.getWorkshop();
    openDialog("Your workshop", (close) => workshopForm(known, close));
  } catch (error) {
    toastError(error);
  }
}

/** @param {Workshop} known @param {() => void} close */
function workshopForm(known, close) {
  const name = h("input", { type: "text", maxlength: 200, value: known.name, autocomplete: "organization" }),
    contact = h("input", { type: "text", maxlength: 200, value: known.contact }),
    problem = h("p", { class: "problem", role: "alert" });
  const save = h("button", { class: "main" }, "Save");
  return h(
    "form",
    {
      onsubmit: async (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        save.disabled = true;
        try {
          await api.setWorkshop({ name: name.value.trim(), contact: contact.value.trim() });
          close();
          toast("Every proposal shows it from now on, those that are open too.");
        } catch (error) {
          say(problem, `Not saved: ${error instanceof Error ? error.message : error}`);
          save.disabled = false;
        }
      },
    },
    h("p", { class: "small soft" }, "Customers see this at the top of every proposal and of every file."),
    h("label", { class: "field" }, h("span", {}, "Name"), name),
    h(
      "label",
      { class: "field" },
      h("span", {}, "How to reach you: telephone, mail or address, in one line"),
      contact,
    ),
    pictureField(known, problem),
    problem,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, "Cancel"), save),
  );
}

/** @param {Workshop} known @param {HTMLElement} problem */
function pictureField(known, problem) {
  const image = h("img", { class: "workshop-picture", alt: "Your picture as customers see it" }),
    none = h("p", { class: "small soft" }, "No picture yet. A sign, a logo or you at the bench."),
    status = h("p", { class: "small", role: "status" });
  /** @param {Workshop} now */
  const show = ({ picture }) => {
    image.hidden = remove.hidden = picture === null;
    none.hidden = picture !== null;
    if (picture) image.src = picture;
  };
  /** @param {() => Promise<Workshop>} act @param {string} done */
  const change = async (act, done) => {
    say(problem, "");
    say(status, "");
    try {
      show(await act());
      say(status, done);
    } catch (error) {
      say(problem, `The picture was not changed: ${error instanceof Error ? error.message : error}`);
    }
  };
  const file = h("input", {
    type: "file",
    accept: "image/jpeg,image/png,image/webp",
    onchange: async () => {
      const chosen = file.files?.[0];
      if (!chosen) return;
      if (chosen.size > LARGEST_MB * 2 ** 20)
        say(problem, `${chosen.name} is too large: up to ${LARGEST_MB} MB.`);
      else await change(() => api.bringWorkshopPicture(chosen), "Saved, smaller and without place and time.");
      file.value = "";
    },
  });
  const remove = h(
    "button",
    {
      type: "button",
      class: "small",
      onclick: () => change(api.removeWorkshopPicture, "The picture is gone."),
    },
    "Remove the picture",
  );
  show(known);
  return h(
    "div",
    { class: "field" },
    h("label", {}, h("span", {}, "Picture (JPEG, PNG or WebP, up to 12 MB)"), file),
    none,
    h("div", { class: "row" }, image, remove),
    status,
  );
}
