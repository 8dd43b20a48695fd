/** The faults that explain what was entered: a line each, lit on the drawing, and what to read next. */

import { fill, h } from "../shared/dom.js";
import { counted } from "../shared/words.js";
import { besideText, enoughText, lineText, nextText, sentence, summaryText, sureText } from "./words.js";

/** @import {Answer, Fault, Form, Line, Next, Tools} from "./api.js" */

const MOST_LINES = 6,
  MOST_NAMED = 4;

/**
 * @param {{light: (terminals: string[]) => void, enter: (next: Next) => void}} on  light: on the drawing
 */
export function answerView({ light, enter }) {
  const lines = h("ol", { class: "fault-lines" });
  const summary = h("p", { role: "status" });
  const doubt = h("p", { class: "warn", role: "alert", hidden: true });
  /** @type {Next | null} */
  let upcoming = null;
  const nextWords = h("p", {});
  const go = h("button", { type: "button", onclick: () => upcoming && enter(upcoming) }, "Enter it");
  const next = h("div", { class: "fault-next", hidden: true }, nextWords, go);
  const rest = h("div", { class: "small" });
  const element = h("div", { class: "fault-answer" }, summary, doubt, lines, next, rest);
  /** What is lit until another is chosen, by its words. */
  let chosen = "";
  /** @type {Map<string, HTMLButtonElement>} */
  let buttons = new Map();
  /** @type {Map<string, string[]>} */
  let places = new Map();

  const lightChosen = () => light(places.get(chosen) ?? []);
  /** @param {string} name */
  function choose(name) {
    chosen = chosen === name ? "" : name;
    for (const [one, button] of buttons) button.setAttribute("aria-pressed", String(one === chosen));
    lightChosen();
  }
  /**
   * What lights faults on the drawing while it is pointed at, has the focus, or is chosen.
   * @param {string} name @param {Fault[]} faults @param {...(HTMLElement | string)} kids
   */
  function lighter(name, faults, ...kids) {
    const terminals = [...new Set(faults.flatMap((fault) => fault.terminals))];
    places.set(name, terminals);
    const button = h(
      "button",
      {
        type: "button",
        class: "quiet fault-line",
        "aria-pressed": String(chosen === name),
        onclick: () => choose(name),
        onpointerenter: () => light(terminals),
        onpointerleave: lightChosen,
        onfocus: () => button.matches(":focus-visible") && light(terminals),
        onblur: lightChosen,
      },
      ...kids,
    );
    buttons.set(name, button);
    return button;
  }
  /** @param {Line} line */
  function lineView(line) {
    const { probability, sound, faults } = line;
    const others = faults.filter(({ kind }) => kind !== "sound");
    const percent = `${Math.round(100 * probability)} %`;
    const head = [
      h("b", { class: "fault-share" }, percent),
      h("span", {}, lineText(line), " ", h("small", { class: "soft" }, sureText(probability))),
    ];
    const bar = h("span", { class: "fault-bar", "aria-hidden": "true" });
    bar.style.setProperty("--share", String(probability));
    if (sound) {
      return h(
        "li",
        { class: "no-fault" },
        h("p", { class: "fault-line" }, ...head),
        bar,
        others.length > 0 && folded(besideText(others.length), others),
      );
    }
    const several = others.length > 1;
    return h(
      "li",
      {},
      lighter(`line ${others[0].text}`, others, ...head),
      bar,
      several && h("ul", {}, ...others.slice(0, MOST_NAMED).map(faultView)),
      others.length > MOST_NAMED &&
        folded(`and ${others.length - MOST_NAMED} more`, others.slice(MOST_NAMED)),
    );
  }
  /** @param {Fault} fault */
  const faultView = (fault) => h("li", {}, lighter(fault.text, [fault], sentence(fault.text)));
  /** @param {string} title @param {Fault[]} faults */
  const folded = (title, faults) =>
    h("details", {}, h("summary", { class: "small" }, title), h("ul", {}, ...faults.map(faultView)));

  return {
    element,
    /** Say nothing, and light nothing: another wiring is looked at. */
    clear() {
      buttons = new Map();
      places = new Map();
      chosen = "";
      upcoming = null;
      doubt.hidden = true;
      next.hidden = true;
      fill(lines);
      fill(summary);
      fill(rest);
      light([]);
    },
    /** @param {Answer} answer @param {Form} form @param {Tools} tools */
    show(answer, form, tools) {
      const focused = [...buttons].find(([, button]) => button === document.activeElement)?.[0];
      buttons = new Map();
      places = new Map();
      const nothing = answer.readings === 0;
      const shown = nothing ? [] : answer.classes.slice(0, MOST_LINES);
      fill(lines, ...shown.map(lineView));
      fill(
        summary,
        nothing
          ? "Begin with what you hear: one word where it sounds odd, “fine” where it does not."
          : summaryText(answer),
      );
      doubt.hidden = !answer.unexplained;
      fill(doubt, answer.unexplained ? `${sentence(answer.unexplained)}. Nearest come:` : "");
      upcoming = answer.next;
      next.hidden = !upcoming && nothing;
      go.hidden = !upcoming;
      const setting = form.read.find((one) => one.setting === answer.next?.setting);
      fill(
        nextWords,
        ...(upcoming
          ? [
              h("b", {}, "Read next. "),
              nextText(upcoming, setting),
              h("span", { class: "soft" }, ": it tells most for its time."),
            ]
          : [enoughText(answer, tools)]),
      );
      const hidden = answer.unseen.filter((text) => !answer.harmless.includes(text));
      fill(
        rest,
        listOf(`${counted(answer.harmless.length, "fault")} would change nothing`, answer.harmless),
        listOf(
          tools.exciter
            ? `${counted(hidden.length, "fault")} would be heard, but no reading shows them`
            : `${counted(hidden.length, "fault")} would be heard, but no meter and no rig shows them; an exciter may`,
          hidden,
        ),
      );
      if (!places.has(chosen)) chosen = "";
      lightChosen();
      if (focused !== undefined) buttons.get(focused)?.focus();
    },
  };
}

/** @param {string} title @param {string[]} texts */
const listOf = (title, texts) =>
  texts.length > 0 &&
  h("details", {}, h("summary", {}, title), h("ul", {}, ...texts.map((text) => h("li", {}, sentence(text)))));
