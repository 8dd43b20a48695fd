/** How loud each string is in a coil: a bar for every string, and the same in words. */

import { fixed } from "../shared/units.js";
import { fill, h, s } from "../shared/dom.js";

/** @typedef {{note: string, level_db: number}} StringLevel  re the coil's loudest string */

const WIDE = 18,
  GAP = 6,
  TALL = 64,
  FOOT = 14,
  /** The height stands for so many decibels; softer strings get the least bar. */
  SPAN_DB = 24,
  LEAST = 2;

/** @param {number} level dB re the loudest */
const tallOf = (level) => Math.max(LEAST, TALL * (1 + level / SPAN_DB));

/** The levels as a sentence. @param {StringLevel[]} strings lowest first */
export function balanceInWords(strings) {
  const loudest = strings.findIndex(({ level_db: level }) => level === 0);
  const others = strings
    .map(({ note, level_db: level }, k) => (k === loudest ? "" : `${note} ${fixed(level)} dB`))
    .filter(Boolean);
  return `${strings[loudest]?.note ?? "No string"} is the loudest; re it: ${others.join(", ")}.`;
}

/** @returns {{element: HTMLElement, update: (strings: StringLevel[]) => void}} */
export function balanceView() {
  const picture = s("svg", { class: "balance", role: "img" });
  const words = h("p", { class: "small soft" });
  const element = h(
    "figure",
    { class: "balance-figure", hidden: true },
    h("figcaption", { class: "small" }, "Strings, plucked alike over level poles"),
    picture,
    words,
  );
  return {
    element,
    update(strings) {
      element.hidden = strings.length < 2;
      if (element.hidden) return;
      const text = balanceInWords(strings);
      if (picture.getAttribute("aria-label") === text) return;
      const wide = strings.length * (WIDE + GAP);
      picture.setAttribute("viewBox", `0 0 ${wide} ${TALL + FOOT}`);
      picture.setAttribute("width", String(wide));
      picture.setAttribute("height", String(TALL + FOOT));
      picture.setAttribute("aria-label", text);
      fill(
        picture,
        ...strings.flatMap(({ note, level_db: level }, k) => {
          const x = k * (WIDE + GAP) + GAP / 2,
            tall = tallOf(level);
          return [
            s("rect", { class: "balance-bar", x, y: TALL - tall, width: WIDE, height: tall }),
            s(
              "text",
              { class: "balance-note", x: x + WIDE / 2, y: TALL + FOOT - 3, "text-anchor": "middle" },
              note,
            ),
          ];
        }),
      );
      fill(words, text);
    },
  };
}
