/** Native dialogs: Escape closes them, and the browser restores the focus. */

import { h, uid } from "./dom.js";
import { icon } from "./icons.js";

/**
 * @param {string} title
 * @param {(close: () => void) => HTMLElement} inside
 * @param {{closed?: () => void, loss?: () => string}} [on]  loss: what is lost if the dialog closes now, in
 *   words, so that it asks first; empty: nothing
 */
export function openDialog(title, inside, { closed = () => {}, loss = () => "" } = {}) {
  const id = uid("title");
  const from = /** @type {HTMLElement | null} */ (document.activeElement);
  let stopAsking = () => {};
  const close = () => {
    const lost = loss();
    if (lost) stopAsking = askFirst("Throw it away?", lost, "Throw it away", () => dialog.close());
    else dialog.close();
  };
  const dialog = h(
    "dialog",
    { "aria-labelledby": id },
    h(
      "div",
      { class: "dialog-body" },
      h(
        "div",
        { class: "dialog-head" },
        h("h2", { id }, title),
        h("button", { type: "button", class: "quiet", "aria-label": "Close", onclick: close }, icon("close")),
      ),
      inside(close),
    ),
  );
  dialog.addEventListener("cancel", (event) => {
    // a file picker is cancelled too
    if (event.target !== dialog || !loss()) return;
    event.preventDefault();
    close();
  });
  dialog.addEventListener("close", () => {
    // it went by itself meanwhile
    stopAsking();
    dialog.remove();
    from?.isConnected && from.focus();
    closed();
  });
  document.body.append(dialog);
  dialog.showModal();
  dialog
    .querySelector(
      /** @type {"input"} */ ("[autofocus], .dialog-body input:not([hidden]), .dialog-body select"),
    )
    ?.focus();
  return close;
}

/**
 * Ask before something is lost. Nothing is done on Escape.
 * @param {string} title @param {string} lost what happens, in words @param {string} label of the button that
 *   does it
 * @param {() => void} act
 * @returns {() => void} closes the question
 */
export function askFirst(title, lost, label, act) {
  return openDialog(title, (close) =>
    h(
      "div",
      {},
      h("p", {}, lost),
      h(
        "div",
        { class: "actions" },
        h("button", { type: "button", class: "main", autofocus: true, onclick: close }, "Go back"),
        h(
          "button",
          {
            type: "button",
            onclick: () => {
              close();
              act();
            },
          },
          label,
        ),
      ),
    ),
  );
}

/**
 * Ask for one line of text.
 * @param {string} title @param {string} label @param {string} value
 * @param {(text: string) => Promise<void>} done
 */
export function askText(title, label, value, done) {
  openDialog(title, (close) => {
    const input = h("input", { type: "text", value, required: true, maxlength: 200, autofocus: true });
    const problem = h("p", { class: "problem", role: "alert" });
    const form = h(
      "form",
      {
        onsubmit: async (/** @type {Event} */ event) => {
          event.preventDefault();
          try {
            await done(input.value.trim());
            close();
          } catch (error) {
            problem.textContent = error instanceof Error ? error.message : String(error);
          }
        },
      },
      h("label", { class: "field" }, h("span", {}, label), input),
      problem,
      h(
        "div",
        { class: "actions" },
        h("button", { type: "button", onclick: close }, "Cancel"),
        h("button", { class: "main" }, "Save"),
      ),
    );
    input.select();
    return form;
  });
}
