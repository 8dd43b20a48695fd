/** What was found of a coil: values with intervals, what was not seen, the curve over the fit. */

import { fill, h, s, say } from "../shared/dom.js";
import { impedanceText, layOutImpedance, TALL, WIDE } from "./plot.js";
import { reasonOf } from "../shared/file_place.js";
import { couplingText, orderText, VALUES, withinText } from "./words.js";
import { plainName } from "../shared/words.js";

/** @import {Result} from "./api.js" */

/**
 * @param {{part: string, name: string, take: (result: Result) => Promise<void>, keep: (name: string) =>
 *   Promise<string[]>}} of  keep: returns the names under which the coils are kept
 */
export function resultView({ part, name, take, keep }) {
  /** @type {Result | null} */
  let now = null;
  const title = h("h3", { tabindex: -1 }, "What was found");
  const values = h("tbody", {});
  const order = h("p", { class: "soft small" });
  const notes = h("ul", { class: "warn small" });
  const picture = h("div", { class: "impedance-frame" });
  const problem = h("p", { class: "problem", role: "alert" }),
    said = h("p", { class: "small", role: "status" });
  /** @param {() => Promise<unknown>} act */
  const trying = async (act) => {
    say(problem, "");
    say(said, "");
    await act().catch((error) => say(problem, reasonOf(error)));
  };
  const naming = h("input", {
    type: "text",
    value: name,
    maxlength: 60,
    required: true,
    spellcheck: "false",
  });
  const element = h(
    "section",
    { class: "measure-result", "aria-label": "What was found" },
    title,
    h(
      "table",
      { class: "measure-values" },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          ...["", "value", "95 % of the time within"].map((text) => h("th", { scope: "col" }, text)),
        ),
      ),
      values,
    ),
    order,
    notes,
    picture,
    h(
      "div",
      { class: "actions" },
      h(
        "form",
        {
          class: "row",
          onsubmit: (/** @type {Event} */ event) => {
            event.preventDefault();
            const kept = naming.value.trim();
            trying(async () => {
              const names = await keep(kept);
              const are = names.length === 1 ? "is" : "are";
              say(
                said,
                `${names.join(" and ")} ${are} among your coils. In a wiring file “like: ${kept}” takes it.`,
              );
            });
          },
        },
        h("label", { class: "row small" }, h("span", {}, "Name"), naming),
        h("button", {}, "Keep in my coils"),
      ),
      h(
        "button",
        { type: "button", class: "main", onclick: () => now && trying(take.bind(null, now)) },
        "Take these values",
      ),
    ),
    said,
    problem,
  );
  return {
    element,
    title,
    /** @param {Result | null} next */
    update(next) {
      now = next;
      element.hidden = !next;
      if (!next) return;
      const { fields, record, curve, model } = next;
      fill(
        values,
        next.second && nameRow(plainName(part)),
        ...VALUES.map(({ key, field, title: about }) =>
          row(
            about,
            fields[field],
            record.intervals[key] ? withinText(record[key], record.intervals[key]) : "",
          ),
        ),
        ...fields.eddy.map(({ share, corner }, k) =>
          row(
            `Eddy loss ${k + 1}`,
            `${share} from ${corner}`,
            record.intervals[`eddy.${k}.share`]
              ? withinText(record.eddy[k].share, record.intervals[`eddy.${k}.share`])
              : "",
          ),
        ),
      );
      if (next.second && next.interval) {
        const other = next.second;
        values.append(
          nameRow(plainName(other.part)),
          ...VALUES.map(({ field, title: about }) => row(about, other.fields[field], "")),
          ...other.fields.eddy.map(({ share, corner }, k) =>
            row(`Eddy loss ${k + 1}`, `${share} from ${corner}`, ""),
          ),
          row("Coupling of both", couplingText(next.coefficient ?? 0, next.interval), ""),
        );
      }
      say(order, orderText(record));
      fill(notes, ...record.notes.map((text) => h("li", {}, text)));
      notes.hidden = record.notes.length === 0;
      fill(picture, impedancePlot(next), legend(!!curve, !!next.second));
      picture.firstElementChild?.setAttribute("aria-label", impedanceText(model));
    },
  };
}

/** Whose values follow. @param {string} name */
const nameRow = (name) => h("tr", { class: "coil-name" }, h("th", { scope: "row", colspan: 3 }, name));

/** @param {string} about @param {string} value @param {string} within */
const row = (about, value, within) =>
  h("tr", {}, h("th", { scope: "row" }, about), h("td", {}, value), h("td", {}, within));

/** @param {boolean} read @param {boolean} both */
const legend = (read, both) =>
  h(
    "p",
    { class: "soft small" },
    (both ? "Both coils in series. " : "") +
      (read
        ? "Dots: what was read. Line: what the values give. Above the size, below the phase."
        : "What the values give: above the size, below the phase."),
  );

/** @param {Result} result */
function impedancePlot({ curve, model }) {
  const { lines, texts, size, phase } = layOutImpedance(curve, model);
  return s(
    "svg",
    { class: "impedance", viewBox: `0 0 ${WIDE} ${TALL}`, role: "img" },
    ...lines.map((ends) => s("line", { class: "grid", ...ends })),
    ...texts.map(({ x, y, anchor, text }) => s("text", { x, y, "text-anchor": anchor }, text)),
    ...[size, phase].flatMap(({ path, dots }) => [
      ...dots.map((place) => s("circle", { class: "read", r: 3.6, ...place })),
      s("path", { class: "fitted", d: path }),
    ]),
  );
}
