/** One value of a part, changed in place: typed, stepped, or chosen; refused beside the field. */

import * as api from "../api.js";
import { withEdit } from "../pure/compare.js";
import { same } from "../pure/store.js";
import { plainName } from "../pure/words.js";
import { h, say, uid } from "./dom.js";
import { icon } from "./icons.js";

/** @import {Session} from "../bench/session.js" */
/** @import {Field, Problem} from "../pure/types.js" */

/** @param {Session} session @param {string} part @param {Field} field */
export function valueField(session, part, field) {
  const id = uid("value"), told = uid("told");
  const problem = h("p", { class: "problem", id: told, role: "alert" });
  const label = `${plainName(part)} ${field.name.replaceAll("_", " ")}`;
  let now = field;

  /** @param {string} value */
  async function change(value) {
    const text = value.trim();
    if (text === now.value) { refused(""); input.value = now.value; return; }
    if (text === "" && !input.required) { refused(""); session.dropEdit(now.path); input.value = now.value; return; }
    const { version, edits } = session.slot(), edit = { path: now.path, value: text };
    try {
      const check = await api.check({ version, edits: withEdit(edits, edit) });
      if (!check.ok) return refused(ofField(check.problems));
      refused("");
      session.edit(edit);
    } catch (error) { refused(error instanceof Error ? error.message : String(error)); }
  }
  /** The server's words for this field; what follows from it elsewhere is left out. @param {Problem[]} problems */
  function ofField(problems) {
    const own = problems.filter(({ where }) => where.includes(`${part}.${field.name}`));
    return (own.length ? own : problems).map(({ got, allowed, hint }) => `Got ${got}; allowed: ${allowed}${hint ? ` (${hint})` : ""}.`).join(" ");
  }
  /** @param {string} text */
  function refused(text) {
    say(problem, text);
    input.setAttribute("aria-invalid", String(!!text));
  }
  const input = field.choices?.length ? chooser(field) : typed();
  input.id = id;
  input.setAttribute("aria-describedby", told);
  input.setAttribute("aria-label", label);

  function typed() {
    const text = h("input", { type: "text", autocomplete: "off", spellcheck: "false", placeholder: field.default || "", onchange: () => change(text.value),
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (event.key === "Escape" && text.value !== now.value) { event.stopPropagation(); text.value = now.value; refused(""); }
        if (event.key === "ArrowUp" && now.steps?.up) { event.preventDefault(); change(now.steps.up); }
        if (event.key === "ArrowDown" && now.steps?.down) { event.preventDefault(); change(now.steps.down); }
      } });
    return text;
  }
  /** @param {Field} about */
  function chooser({ choices = [], value, default: standard }) {
    const all = value && !choices.includes(value) ? [value, ...choices] : choices;
    const select = h("select", { onchange: () => change(select.value) },
      ...all.map((one) => h("option", { value: one }, one)));
    select.value = value || standard || choices[0];
    return select;
  }
  /** @param {"up" | "down"} way */
  const stepper = (way) => h("button", { type: "button", "aria-label": `${label} ${way}`, onclick: () => { const to = now.steps?.[way]; if (to) change(to); } }, icon(way));
  const steppers = field.steps ? [stepper("down"), stepper("up")] : [];
  const element = h("div", { class: "value" }, h("label", { for: id, title: field.about ?? "" }, wordOf(field)), h("div", { class: "enter" }, input, ...steppers), problem);
  return {
    element,
    /** @param {Field} next */
    update(next) {
      now = next;
      const shown = next.value || (input instanceof HTMLSelectElement ? next.default || next.choices?.[0] || "" : "");
      if (input.value !== shown && !(input.getAttribute("aria-invalid") === "true" && document.activeElement === input)) { input.value = shown; refused(""); }
      input.dataset.committed = shown;
      element.classList.toggle("edited", session.slot().edits.some(({ path }) => same(path, next.path)));
      steppers.forEach((button, k) => {
        const to = next.steps?.[k === 0 ? "down" : "up"];
        button.setAttribute("aria-disabled", String(!to));
        button.title = to ?? "";
      });
    },
  };
}

/** @param {Field} field */
function wordOf({ name, form, about }) {
  if (form === "expression") return `position ${name}`;
  return name === "at" ? "at, from the bridge" : `${name.replaceAll("_", " ")}${name === "winding" ? " direction" : ""}${about && name === "magnet" ? " pole facing the strings" : ""}`;
}
