/** How to play: each string alone, five plucks a file, the same in every position. */

import { h, s } from "../shared/dom.js";

const WIDE = 320,
  TALL = 170;
/** The time line: its left end, its middle, what a second takes. */
const LEFT = 12,
  MIDDLE = 78,
  SECOND = 26;
/** Seconds of damped strings, when each string is plucked, and the end. */
const STILL_S = 1,
  PLUCKS_S = [1, 3, 5, 7, 9],
  END_S = 11;
const LOUD = 30;
/** The table of files: where its rows and columns begin, and the size of a file. */
const FIRST_ROW = 52,
  ROW = 30,
  WORDS = 84,
  CELL = 22;
const MOST_ROWS = 3,
  MOST_COLUMNS = 6;
/** Longest word over a column, letters. */
const LONGEST = 4;
const ORDER = ["1st", "2nd", "3rd", "4th", "5th", "6th"];

/** @param {number} x @param {number} y @param {string} text @param {string} [anchor] */
const label = (x, y, text, anchor = "start") => s("text", { x, y, "text-anchor": anchor }, text);

/** A string that rings: loud, then fading for two seconds. @param {number} at */
function ringing(at) {
  const x = LEFT + SECOND * at;
  const right = x + 2 * SECOND - 3;
  const upper = `Q${x + 12} ${MIDDLE - 4} ${right} ${MIDDLE}`,
    lower = `Q${x + 12} ${MIDDLE + 4} ${x} ${MIDDLE + LOUD}`;
  return s("path", { class: "ring", d: `M${x} ${MIDDLE - LOUD}${upper}${lower}Z` });
}

/** A stretch of time with its length. @param {number} from @param {number} seconds @param {string} text */
function stretch(from, seconds, text) {
  const x = LEFT + SECOND * from,
    y = MIDDLE + LOUD + 10;
  return [
    s("path", { class: "still", d: `M${x} ${y}v8h${SECOND * seconds}v-8` }),
    from ? label(x + (SECOND * seconds) / 2, y + 26, text, "middle") : label(x, y + 26, text),
  ];
}

/** @param {string} words @param {...(Element | null)} inside */
const picture = (words, ...inside) =>
  s(
    "svg",
    {
      class: "rig-drawing plucks-drawing",
      viewBox: `0 0 ${WIDE} ${TALL}`,
      role: "img",
      "aria-label": words,
    },
    ...inside,
  );

/**
 * One file, and how many there are.
 * @param {string[]} settings  in words @param {string[]} strings  in words
 */
export function plucksDrawing(settings, strings) {
  const more = settings.length > MOST_COLUMNS,
    columns = settings.slice(0, more ? MOST_COLUMNS - 1 : MOST_COLUMNS),
    rows = strings.slice(0, MOST_ROWS);
  const step = Math.min(46, (WIDE - WORDS) / MOST_COLUMNS);
  const middle = (/** @type {number} */ k) => WORDS + step * (k + 0.5);
  const short = columns.map((text) => text.replace("Position ", "")),
    heads = short.every((text) => text.length <= LONGEST) ? short : ORDER.slice(0, columns.length);
  const files = settings.length * strings.length;
  return h(
    "div",
    { class: "plucks-drawings" },
    picture(
      "One file: a second of damped strings, then one string is plucked five times, two seconds apart.",
      label(LEFT, 22, "One file: five plucks of one string"),
      s("path", { d: `M${LEFT} ${MIDDLE}H${LEFT + SECOND * END_S}` }),
      ...PLUCKS_S.map(ringing),
      ...stretch(0, STILL_S, "damped, 1 s"),
      ...stretch(5, 2, "2 s"),
    ),
    picture(
      `A file for each of ${strings.length} strings, ${strings.join(", ")}, in each of ${settings.length} settings, ` +
        `${columns.join("; ")}${more ? "; and so on" : ""}: ${files} files.`,
      label(0, 22, `A file for each string and setting: ${files}`),
      ...heads.map((text, k) => label(middle(k), 44, text, "middle")),
      more ? label(middle(columns.length), 44, "…", "middle") : null,
      ...rows.flatMap((text, row) => [
        label(0, FIRST_ROW + ROW * row + 18, text.replace(/ \(.*/, "")),
        ...columns.map((_, k) =>
          s("rect", {
            class: "device",
            x: middle(k) - CELL / 2,
            y: FIRST_ROW + ROW * row,
            width: CELL,
            height: CELL + 4,
            rx: 3,
          }),
        ),
      ]),
      label(0, FIRST_ROW + ROW * rows.length + 20, "One gain and one hand for all of them."),
    ),
  );
}
