/** Native dialogs: Escape closes them, and the browser restores the focus. */

import { h, uid } from "./dom.js";
import { icon } from "./icons.js";

/**
 * @param {string} title
 * @param {(close: () => void) => HTMLElement} inside
 * @param {{closed?: () => void}} [on]
 */
export function openDialog(title, inside, { closed = () => {} } = {}) {
  const id = uid("title");
  const from = /** @type {HTMLElement | null} */ (document.activeElement);
  const close = () => dialog.close();
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
  dialog.addEventListener("close", () => {
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
