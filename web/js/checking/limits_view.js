/** Limits that the technician sets, and how many instruments keep them. */

import { fill, h, say } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { passedText } from "./words.js";

/** @import {LimitsKept} from "./api.js" */

const KINDS = [
  { value: "resonance", label: "Resonance" },
  { value: "level", label: "Level" },
  { value: "timbre", label: "Timbre" },
];
const EVERY = "";

/**
 * A limit in the words that the server reads.
 * @param {string} kind @param {string} position empty for every one @param {string} low @param {string} high
 */
export function limitText(kind, position, low, high) {
  const of = position ? ` of ${position}` : "";
  const db = high.replace(",", ".").replace(/\s*db$/i, "");
  if (kind === "resonance") return `resonance${of} between ${low} and ${high}`;
  return kind === "level"
    ? `level${of} at most ${db} dB below the loudest`
    : `timbre${of} at most ${db} dB from nominal`;
}

/**
 * @param {{positions: string[], change: (limits: string[]) => void}} on
 */
export function limitsView({ positions, change }) {
  /** @type {string[]} */
  let limits = [];
  const list = h("ul", { class: "limits" });
  const whole = h("p", { role: "status" });
  const problem = h("p", { class: "problem", role: "alert" });
  const kind = h(
    "select",
    { "aria-label": "What to limit", onchange: arrange },
    ...KINDS.map(({ value, label }) => h("option", { value }, label)),
  );
  const every = h("option", { value: EVERY }, "every position");
  const position = h(
    "select",
    { "aria-label": "At which position" },
    every,
    ...positions.map((name) => h("option", { value: name }, `position ${name}`)),
  );
  /** @param {string} label */
  const line = (label) =>
    h("input", { type: "text", maxlength: 20, autocomplete: "off", "aria-label": label });
  const low = line("From"),
    high = line("To");
  const between = h("span", {}, "between"),
    and = h("span", {}, "and"),
    unit = h("span", {});
  const form = h(
    "form",
    {
      class: "limit-form row",
      onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        const given = [low, high].filter((one) => !one.hidden);
        const empty = given.find((one) => !one.value.trim());
        if (empty) return empty.focus();
        const text = limitText(kind.value, position.value, low.value.trim(), high.value.trim());
        low.value = "";
        high.value = "";
        if (!limits.includes(text)) change([...limits, text]);
      },
    },
    kind,
    position,
    between,
    low,
    and,
    high,
    unit,
    h("button", {}, "Add"),
  );
  function arrange() {
    const resonance = kind.value === "resonance";
    for (const one of [low, and]) one.hidden = !resonance;
    every.hidden = resonance;
    every.disabled = resonance;
    position.value = resonance ? (positions[0] ?? EVERY) : EVERY;
    between.textContent = resonance ? "between" : "at most";
    high.setAttribute("aria-label", resonance ? "To" : "At most, dB");
    low.placeholder = resonance ? "2.5 kHz" : "";
    high.placeholder = resonance ? "3.1 kHz" : "3";
    unit.textContent = resonance ? "" : kind.value === "level" ? "dB below the loudest" : "dB from nominal";
  }
  arrange();
  return {
    element: h(
      "section",
      { "aria-label": "Limits" },
      h("h3", {}, "How many keep your limits?"),
      h(
        "p",
        { class: "soft small" },
        "200 instruments are drawn and computed exactly, their knobs at 10. In brackets stands the 95 % interval of that draw.",
      ),
      form,
      problem,
      list,
      whole,
    ),
    /**
     * @param {string[]} now @param {LimitsKept | undefined} kept
     * @param {Map<number, string>} problems by number
     */
    show(now, kept, problems) {
      limits = now;
      say(problem, "");
      fill(
        list,
        ...now.map((text, k) => {
          const one = kept?.limits[k];
          const bar = h("span", { class: "fault-bar", "aria-hidden": "true" });
          bar.style.setProperty("--share", String(one?.share ?? 0));
          return h(
            "li",
            {},
            h("span", {}, one?.limit ?? text),
            h("b", {}, one ? passedText(one) : ""),
            h(
              "button",
              {
                type: "button",
                class: "quiet",
                "aria-label": `Remove: ${text}`,
                onclick: () => change(limits.filter((other) => other !== text)),
              },
              icon("close"),
            ),
            one && bar,
            problems.has(k + 1) && h("p", { class: "problem small" }, problems.get(k + 1)),
          );
        }),
      );
      const dearest = kept && kept.limits.length > 1 && kept.dearest ? ` Costs most: ${kept.dearest}.` : "";
      say(
        whole,
        kept
          ? `All of them: ${kept.together.passed} of ${kept.drawn}, ${passedText(kept.together)}.${dearest}`
          : "",
      );
    },
  };
}
