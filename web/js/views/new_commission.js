/** Start a commission from a wiring described in words, or from a blank one. */

import * as api from "../api.js";
import { openDialog } from "./dialog.js";
import { fill, h } from "./dom.js";

export function newCommission() {
  openDialog("New commission", (close) => {
    const title = h("input", { type: "text", required: true, maxlength: 200, placeholder: "What you will find it by", autofocus: true });
    const client = h("input", { type: "text", maxlength: 200, autocomplete: "off" });
    const starters = h("div", { class: "starters", role: "radiogroup", "aria-label": "Start from" }, h("p", { class: "soft" }, "Loading…"));
    const problem = h("p", { class: "problem", role: "alert" });
    api.starters().then((rows) => fill(starters, ...rows.map(({ name, title: called, about }, k) =>
      h("label", { class: "pickable" }, h("input", { type: "radio", name: "starter", value: name, required: true, checked: k === (rows[0]?.name === "blank" ? 1 : 0) }),
        h("b", {}, called), h("span", { class: "soft" }, about)))),
    (error) => { problem.textContent = error.message; });
    return h("form", {
      onsubmit: async (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        const starter = new FormData(/** @type {HTMLFormElement} */ (event.currentTarget)).get("starter");
        try {
          const { id } = await api.newCommission({ title: title.value.trim(), client: client.value.trim(), starter: starter ? String(starter) : null });
          close();
          location.hash = `#/c/${encodeURIComponent(id)}`;
        } catch (error) { problem.textContent = error instanceof Error ? error.message : String(error); }
      },
    }, h("label", { class: "field" }, h("span", {}, "Name"), title),
    h("label", { class: "field" }, h("span", {}, "Client (only you see this)"), client),
    h("fieldset", { class: "field" }, h("legend", {}, "Start from"), starters), problem,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, "Cancel"), h("button", { class: "main" }, "Start")));
  });
}
