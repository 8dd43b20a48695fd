/** The drawer of parts: every value in place, undo and redo, before and after, versions. */

import { counted, plainName } from "../pure/words.js";
import { choice, fill, h, say } from "./dom.js";
import { icon } from "./icons.js";
import { libraryPicker } from "./library_picker.js";
import { valueField } from "./value_field.js";
import { versionsView } from "./versions.js";

/** @import {Session} from "../bench/session.js" */
/** @import {Part} from "../pure/types.js" */

const UNSEEN = ["lugs", "contacts", "poles", "positions"];
/** The value a part is known by, beside its name. */
const MAIN = ["capacitance", "resistance", "inductance"];

/** @param {Session} session */
export function drawerView(session) {
  const { get, set, on } = session;
  const parts = h("div", {});
  const told = h("p", { class: "soft small", role: "status" });
  const sides = choice("Hear the edits", [{ value: "before", label: "before" }, { value: "after", label: "after" }], "after", (value) => set({ before: value === "before" }));
  const drop = h("button", { type: "button", class: "quiet", onclick: () => session.dropEdits() }, "Drop all edits");
  const edits = h("div", { class: "edits" }, sides.element, drop);
  const element = h("aside", { class: "drawer sheet", id: "parts", "aria-label": "Parts", tabindex: -1 },
    h("div", { class: "drawer-head" }, h("h2", { class: "spread" }, "Parts"),
      h("button", { type: "button", class: "quiet", "aria-label": "Close parts", onclick: () => set({ drawer: false }) }, icon("close"))),
    told, edits, parts, versionsView(session));
  /** @type {Map<string, ReturnType<typeof partView>>} */
  let shown = new Map();
  let built = "";
  function update() {
    const { check, before } = get();
    if (!check?.ok) return;
    const here = check.parts.filter(({ fields }) => fields.some(({ name }) => !UNSEEN.includes(name)));
    const next = JSON.stringify(here.map(({ name, fields }) => [name, fields.map((field) => [field.name, !!field.steps])]));
    if (next !== built) {
      built = next;
      const open = new Set([...shown].filter(([, { element: one }]) => one.open).map(([name]) => name));
      shown = new Map(here.map((part) => [part.name, partView(session, part)]));
      for (const [name, one] of shown) one.element.open = open.has(name);
      fill(parts, ...[...shown.values()].map((one) => one.element));
    }
    if (!before) for (const part of here) shown.get(part.name)?.update(part);
    const count = session.slot().edits.length;
    say(told, count ? `${counted(count, "edit")}, not saved as a version yet; kept on this page.` : "Change a value and hear it at once. Arrow keys in a field step through the preferred values.");
    edits.hidden = count === 0;
    sides.set(before ? "before" : "after");
  }
  on(["check", "slots", "current", "before"], update);
  on(["drawer"], ({ drawer }) => { element.hidden = !drawer; });
  element.hidden = !get().drawer;
  update();
  return {
    element,
    /** @param {string} name */
    show(name) {
      set({ drawer: true });
      const part = shown.get(name);
      if (!part) return;
      part.element.open = true;
      part.element.scrollIntoView({ block: "nearest" });
      part.element.querySelector("summary")?.focus();
    },
  };
}

/** @param {Session} session @param {Part} part */
function partView(session, part) {
  const fields = part.fields.filter(({ name, form }) => form === "expression" || !UNSEEN.includes(name))
    .map((field) => ({ name: field.name, view: valueField(session, part.name, field) }));
  const main = h("small", {}), shelf = libraryPicker(session, part);
  const element = h("details", { class: "part", "data-part": part.name }, h("summary", {}, h("span", {}, plainName(part.name)), main),
    h("div", { class: "values" }, ...fields.map(({ view }) => view.element), shelf));
  return {
    element,
    /** @param {Part} now */
    update(now) {
      for (const { name, view } of fields) {
        const field = now.fields.find((one) => one.name === name);
        if (field) view.update(field);
      }
      const value = now.fields.find(({ name, value: text }) => MAIN.includes(name) && text)?.value;
      say(main, [now.kind, value].filter(Boolean).join(" "));
      main.classList.toggle("changed", session.slot().edits.some(({ path }) => path[1] === part.name));
    },
  };
}
