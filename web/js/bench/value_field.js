/**
 * A field for one value of a part: type, step or choose. A refused value shows its reason beside the field.
 */

import { same } from "../shared/store.js";
import { h, say, uid } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { isInUse, put } from "../shared/typing.js";
import { withUsualUnit } from "../shared/units.js";
import { tryEdits } from "./try_edits.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit, Field, Problem} from "../shared/types.js" */

/** Forms with long texts. */
const LONG = ["terminals", "expression"];
const LONG_LINE = 26;
/** Fields whose choices have other words than the file. @type {Record<string, Record<string, string>>} */
const WORDS = {
  wound: { true: "wound", false: "plain" },
  ganged: { "": "its own shaft" },
  no_load: { true: "yes: open at 10", false: "no" },
};

/** The text that a field shows without a person's text. @param {Field} field */
const shownText = ({ value, inherited, default: standard, choices }) =>
  value || (choices?.length ? inherited || standard || "" : "");

/**
 * @param {Session} session
 * @param {{part: string, field: Field, label: string, bare?: boolean, hint?: string, onApplied?: () => void}}
 *   what  bare: without a visible label and steppers; onApplied: a value has been applied
 */
export function valueField(session, { part, field, label, bare = false, hint = "", onApplied = () => {} }) {
  const id = uid("value"),
    problemId = uid("told"),
    noteId = uid("note");
  const problem = h("p", { class: "problem", id: problemId, role: "alert" });
  const note = h("p", { class: "soft small note", id: noteId, role: "status" });
  const origin = h("small", { class: "origin" });
  let now = field,
    waiting = 0,
    asked = "";

  /** @param {string} value */
  async function change(value) {
    const typed = input.value,
      plain = value.trim(),
      text = withUsualUnit(plain, now);
    if (waiting > 0 && text === asked) return; // Enter, and then the field is left
    say(note, text === plain ? "" : `A number alone takes the unit of this field: ${text}.`);
    if (text === now.value && waiting === 0) {
      refused("");
      put(input, shownText(now));
      return;
    }
    if (text === "" && now.required && !now.brackets && !now.inherited) {
      refused("");
      session.dropEdit(now.path);
      put(input, shownText(now));
      return;
    }
    const wait = (/** @type {number} */ by) => {
      waiting += by;
      input.setAttribute("aria-busy", String(waiting > 0));
    };
    let applied = false;
    asked = text;
    wait(1);
    try {
      const problems = await tryEdits(
        session,
        () => editsFor(text),
        () => {
          applied = true;
          wait(-1);
          refused("");
          now = { ...now, value: text };
          if (input.value === typed) put(input, text);
          else input.dataset.committed = text; // a person types on
          onApplied();
        },
      );
      if (problems.length && input.value === typed) refused(ofField(problems));
    } catch (error) {
      if (input.value === typed) refused(error instanceof Error ? error.message : String(error));
    } finally {
      if (!applied) wait(-1);
    }
  }
  /**
   * The edits for a text: its value, or a removal for a field that is cleared.
   * @param {string} text
   * @returns {Edit[]}
   */
  function editsFor(text) {
    if (now.brackets && !(text === "" && now.inherited)) return [{ path: now.path, value: `[${text}]` }];
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
    if (text) say(note, "");
  }
  const input = field.choices?.length ? chooser(field) : typed();
  input.id = id;
  input.dataset.path = field.path.join("/");
  input.setAttribute("aria-describedby", `${problemId} ${noteId}`);
  input.setAttribute("aria-label", label);

  function typed() {
    const long = LONG.includes(field.form);
    const about = {
      autocomplete: "off",
      spellcheck: "false",
      placeholder: field.inherited || field.default || hint,
      onchange: () => change(text.value),
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (long && event.key === "Enter") {
          event.preventDefault();
          change(text.value);
        }
        if (event.key === "Escape" && text.value !== now.value) {
          event.stopPropagation();
          put(text, now.value);
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
  function chooser(about) {
    const { name, choices = [] } = about,
      shown = shownText(about);
    const all = choices.includes(shown) ? choices : [shown, ...choices];
    const select = h(
      "select",
      { onchange: () => change(select.value) },
      ...all.map((one) => h("option", { value: one }, WORDS[name]?.[one] ?? (one || "not given"))),
    );
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
    !bare && h("label", { for: id, title: field.about ?? "" }, wordOf(field, part), " ", origin),
    h("div", { class: "enter" }, input, ...steppers),
    problem,
    note,
  );
  put(input, shownText(field));
  return {
    element,
    /** @param {Field} next */
    update(next) {
      const before = shownText(now),
        shown = shownText(next),
        isInherited = !next.value && !!next.inherited;
      now = next;
      input.dataset.path = next.path.join("/");
      // a text that was refused stays, with its reason, until the value changes otherwise
      const isRefused = input.getAttribute("aria-invalid") === "true" && shown === before;
      if (!isInUse(input) && !isRefused) {
        put(input, shown);
        refused("");
      }
      if ("placeholder" in input) input.placeholder = next.inherited || next.default || hint;
      element.classList.toggle("inherited", isInherited);
      say(origin, isInherited ? "library" : "");
      input.title = isInherited ? "from the library" : "";
      if (input instanceof HTMLTextAreaElement) input.rows = Math.max(1, Math.ceil(shown.length / LONG_LINE));
      element.classList.toggle(
        "edited",
        session.slot().edits.some(
          ({ path }) =>
            same(path, next.path.slice(0, path.length)) &&
            (path.length === next.path.length || next.value !== ""), // of a new part what it says
        ),
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
