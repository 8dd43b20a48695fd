/**
 * A field for one value of a part: type, step or choose. A refused value shows its reason beside the field.
 */

import * as api from "./api.js";
import { withEdit } from "../session/compare.js";
import { same } from "../shared/store.js";
import { h, say, uid } from "../shared/dom.js";
import { icon } from "../shared/icons.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit, Field, Problem} from "../shared/types.js" */

/** Forms with long texts. */
const LONG = ["terminals", "expression"];
const LONG_LINE = 26;
/** Labels for a string's choices. */
const WORDS = { true: "wound", false: "plain" };

/**
 * @param {Session} session
 * @param {{part: string, field: Field, label: string, bare?: boolean, hint?: string}} what  bare: without a
 *   visible label and steppers
 */
export function valueField(session, { part, field, label, bare = false, hint = "" }) {
  const id = uid("value"),
    problemId = uid("told");
  const problem = h("p", { class: "problem", id: problemId, role: "alert" });
  let now = field;

  /** @param {string} value */
  async function change(value) {
    const text = value.trim();
    if (text === now.value) {
      refused("");
      input.value = now.value;
      return;
    }
    if (text === "" && now.required && !now.brackets) {
      refused("");
      session.dropEdit(now.path);
      input.value = now.value;
      return;
    }
    const { version, edits } = session.slot(),
      next = editsFor(text);
    try {
      const check = await api.checkDraft({ version, edits: next.reduce(withEdit, edits) });
      if (!check.ok) return refused(ofField(check.problems));
      refused("");
      session.edit(...next);
    } catch (error) {
      refused(error instanceof Error ? error.message : String(error));
    }
  }
  /**
   * The edits for a text: its value, or a removal for an optional field that is cleared.
   * @param {string} text
   * @returns {Edit[]}
   */
  function editsFor(text) {
    if (now.brackets) return [{ path: now.path, value: `[${text}]` }];
    if (text !== "") return [{ path: now.path, value: text }];
    return (now.remove?.length ? now.remove : [now.path]).map((path) => ({ path, value: null }));
  }
  /**
   * The server's problem with this field, without problems that follow from it elsewhere.
   * @param {Problem[]} problems
   */
  function ofField(problems) {
    const own = problems.filter(({ where }) => part !== "" && where.includes(`${part}.${field.name}`));
    return (own.length ? own : problems)
      .map(({ got, allowed, hint }) => `Got ${got}; allowed: ${allowed}${hint ? ` (${hint})` : ""}.`)
      .join(" ");
  }
  /** @param {string} text */
  function refused(text) {
    say(problem, text);
    input.setAttribute("aria-invalid", String(!!text));
  }
  const input = field.choices?.length ? chooser(field) : typed();
  input.id = id;
  input.dataset.path = field.path.join("/");
  input.setAttribute("aria-describedby", problemId);
  input.setAttribute("aria-label", label);

  function typed() {
    const long = LONG.includes(field.form);
    const about = {
      autocomplete: "off",
      spellcheck: "false",
      placeholder: field.default || hint,
      onchange: () => change(text.value),
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (long && event.key === "Enter") {
          event.preventDefault();
          change(text.value);
        }
        if (event.key === "Escape" && text.value !== now.value) {
          event.stopPropagation();
          text.value = now.value;
          refused("");
        }
        if (event.key === "ArrowUp" && now.steps?.up) {
          event.preventDefault();
          change(now.steps.up);
        }
        if (event.key === "ArrowDown" && now.steps?.down) {
          event.preventDefault();
          change(now.steps.down);
        }
      },
    };
    /** @type {HTMLInputElement | HTMLTextAreaElement} */
    const text = long ? h("textarea", { rows: 1, ...about }) : h("input", { type: "text", ...about });
    return text;
  }
  /** @param {Field} about */
  function chooser({ name: about, choices = [], value, default: standard }) {
    const all = value && !choices.includes(value) ? [value, ...choices] : choices;
    const select = h(
      "select",
      { onchange: () => change(select.value) },
      ...all.map((one) =>
        h("option", { value: one }, WORDS[/** @type {"true"} */ (about === "wound" && one)] ?? one),
      ),
    );
    select.value = value || standard || choices[0];
    return select;
  }
  /** @param {"up" | "down"} way */
  const stepper = (way) =>
    h(
      "button",
      {
        type: "button",
        "aria-label": `${label} ${way}`,
        onclick: () => {
          const to = now.steps?.[way];
          if (to) change(to);
        },
      },
      icon(way),
    );
  const steppers = field.steps && !bare ? [stepper("down"), stepper("up")] : [];
  const element = h(
    "div",
    { class: bare ? "value bare" : "value" },
    !bare && h("label", { for: id, title: field.about ?? "" }, wordOf(field, part)),
    h("div", { class: "enter" }, input, ...steppers),
    problem,
  );
  return {
    element,
    /** @param {Field} next */
    update(next) {
      now = next;
      const shown =
        next.value || (input instanceof HTMLSelectElement ? next.default || next.choices?.[0] || "" : "");
      if (
        input.value !== shown &&
        !(input.getAttribute("aria-invalid") === "true" && document.activeElement === input)
      ) {
        input.value = shown;
        refused("");
      }
      input.dataset.committed = shown;
      if (input instanceof HTMLTextAreaElement) input.rows = Math.max(1, Math.ceil(shown.length / LONG_LINE));
      element.classList.toggle(
        "edited",
        session.slot().edits.some(({ path }) => same(path, next.path.slice(0, path.length))),
      );
      steppers.forEach((button, k) => {
        const to = next.steps?.[k === 0 ? "down" : "up"];
        button.setAttribute("aria-disabled", String(!to));
        button.title = to ?? "";
      });
    },
  };
}

/** @param {Field} field @param {string} part */
function wordOf({ name, form, about }, part) {
  if (form === "words" && part === "labels") return `position ${name}`;
  return name === "at"
    ? "at, from the bridge"
    : `${name.replaceAll("_", " ")}${name === "winding" ? " direction" : ""}${about && name === "magnet" ? " pole facing the strings" : ""}`;
}
