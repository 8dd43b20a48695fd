/** The meter's readings: a field for each setting, and what is said of it. */

import { fill, h } from "../shared/dom.js";
import { METER_HELP, settingText, SIDES } from "./words.js";

/** @import {Judged, Plan} from "./api.js" */

const METER = "meter";

/**
 * @param {Plan} plan @param {Record<string, string>} typed by setting
 * @param {(setting: string, value: string) => void} type
 */
export function meterTable(plan, typed, type) {
  const rows = plan.settings.flatMap((setting) => {
    const point = setting.points.find(({ what }) => what === METER);
    if (!point) return [];
    const words = settingText(setting);
    const said = h("td", { class: "built-said" });
    const input = h("input", {
      type: "text",
      value: typed[setting.setting] ?? "",
      maxlength: 40,
      autocomplete: "off",
      spellcheck: "false",
      placeholder: point.expected,
      "aria-label": `Meter, ${words}`,
      oninput: () => {
        fill(said);
        type(setting.setting, input.value.trim());
      },
    });
    const element = h(
      "tr",
      {},
      h("th", { scope: "row" }, words, setting.label && h("small", { class: "soft" }, setting.label)),
      h("td", { "data-head": "Expected" }, point.expected),
      h("td", { "data-head": "Band" }, point.band),
      h("td", {}, input),
      said,
    );
    return [{ setting: setting.setting, element, input, said }];
  });
  return {
    element: h(
      "section",
      { class: "built-meter", "aria-label": "Meter at the plug" },
      h("h3", {}, "Meter at the plug"),
      h("p", { class: "soft small" }, METER_HELP),
      h(
        "table",
        { class: "built-table" },
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ...["Setting", "Expected", "Band", "Read", "Says"].map((text) => h("th", { scope: "col" }, text)),
          ),
        ),
        h("tbody", {}, ...rows.map(({ element }) => element)),
      ),
    ),
    /** Take over what was typed in another window. @param {Record<string, string>} now by setting */
    take(now) {
      for (const { setting, input } of rows) takeOver(input, now[setting] ?? "");
    },
    /** @param {Judged[]} readings */
    update(readings) {
      for (const { setting, input, said } of rows) {
        const one = readings.find((reading) => reading.setting === setting && reading.what === METER);
        // an answer about what stood there before says nothing
        fill(said, one?.value === input.value.trim() ? sideOf(one) : null);
      }
    },
  };
}

/**
 * Put a text into a field, unless it says so already or somebody writes there.
 * @param {HTMLInputElement | HTMLTextAreaElement} field @param {string} text
 */
export function takeOver(field, text) {
  if (field !== document.activeElement && field.value.trim() !== text.trim()) field.value = text;
}

/** What is said of a reading: a sign, a word, how it was understood. @param {Judged} one */
export function sideOf({ side, read, words }) {
  const { sign, word } = SIDES[side];
  const look = {
    within: "ok",
    "too low": "bad",
    "too high": "bad",
    turned: "bad",
    "held to": "soft",
    "not judged": "soft",
    problem: "warn",
    unplanned: "soft",
  }[side];
  return h(
    "span",
    { class: `built-side ${look}`, "data-side": side },
    h("span", { class: "built-sign", "aria-hidden": "true" }, sign),
    h(
      "span",
      {},
      h("b", {}, word),
      read && ` · ${read}`,
      words && h("small", { class: "built-meaning" }, words),
    ),
  );
}
