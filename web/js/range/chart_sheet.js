/** A lug chart to work from: drawing, positions, steps, joints, parts, cautions. Print it or save it. */

import * as api from "./api.js";
import { counted } from "../shared/words.js";
import { h } from "../shared/dom.js";

/** @import {Chart} from "./words.js" */

/**
 * @param {string} id of the search @param {Chart} chart
 * @param {{keep: (as: "wiring" | "version") => void, busy: boolean}} ways
 */
export function sheetView(id, chart, { keep, busy }) {
  const {
    title,
    rows,
    steps,
    joints,
    needed,
    transit,
    checks,
    cautions,
    poles_proved: poles,
    wires_proved: wires,
  } = chart;
  const proof = wires
    ? "Proved: no chart has fewer poles, or as many poles and fewer wires."
    : poles
      ? "Proved: no chart has fewer poles. Fewer wires may be possible."
      : busy
        ? "Not proved yet: the search continues."
        : "The best found in this time.";
  // a new address for every chart, so that the browser shows no old one
  const file = (/** @type {"drawing.svg" | "chart.txt" | "wiring.yaml"} */ name) =>
    `${api.chartFileAddress(id, name)}?${chart.poles}-${chart.wires}-${chart.final ? 1 : 0}`;
  /** @param {"drawing.svg" | "chart.txt" | "wiring.yaml"} name @param {string} words */
  const link = (name, words) =>
    h(
      "a",
      {
        class: "button",
        href: file(name),
        download: `lug-chart-${chart.switch.replaceAll(/\W+/g, "-")}.${name.split(".")[1]}`,
      },
      words,
    );
  const noted = rows.some(({ note }) => note),
    labelled = rows.some(({ label }) => label);
  const kinds = [...new Set(steps.map(({ kind }) => kind))];
  return h(
    "article",
    { class: "chart-sheet", "aria-label": `Lug chart of ${title}` },
    h(
      "div",
      { class: "row no-print" },
      h("button", { type: "button", class: "main", onclick: () => keep("wiring") }, "Save as a new wiring"),
      h("button", { type: "button", onclick: () => keep("version") }, "Save as the next version"),
      h("button", { type: "button", onclick: () => window.print() }, "Print"),
      link("drawing.svg", "Drawing"),
      link("chart.txt", "Text"),
      link("wiring.yaml", "Wiring file"),
    ),
    h("h3", {}, title),
    h(
      "p",
      {},
      `${chart.about}: ${counted(chart.poles, "pole")}, ${counted(chart.lugs, "lug")} and ${counted(chart.wires, "wire")}. ${proof}`,
    ),
    h("ul", { class: "small checks" }, ...checks.map((line) => h("li", {}, line))),
    h(
      "div",
      { class: "scroller", tabindex: 0, role: "region", "aria-label": "Positions" },
      h(
        "table",
        { class: "left" },
        h("caption", {}, "Positions (meter at the jack, cable out, every knob at 10)"),
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ...["Position", ...(labelled ? ["Label"] : []), "Sound", "Meter", ...(noted ? ["Note"] : [])].map(
              (text) => h("th", { scope: "col" }, text),
            ),
          ),
        ),
        h(
          "tbody",
          {},
          ...rows.map(({ position, sound, reading, note, label }) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, position),
              labelled && h("td", {}, label),
              h("td", {}, sound),
              h("td", {}, reading),
              noted && h("td", {}, note),
            ),
          ),
        ),
      ),
    ),
    h(
      "aside",
      { class: "care", "aria-label": "Care" },
      h("h4", {}, "Before you solder"),
      h("ul", { class: "small" }, ...cautions.map((line) => h("li", {}, line))),
    ),
    h("h4", {}, "Steps"),
    ...kinds.map((kind) =>
      h(
        "div",
        {},
        h("h5", {}, kind),
        h(
          "ol",
          { class: "steps" },
          ...steps
            .filter((step) => step.kind === kind)
            .map(({ number, text }) => h("li", { value: number }, text)),
        ),
      ),
    ),
    h(
      "div",
      { class: "chart-lists" },
      h(
        "div",
        {},
        h("h4", {}, "Joints"),
        h(
          "ul",
          { class: "small" },
          ...joints.map(({ net, terminals }) => h("li", {}, h("b", {}, net), `: ${terminals.join(", ")}`)),
        ),
      ),
      h(
        "div",
        {},
        h("h4", {}, "Needed"),
        h(
          "ul",
          { class: "small" },
          ...needed.map(([what, count]) => h("li", {}, `${count} × ${what.replaceAll("_", " ")}`)),
        ),
        h("h4", {}, "Between positions"),
        h("ul", { class: "small" }, ...transit.map((line) => h("li", {}, line))),
      ),
    ),
    h(
      "figure",
      { class: "chart-drawing scroller", tabindex: 0, role: "region", "aria-label": "Drawing" },
      h("img", {
        src: file("drawing.svg"),
        alt: `Drawing of the chart: a row for each lug and lead, a rail for each joint, a column for each position. The lists above say the same in words.`,
      }),
    ),
  );
}
