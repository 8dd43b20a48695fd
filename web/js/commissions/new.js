/** Start a commission: choose a common wiring or a blank one, and fit it to the instrument. */

import * as api from "./api.js";
import { ApiError, problemText } from "../shared/http.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { fitStarter } from "./fit_starter.js";

/** @import {Starter} from "../shared/types.js" */

export function newCommission() {
  openDialog("New commission", (close) => {
    const title = h("input", {
      type: "text",
      required: true,
      maxlength: 200,
      placeholder: "Name you will look for",
      autofocus: true,
    });
    const client = h("input", { type: "text", maxlength: 200, autocomplete: "off" });
    const starters = h(
      "div",
      { class: "starters", role: "radiogroup", "aria-label": "Start from" },
      h("p", { class: "soft" }, "Loading…"),
    );
    const problem = h("p", { class: "problem", role: "alert" });
    const fit = fitStarter((text) => say(problem, text));
    api.listStarters().then(
      (rows) => {
        const first = rows[rows[0]?.name === "blank" ? 1 : 0];
        fill(starters, ...rows.map((row) => starterView(row, row === first, fit.show)));
        if (first) fit.show(first);
      },
      (error) => say(problem, error.message),
    );
    return h(
      "form",
      {
        onsubmit: async (/** @type {SubmitEvent} */ event) => {
          event.preventDefault();
          const starter = new FormData(/** @type {HTMLFormElement} */ (event.currentTarget)).get("starter");
          say(problem, "");
          try {
            const { id } = await api.createCommission({
              title: title.value.trim(),
              client: client.value.trim(),
              starter: starter ? String(starter) : null,
              ...fit.wanted(),
            });
            close();
            location.hash = `#/c/${encodeURIComponent(id)}`;
          } catch (error) {
            const rest =
              error instanceof ApiError
                ? fit.refused(error.problems).map(problemText).join(" ")
                : String(error);
            say(problem, rest);
            dialogField(problem)?.focus();
          }
        },
      },
      h("label", { class: "field" }, h("span", {}, "Name"), title),
      h("label", { class: "field" }, h("span", {}, "Client (only you see this)"), client),
      h("fieldset", { class: "field" }, h("legend", {}, "Start from"), starters),
      fit.element,
      problem,
      h(
        "div",
        { class: "actions" },
        h("button", { type: "button", onclick: close }, "Cancel"),
        h("button", { class: "main" }, "Start"),
      ),
    );
  });
}

/** The first field with a problem. @param {HTMLElement} inside @returns {HTMLElement | null | undefined} */
const dialogField = (inside) => inside.closest("form")?.querySelector("[aria-invalid='true']");

/** @param {Starter} row @param {boolean} checked @param {(starter: Starter) => void} chosen */
const starterView = (row, checked, chosen) =>
  h(
    "label",
    { class: "pickable" },
    h("input", {
      type: "radio",
      name: "starter",
      value: row.name,
      required: true,
      checked,
      onchange: () => chosen(row),
    }),
    h("b", {}, row.title),
    h("span", { class: "soft" }, row.about),
  );
