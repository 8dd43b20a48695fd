/** The form for the bench's key, if the server requires one. */

import { signIn } from "../shared/http.js";
import { h } from "../shared/dom.js";

/** @param {boolean} secure the connection is encrypted @param {() => void} opened */
export function accessView(secure, opened) {
  const key = h("input", {
    type: "password",
    autocomplete: "current-password",
    required: true,
    autofocus: true,
  });
  const problem = h("p", { class: "problem", role: "alert" });
  return h(
    "main",
    { class: "view narrow", id: "main" },
    h(
      "form",
      {
        class: "empty",
        onsubmit: async (/** @type {Event} */ event) => {
          event.preventDefault();
          problem.textContent = "";
          try {
            await signIn(key.value);
            opened();
          } catch (error) {
            problem.textContent = error instanceof Error ? error.message : String(error);
            key.select();
          }
        },
      },
      h("h1", {}, "This bench needs its key"),
      h(
        "p",
        { class: "soft" },
        "The server prints the path of its key when it starts. Anyone who has the key can change every commission.",
      ),
      !secure &&
        h(
          "p",
          { class: "warn" },
          "This connection is not encrypted: others on the network could read the key.",
        ),
      h("label", { class: "field" }, h("span", {}, "Key"), key),
      problem,
      h("button", { class: "main" }, "Open the bench"),
    ),
  );
}
