/** The finished guitar under an exciter: coil by coil, a level or a recording for each setting. */

import { fill, h, say } from "../shared/dom.js";
import { reasonOf } from "../shared/file_place.js";
import { toneUrl } from "../shared/recordings.js";
import { plainName } from "../shared/words.js";
import { exciterDrawing } from "./exciter_drawing.js";
import { sideOf, takeOver } from "./meter_table.js";
import { BLADE_HELP, EXCITER_HELP, settingText } from "./words.js";

/** @import {ExcitedCoil, ExcitedPoint, Fields, JackReadings, Judged, Plan} from "./api.js" */

/** Of the tone as a file. */
const RATE_HZ = 48_000,
  TONE_S = 10;
const HEADS = ["Setting", "Expected", "Band", "Read", "Says"];

/**
 * @param {object} of
 * @param {Plan} of.plan
 * @param {Fields} of.fields  as typed
 * @param {(change: Partial<Fields>) => void} of.type
 * @param {(setting: string, coil: string, file: File) => Promise<void>} of.bring  a recording
 */
export function exciterPart({ plan, fields, type, bring }) {
  const { parts, steps, coils } = plan.exciter;
  const named = new Map(plan.settings.map((one) => [one.setting, one]));
  const sides = h("input", {
    type: "checkbox",
    checked: fields.sides_kept,
    onchange: () => type({ sides_kept: sides.checked }),
  });
  /** @type {{what: string, setting: string, input: HTMLInputElement | HTMLSelectElement}[]} */
  const inputs = [];
  /** @type {{coil: string, setting: string, said: HTMLElement}[]} */
  const saids = [];
  /** What is expected of a level; a reading says by which band it is judged.
   * @type {{point: ExcitedPoint, setting: string, expected: HTMLElement, band: HTMLElement}[]} */
  const bands = [];
  /** @param {string} what @param {string} setting */
  const valueOf = (what, setting) => fields.excited[what]?.[setting] ?? "";

  /** @param {ExcitedCoil} one */
  function coilPart({ coil, typed, settings, blade }) {
    const rows = settings.map(({ setting, points }) => {
      const point = points.find(({ what }) => what === typed) ?? points[0];
      const place = named.get(setting);
      const words = place ? settingText(place) : setting;
      const said = h("td", { class: "built-said" });
      const problem = h("p", { class: "problem small", role: "alert" });
      const input = h("input", {
        type: "text",
        value: valueOf(typed, setting),
        maxlength: 40,
        autocomplete: "off",
        spellcheck: "false",
        placeholder: "+ -40 dB",
        "aria-label": `Exciter over ${plainName(coil)}, ${words}`,
        oninput: () => {
          fill(said);
          // what a recording read at other frequencies does not belong to what is typed
          const others = points.map(({ what }) => [what, { [setting]: "" }]);
          type({ excited: { ...Object.fromEntries(others), [typed]: { [setting]: input.value.trim() } } });
        },
      });
      inputs.push({ what: typed, setting, input });
      saids.push({ coil, setting, said });
      const expected = h("td", { "data-head": "Expected" }, point.expected);
      const band = h("td", { "data-head": "Band" }, bandText(point));
      bands.push({ point, setting, expected, band });
      const picker = h("input", {
        type: "file",
        accept: "audio/*,.wav,.flac,.aiff,.aif",
        hidden: true,
        "aria-label": `Recording of the exciter over ${plainName(coil)}, ${words}`,
        onchange: async () => {
          const [file] = picker.files ?? [];
          picker.value = "";
          if (!file) return;
          say(problem, "");
          choose.disabled = true;
          try {
            await bring(setting, coil, file);
          } catch (error) {
            say(problem, reasonOf(error));
          } finally {
            choose.disabled = false;
          }
        },
      });
      const choose = h("button", { type: "button", onclick: () => picker.click() }, "Recording");
      choose.setAttribute("aria-label", `Choose a recording: exciter over ${plainName(coil)}, ${words}`);
      return h(
        "tr",
        {},
        h("th", { scope: "row" }, words, place?.label && h("small", { class: "soft" }, place.label)),
        expected,
        band,
        h("td", {}, h("div", { class: "built-level" }, input, choose, picker), problem),
        said,
      );
    });
    const pulses = blade.map(({ setting, what, expected }) => {
      const place = named.get(setting);
      const words = place ? settingText(place) : setting;
      const said = h("td", { class: "built-said" });
      const input = h(
        "select",
        {
          "aria-label": `Blade over ${plainName(coil)}, ${words}`,
          onchange: () => {
            fill(said);
            type({ excited: { [what]: { [setting]: input.value } } });
          },
        },
        h("option", { value: "" }, "not read"),
        h("option", { value: "+" }, "+, first up"),
        h("option", { value: "-" }, "-, first down"),
      );
      input.value = valueOf(what, setting);
      inputs.push({ what, setting, input });
      saids.push({ coil: what, setting, said });
      return h(
        "tr",
        {},
        h("th", { scope: "row" }, "Blade pulled away", h("small", { class: "soft" }, words)),
        h("td", { "data-head": "Expected" }, expected),
        h("td", { "data-head": "Band" }, "–"),
        h("td", {}, input),
        said,
      );
    });
    return h(
      "section",
      { class: "built-meter", "aria-label": `Exciter over ${plainName(coil)}` },
      h("h4", {}, plainName(coil)),
      h(
        "table",
        { class: "built-table" },
        h("thead", {}, h("tr", {}, ...HEADS.map((text) => h("th", { scope: "col" }, text)))),
        h("tbody", {}, ...rows, ...pulses),
      ),
    );
  }

  const element = h(
    "details",
    { class: "built-rig built-exciter" },
    h("summary", {}, "Under an exciter: how coils are wound and joined"),
    h("p", { class: "soft small" }, EXCITER_HELP),
    h(
      "div",
      { class: "rig-frame", tabindex: 0, role: "group", "aria-label": "The exciter drawn" },
      exciterDrawing(),
    ),
    h(
      "details",
      {},
      h("summary", {}, "What you need, step by step"),
      h("ul", { class: "small built-steps" }, ...parts.map((text) => h("li", {}, text))),
      h("ol", { class: "small built-steps" }, ...steps.map((text) => h("li", {}, text))),
      h(
        "p",
        { class: "small" },
        h(
          "a",
          { href: toneUrl(RATE_HZ, TONE_S), download: `tone-${RATE_HZ}.wav` },
          "The rig's tone as a file",
        ),
        ", 48 kHz. Turn headphones and loudspeakers down before you play it.",
      ),
    ),
    h("label", { class: "row" }, sides, h("span", {}, "The same side of the exciter faced every coil")),
    h("p", { class: "soft small" }, BLADE_HELP),
    ...coils.map(coilPart),
  );
  return {
    element,
    /** Take over what was typed in another window, or what a recording read. @param {Fields} now */
    take(now) {
      fields = now;
      sides.checked = now.sides_kept;
      for (const { what, setting, input } of inputs) {
        if (input instanceof HTMLInputElement) takeOver(input, valueOf(what, setting));
        else if (input !== document.activeElement) input.value = valueOf(what, setting);
      }
    },
    /** @param {JackReadings} now */
    update({ judged, fields: kept }) {
      for (const { coil, setting, said } of saids) {
        const of = (judged?.readings ?? []).filter(
          (one) =>
            one.setting === setting && (one.what === coil || one.what.startsWith(`exciter ${coil} at `)),
        );
        // an answer about what stood there before says nothing
        const asTyped = of.every((one) => inputs.every((each) => isOf(one, each)));
        fill(said, ...(asTyped ? of.map((one) => saidOf(one, of.length > 1)) : []));
      }
      for (const { point, setting, expected, band } of bands) {
        const one = judged?.readings.find((each) => each.setting === setting && each.what === point.what);
        const shown = one?.expected ? one : point;
        say(expected, shown.expected);
        say(band, bandText(shown));
      }
      if (Object.keys(kept.excited).length) element.open = true;
    },
  };
}

/** @param {{band: string}} of */
const bandText = ({ band }) => band || "–";

/**
 * Whether a judged reading is not one of a field, or says what stands there.
 * @param {Judged} one @param {{what: string, setting: string, input: {value: string}}} field
 */
const isOf = (one, { what, setting, input }) =>
  one.what !== what || one.setting !== setting || one.value === input.value.trim();

/** @param {Judged} one @param {boolean} several */
const saidOf = (one, several) =>
  h("div", {}, several && h("small", { class: "soft" }, `${one.what.split(" at ").at(-1)} `), sideOf(one));
