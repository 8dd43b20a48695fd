/** What is entered of an odd guitar: words by ear, then the meter. Recordings come from “Built?”. */

import { FINE, HEARD, isExcited, METER } from "../session/faults.js";
import { fill, h, say } from "../shared/dom.js";
import { plainName } from "../shared/words.js";
import { excitedText, knobOf, recordedText, settingText } from "./words.js";

/** @import {Row} from "../session/faults.js" */
/** @import {Form, FormSetting, Next, Word} from "./api.js" */

/**
 * @param {object} on
 * @param {(row: Row, there: boolean) => void} on.say  a word was heard, or not after all
 * @param {(setting: string, value: string) => void} on.read  the meter reads
 * @param {(change: {rig?: boolean, exciter?: boolean}) => void} on.setTools  what is at hand
 * @param {() => void} on.toBuilt  to where recordings are brought
 */
export function entryView({ say: hear, read, setTools, toBuilt }) {
  const ear = h("div", { class: "faults-ear" });
  const meter = h("div", { class: "faults-meter" });
  const recorded = h("p", { class: "small" });
  const rig = h("input", { type: "checkbox", onchange: () => setTools({ rig: rig.checked }) });
  const exciter = h("input", {
    type: "checkbox",
    onchange: () => setTools({ exciter: exciter.checked }),
  });
  const excited = h("p", { class: "small" });
  const bring = h("button", { type: "button", onclick: toBuilt }, "Bring recordings in “Built?”");
  const withRig = h("div", { class: "faults-recorded" }, recorded, excited, bring);
  const element = h(
    "div",
    { class: "faults-entry" },
    h("h3", {}, "What do you hear?"),
    h(
      "p",
      { class: "soft small" },
      "Compare with what the drawing should sound like. Say “fine” too: it tells as much.",
    ),
    ear,
    h("h3", {}, "What does the meter read?"),
    h(
      "p",
      { class: "soft small" },
      "Ohms at the plug, tip to sleeve, nothing else plugged in. Knobs not named are at 10. An open circuit ",
      "is “open”. These are the readings of “Built?”.",
    ),
    meter,
    h("label", { class: "row faults-rig" }, rig, h("span", {}, "I have the rig too")),
    h("label", { class: "row faults-rig" }, exciter, h("span", {}, "I have an exciter and a blade")),
    withRig,
  );
  /** Fields and chips by setting, what is read, and the word. @type {Map<string, HTMLInputElement>} */
  const inputs = new Map();
  /** @type {Map<string, HTMLElement>} */
  const problems = new Map();
  /** @param {string[]} parts */
  const key = (...parts) => parts.join("\n");

  /** @param {FormSetting} one @param {Word} word @param {string} title of its row */
  function chip(one, { word, about }, title) {
    const input = h("input", {
      type: "checkbox",
      "aria-label": `${title}: ${word}`,
      onchange: () => hear({ setting: one.setting, what: HEARD, value: word }, input.checked),
    });
    inputs.set(key(one.setting, HEARD, word), input);
    return h(
      "label",
      { class: `word${word === FINE ? " fine" : ""}`, title: about },
      input,
      h("span", {}, word),
    );
  }
  /** @param {string} title @param {string} about @param {HTMLElement[]} chips */
  const wordsRow = (title, about, chips) =>
    h(
      "div",
      { class: "faults-row", role: "group", "aria-label": title },
      h("p", {}, h("b", {}, title), about && h("span", { class: "soft small" }, ` ${about}`)),
      h("div", { class: "faults-words" }, ...chips),
    );
  /** @param {FormSetting} one */
  function field(one) {
    const input = h("input", {
      type: "text",
      maxlength: 40,
      autocomplete: "off",
      spellcheck: "false",
      placeholder: "8.2 kΩ",
      "aria-label": `The meter: ${settingText(one)}`,
      onchange: () => read(one.setting, input.value.trim()),
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (event.key === "Enter") nextField(input)?.focus();
      },
    });
    const problem = h("p", { class: "problem small", role: "alert" });
    inputs.set(key(one.setting, METER), input);
    problems.set(key(one.setting, METER), problem);
    return { input, problem };
  }
  /** The field after one, so that Enter goes down the list. @param {HTMLInputElement} input */
  function nextField(input) {
    /** @type {NodeListOf<HTMLInputElement>} */
    const all = element.querySelectorAll("input[type=text]");
    return [...all][[...all].indexOf(input) + 1];
  }

  return {
    element,
    /** Offer what may be entered. @param {Form} form */
    offer(form) {
      inputs.clear();
      problems.clear();
      const ofSound = form.words.filter(({ knob }) => !knob);
      const ofKnobs = form.words.filter(({ knob }) => knob);
      fill(
        ear,
        ...form.heard.map((one) => {
          const title = settingText(one);
          return wordsRow(
            title,
            one.label,
            ofSound.map((word) => chip(one, word, title)),
          );
        }),
        ...form.knobs.map((one) => {
          const title = plainName(knobOf(one));
          const about = `turned down, in ${settingText({ ...one, knobs: {} }).toLowerCase()}`;
          return wordsRow(
            title,
            about,
            ofKnobs.map((word) => chip(one, word, title)),
          );
        }),
      );
      fill(
        meter,
        ...form.read.map((one) => {
          const { input, problem } = field(one);
          return h(
            "label",
            { class: "faults-row" },
            h("span", {}, settingText(one), h("small", { class: "soft" }, one.label && ` ${one.label}`)),
            input,
            problem,
          );
        }),
      );
    },
    /**
     * Show what stands there.
     * @param {Row[]} rows @param {{rig: boolean, exciter: boolean}} tools  what is at hand
     */
    update(rows, tools) {
      rig.checked = tools.rig;
      exciter.checked = tools.exciter;
      const coils = new Set(rows.filter(({ what }) => isExcited(what)).map((r) => r.what.split(" ")[1]));
      const others = rows.filter(({ what }) => ![HEARD, METER].includes(what) && !isExcited(what));
      const swept = new Set(others.map((r) => r.setting));
      const [withSweeps, withExciter] = [tools.rig || swept.size > 0, tools.exciter || coils.size > 0];
      withRig.hidden = !withSweeps && !withExciter;
      say(recorded, withSweeps ? recordedText([...swept]) : "");
      say(excited, withExciter ? excitedText([...coils]) : "");
      const said = new Set(
        rows.filter(({ what }) => what === HEARD).map((r) => key(r.setting, HEARD, r.value)),
      );
      const typed = new Map(rows.map((row) => [key(row.setting, row.what), row.value]));
      for (const [name, input] of inputs) {
        if (input.type === "checkbox") input.checked = said.has(name);
        else if (input !== document.activeElement) input.value = typed.get(name) ?? "";
      }
    },
    /**
     * Say what is wrong beside each field; return what belongs to none: recordings, and words.
     * @param {Map<Row, string>} found
     */
    complain(found) {
      const texts = new Map([...found].map(([row, text]) => [key(row.setting, row.what), text]));
      for (const [name, problem] of problems) {
        say(problem, texts.get(name) ?? "");
        inputs.get(name)?.toggleAttribute("aria-invalid", texts.has(name));
      }
      return [...found].filter(([row]) => !problems.has(key(row.setting, row.what)));
    },
    /** Go to where a reading is entered. @param {Next} next */
    goTo(next) {
      const input = next.what === "meter" ? inputs.get(key(next.setting, METER)) : bring;
      input?.focus();
      input?.scrollIntoView({ block: "center" });
    },
  };
}
