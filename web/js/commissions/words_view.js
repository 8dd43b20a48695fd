/** A new instrument in words: pickups, controls, switch and sounds; the wiring follows. */

import * as api from "./api.js";
import { ApiError, problemText } from "../shared/http.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";
import { latest } from "../shared/latest.js";
import { lackOf, saidOf, withToggled, wordsOf } from "./words.js";
import { makingView } from "./words_making.js";
import { soundsView } from "./words_sounds.js";

/** @import {Choices, Made, Question, Words} from "./words.js" */

const KEPT = "presolder.words";
/** Answers that decide which sounds there are. */
const DECIDING = ["neck", "middle", "bridge", "volumes", "tones"];
const CONTROLS = ["volumes", "tones", "alone", "values"];

/** @param {AbortSignal} signal @returns {Promise<HTMLElement>} */
export async function newInstrumentView(signal) {
  const choices = await api.listWords();
  const kept = recall(choices);
  /** @type {Words} */
  let words = kept ?? wordsOf(choices.layouts[0]);
  /** @type {Made | null} */
  let made = null;

  // --- what is said
  const layouts = layoutsView(choices, (name) => {
    const layout = choices.layouts.find((one) => one.name === name);
    if (layout) change({ ...wordsOf(layout), scale: words.scale, range: words.range }, true);
  });
  const questions = new Map(
    choices.questions.map((question) => [
      question.name,
      asked(question, (answer) => {
        const answers = { ...words.answers, [question.name]: answer };
        const decides = DECIDING.includes(question.name);
        change({ answers, layout: "", order: "fixed", ...(decides ? { sounds: null } : {}) }, true);
      }),
    ]),
  );
  const view = (/** @type {string[]} */ names) => names.flatMap((name) => questions.get(name)?.element ?? []);
  const scale = textField("Scale, nut to bridge", (text) => change({ scale: text }), 40);
  const first = switchField("Switch", choices, "none", (name) =>
    change({ switch: name, layout: "", order: "fixed", ...(name ? {} : { second: "" }) }, true),
  );
  const second = switchField("And a second one", choices, "none", (name) =>
    change({ second: name, layout: "", order: "fixed" }, true),
  );
  const title = textField("Name", () => remember(), 200);
  const client = textField("Client (only you see this)", () => remember(), 200);

  // --- what is made of it
  const sounds = soundsView({
    toggle: (name) => {
      if (made) change({ sounds: withToggled(made, name, words.second !== ""), order: "fixed" });
    },
    usual: () => change({ sounds: null, order: "fixed" }, true),
  });
  const left = choice(
    "Sounds",
    [
      { value: "words", label: "These sounds" },
      { value: "range", label: "Leave them to Range" },
    ],
    words.range ? "range" : "words",
    (value) => change({ range: value === "range" }),
  );
  const rangeNote = h(
    "p",
    { class: "soft small" },
    "Range finds the set that differs most, or the most useful one, of all that these coils can make. The usual sounds stand in the sketch until then.",
  );
  const lack = h("p", { class: "warn small", id: uid("lack"), role: "status" });
  const go = h("button", { class: "main", "aria-describedby": lack.id }, "Make it");
  const failure = h("p", { class: "problem", role: "alert" });
  const making = makingView({
    signal,
    change: (next) => {
      change(next);
      submit();
    },
    done: forget,
  });
  const element = h(
    "main",
    { class: "view", id: "main" },
    h(
      "form",
      {
        class: "worded",
        "aria-label": "A new instrument in words",
        onsubmit: (/** @type {SubmitEvent} */ event) => {
          event.preventDefault();
          submit();
        },
      },
      h(
        "header",
        {},
        h("h1", {}, "A new instrument in words"),
        h(
          "p",
          { class: "soft" },
          "Say what goes in. The sketch, the lug chart and the wiring follow, to hear, change and solder.",
        ),
      ),
      h(
        "div",
        { class: "worded-said" },
        layouts.element,
        group("Pickups", ...view(choices.places)),
        group("Switch", first.element, second.element),
        group("Controls", ...view(CONTROLS)),
        group("Strings", ...view(["strings"]), scale.element),
        group("Commission", title.element, client.element),
      ),
      h(
        "div",
        { class: "worded-made" },
        left.element,
        rangeNote,
        sounds.element,
        failure,
        h("div", { class: "row" }, go, lack),
        making.element,
      ),
    ),
  );

  const ask = latest(
    async () => {
      const fresh = await api.makeOfWords(saidOf(words, title.input.value.trim() || layoutTitle()), signal);
      if (signal.aborted) return;
      made = fresh;
      say(failure, "");
      scale.refuse("");
      show();
    },
    {
      failed: (error) => {
        if (signal.aborted) return;
        made = null;
        const problems = error instanceof ApiError ? error.problems : [];
        const ofScale = problems.find(({ where }) => where === "scale");
        scale.refuse(ofScale ? `Got ${ofScale.got}; allowed: ${ofScale.allowed}.` : "");
        const rest = problems.filter((one) => one !== ofScale);
        say(
          failure,
          rest.map(problemText).join(" ") || (ofScale ? "" : error instanceof Error ? error.message : ""),
        );
        show();
      },
    },
  );
  /** @type {Promise<void>} */
  let asking = Promise.resolve();
  /** @param {Partial<Words>} next @param {boolean} [anew] the sounds are those of the new words */
  function change(next, anew = false) {
    words = { ...words, ...next };
    if (anew && !("sounds" in next) && words.sounds && !fits(words.sounds))
      words = { ...words, sounds: null };
    if (made && next.sounds) made = { ...made, chosen: next.sounds }; // ticked while the answer is awaited
    making.clear();
    remember();
    show();
    asking = ask();
  }
  /** Whether sounds chosen by hand stay on offer. @param {string[]} chosen */
  const fits = (chosen) => chosen.every((one) => made?.sounds.some((sound) => sound.words === one));
  const layoutTitle = () =>
    choices.layouts.find(({ name }) => name === words.layout)?.title ?? "New instrument";
  async function submit() {
    await asking;
    if (!made || made.text === null || lackOf(made, words)) return;
    const named = title.input.value.trim() || layoutTitle();
    asking = ask(); // the text bears the name
    await asking;
    if (made && made.text !== null) making.make(made, words, named, client.input.value.trim());
  }
  function show() {
    layouts.set(words.layout);
    for (const [name, one] of questions) one.set(words.answers[name] ?? "");
    questions.get("alone")?.hide(words.answers.volumes !== "each");
    questions.get("values")?.about(made?.values ?? "");
    first.set(words.switch);
    second.set(words.second);
    second.hide(!words.switch);
    scale.input.placeholder = choices.scales[words.answers.strings ?? ""] ?? Object.values(choices.scales)[0];
    if (document.activeElement !== scale.input) scale.input.value = words.scale;
    title.input.placeholder = layoutTitle();
    left.set(words.range ? "range" : "words");
    rangeNote.hidden = !words.range;
    sounds.element.hidden = words.range || !made;
    if (made) sounds.show(made, words.sounds !== null);
    const text = failure.textContent ? "" : lackOf(made, words);
    say(lack, text);
    go.disabled = !made || made.text === null || text !== "";
    say(go, words.range ? "Make the sketch and open Range" : words.switch ? "Make it" : "Make the wiring");
  }
  function remember() {
    try {
      const said = { words, title: title.input.value, client: client.input.value };
      sessionStorage.setItem(KEPT, JSON.stringify(said));
    } catch {
      /* private windows have no storage */
    }
  }
  title.input.value = kept?.title ?? "";
  client.input.value = kept?.client ?? "";
  document.title = "New instrument · Presolder";
  show();
  asking = ask();
  return element;
}

function forget() {
  try {
    sessionStorage.removeItem(KEPT);
  } catch {
    /* private windows have no storage */
  }
}

/** What was said before and not made yet. @param {Choices} choices
 * @returns {(Words & {title: string, client: string}) | null} */
function recall({ layouts }) {
  try {
    const { words, title, client } = JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
    return words?.answers ? { ...wordsOf(layouts[0]), ...words, title, client } : null;
  } catch {
    return null;
  }
}

/** @param {string} legend @param {...HTMLElement} fields */
const group = (legend, ...fields) =>
  h("fieldset", {}, h("legend", {}, legend), h("div", { class: "worded-row" }, ...fields));

/** @param {Choices} choices @param {(name: string) => void} chosen */
function layoutsView({ layouts }, chosen) {
  const name = uid("layout");
  const inputs = layouts.map((one) =>
    h("input", { type: "radio", name, value: one.name, onchange: () => chosen(one.name) }),
  );
  return {
    element: h(
      "fieldset",
      {},
      h("legend", {}, "Common layouts, to start from"),
      h(
        "div",
        { class: "worded-layouts" },
        ...layouts.map(({ title, about }, k) =>
          h(
            "label",
            { class: "pickable" },
            inputs[k],
            h("b", {}, title),
            h("span", { class: "soft" }, about),
          ),
        ),
      ),
    ),
    /** @param {string} value empty for none of them */
    set(value) {
      for (const input of inputs) input.checked = input.value === value;
    },
  };
}

/** @param {Question} question @param {(answer: string) => void} answered */
function asked({ title, usual, answers }, answered) {
  const id = uid("said"),
    note = h("small", { class: "soft" });
  const select = h(
    "select",
    { id, onchange: () => answered(select.value) },
    ...answers.map((one) => h("option", { value: one.name }, capital(one.title))),
  );
  const element = h("div", { class: "field" }, h("label", { for: id }, title), select, note);
  return {
    element,
    /** @param {string} value empty for the usual answer */
    set(value) {
      select.value = value || usual;
    },
    /** @param {boolean} is */
    hide(is) {
      element.hidden = is;
    },
    /** @param {string} text */
    about: (text) => say(note, text),
  };
}

/**
 * @param {string} label @param {Choices} choices @param {string} none
 * @param {(name: string) => void} chosen
 */
function switchField(label, { switches }, none, chosen) {
  const id = uid("switch");
  const select = h("select", { id, onchange: () => chosen(select.value) });
  const counts = [...new Set(switches.map(({ positions }) => positions))].sort((a, b) => a - b);
  fill(
    select,
    h("option", { value: "" }, capital(none)),
    ...counts.map((count) =>
      h(
        "optgroup",
        { label: `${count} positions` },
        ...switches
          .filter(({ positions }) => positions === count)
          .map(({ name, about }) => h("option", { value: name }, about)),
      ),
    ),
  );
  const element = h("div", { class: "field" }, h("label", { for: id }, label), select);
  return {
    element,
    /** @param {string} value */
    set(value) {
      select.value = value;
    },
    /** @param {boolean} is */
    hide(is) {
      element.hidden = is;
    },
  };
}

/** @param {string} label @param {(text: string) => void} changed @param {number} most */
function textField(label, changed, most) {
  const id = uid("text"),
    problem = h("p", { class: "problem", id: uid("problem"), role: "alert" });
  const input = h("input", {
    id,
    type: "text",
    maxlength: most,
    autocomplete: "off",
    spellcheck: "false",
    "aria-describedby": problem.id,
    onchange: () => changed(input.value.trim()),
  });
  return {
    element: h("div", { class: "field" }, h("label", { for: id }, label), input, problem),
    input,
    /** @param {string} text */
    refuse(text) {
      input.setAttribute("aria-invalid", String(text !== ""));
      say(problem, text);
    },
  };
}

/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
