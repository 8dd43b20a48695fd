/** What was found of coils: dots with their intervals, polarity, what was not told. */

import { fill, h, s, say } from "../shared/dom.js";
import { reasonOf } from "../shared/file_place.js";
import { linear } from "../shared/plot.js";
import { plainName } from "../shared/words.js";
import {
  changeText,
  goneText,
  lonelyText,
  plainNotes,
  polarityText,
  sensitivityText,
  sinceFound,
  sinceText,
  stringText,
  takeText,
} from "./sensitivity_words.js";

/** @import {Scale} from "../shared/plot.js" */
/** @import {Plan, Result} from "./sensitivity_api.js" */

const WIDE = 240,
  TALL = 26,
  EDGE = 10,
  STEP_DB = 3,
  LEAST_DB = 6;

/**
 * The levels that every picture of a result shows: to either side as far as the widest interval.
 * @param {Result} result
 */
export function levelsOf({ coils }) {
  const ends = coils
    .flatMap((coil) => [coil, ...coil.balance])
    .map(({ change_db: db, within_db: within }) => (db === null ? 0 : Math.abs(db) + within));
  const far = Math.ceil(Math.max(LEAST_DB, ...ends) / STEP_DB) * STEP_DB;
  return { far, x: linear([-far, far], [EDGE, WIDE - EDGE]) };
}

/** @param {...Element} inside */
const strip = (...inside) =>
  s("svg", { class: "sensed-strip", viewBox: `0 0 ${WIDE} ${TALL}`, "aria-hidden": "true" }, ...inside);

/**
 * A dot with its interval, or nothing.
 * @param {Scale} x @param {{change_db: number | null, within_db: number}} found @param {boolean} small
 */
function dot(x, { change_db: db, within_db: within }, small) {
  if (db === null) return null;
  const zero = s("path", { class: "grid", d: `M${x.to(0)} 0V${TALL}` });
  const y = TALL / 2;
  return strip(
    zero,
    s("path", { class: "interval", d: `M${x.to(db - within)} ${y}H${x.to(db + within)}` }),
    s("circle", { class: "value", cx: x.to(db), cy: y, r: small ? 3.5 : 5.5 }),
  );
}

/** The ends of the pictures below, and their middle. @param {number} far */
const axis = (far) =>
  h(
    "div",
    { class: "sensed-axis", "aria-hidden": "true" },
    h("span", {}, `−${far} dB`),
    h("span", {}, "as wired"),
    h("span", {}, `+${far} dB`),
  );

/** @param {{plan: () => Plan, take: (result: Result) => Promise<void>}} of */
export function resultView({ plan, take }) {
  /** @type {Result | null} */
  let now = null;
  const title = h("h3", { tabindex: -1 }, "What was found");
  const stale = h("p", { class: "warn", role: "status" });
  const table = h("table", { class: "sensed", role: "table" });
  const pairs = h("ul", { class: "small" }),
    open = h("ul", { class: "small" });
  const notes = h("div", {});
  const about = h("p", { class: "small" });
  const problem = h("p", { class: "problem", role: "alert" });
  const button = h(
    "button",
    {
      type: "button",
      class: "main",
      onclick: async () => {
        if (!now) return;
        say(problem, "");
        await take(now).catch((error) => say(problem, reasonOf(error)));
      },
    },
    "Take these values",
  );
  const element = h(
    "section",
    { class: "measure-result sensed-result", "aria-label": "What was found", hidden: true },
    title,
    stale,
    table,
    h("h4", {}, "Polarity"),
    pairs,
    open,
    notes,
    about,
    h("div", { class: "actions" }, button),
    problem,
  );
  return {
    element,
    title,
    /** @param {Result | null} next */
    update(next) {
      now = next;
      element.hidden = !next;
      say(problem, "");
      if (!next) return;
      const { strings } = plan(),
        since = sinceFound(next, plan());
      const levels = levelsOf(next);
      /** @param {string} name @param {Element | null} picture @param {string} text @param {string} [more] */
      const row = (name, picture, text, more) =>
        h(
          "tr",
          { class: more === undefined ? "sensed-string" : "sensed-coil", role: "row" },
          h("th", { scope: "row", role: "rowheader" }, name),
          h("td", { role: "cell" }, text, more ? h("span", { class: "soft small" }, more) : null),
          h("td", { class: "sensed-picture", role: "cell" }, picture),
        );
      fill(
        table,
        h("caption", { class: "small soft" }, captionText(next.reference, since ? "said" : "says")),
        h(
          "thead",
          { role: "rowgroup" },
          h(
            "tr",
            { class: "sensed-head", role: "row" },
            h("th", { scope: "col", role: "columnheader" }, "Coil"),
            h("th", { scope: "col", role: "columnheader" }, "Louder by"),
            h("td", { class: "sensed-picture", role: "cell" }, axis(levels.far)),
          ),
        ),
        h(
          "tbody",
          { role: "rowgroup" },
          ...next.coils.flatMap((coil) => [
            row(
              plainName(coil.coil),
              dot(levels.x, coil, false),
              coil.told ? changeText(coil) : `not told: ${coil.reason}`,
              sensitivityText(coil),
            ),
            ...(coil.told && coil.balance.length > 1 ? coil.balance : []).map((one) =>
              row(stringText(one.string, strings), dot(levels.x, one, true), changeText(one)),
            ),
          ]),
        ),
      );
      say(stale, sinceText(since));
      fill(
        pairs,
        ...next.polarities.map((one) =>
          h("li", { class: one.heard && one.heard !== one.wired ? "warn" : undefined }, polarityText(one)),
        ),
      );
      if (!next.polarities.length) fill(pairs, h("li", {}, "No two coils sounded together."));
      const lonely = [...lonelyText(next, strings), ...goneText(next, strings)];
      open.hidden = !lonely.length;
      fill(open, ...lonely.map((text) => h("li", {}, text)));
      fill(notes, ...plainNotes(next).map((text) => h("p", { class: "soft small" }, text)));
      say(about, takeText(next));
      button.disabled = since !== "" || !Object.keys(next.take).length;
    },
  };
}

/** @param {string} reference @param {"says" | "said"} says */
const captionText = (reference, says) =>
  `How much louder than the wiring ${says} each coil hears the strings, against ${plainName(reference)}. ` +
  "Below a coil, how each string stands to the mean of its strings. The bars hold 95 %.";
