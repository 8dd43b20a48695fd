/** Parts as elements: pickups over their strings, controls from behind. */

import { BRIDGE_Y, STRIP_X } from "./columns.js";
import { node, round, short, text } from "./nodes.js";
import { paintSwitch } from "./paint_switch.js";
import { stepper } from "./stepper.js";

/** @import {Item, Lug, Node, Placed, State, WiringFacts} from "./types.js" */
/** @typedef {import("./paint.js").Picture} Picture */

/** Words for coils that are not heard. */
const COIL_WORDS = { shorted: "shorted", hangs: "hangs", coupled: "coupled", heard: "" };
const BOBBIN_LEFT = -90;
const BOBBIN_WIDTH = 148;

/**
 * The strings, to the scale of the pickups' places.
 *
 * @param {WiringFacts} facts @param {Placed} placed @returns {Node | null}
 */
export function paintStrings(facts, placed) {
  const pickups = placed.items.filter((item) => item.shape.type === "pickup");
  const strung = pickups.filter((item) => item.shape.coils?.some((coil) => coil.part.at_mm !== null));
  if (!strung.length) return null;
  const top = Math.min(...strung.map((item) => item.boxes[0][1])) - 46;
  const bottom = Math.max(BRIDGE_Y, ...strung.map((item) => item.boxes[0][3] + 40));
  const found = [
    node("rect", { x: STRIP_X - 90, y: top - 26, width: 148, height: 26, class: "plate", rx: 3 }),
    node("path", { d: `M${STRIP_X - 90} ${top - 5}H${STRIP_X + 58}`, class: "fret" }),
  ];
  for (let k = 0; k < facts.strings; k++) {
    const x = round(STRIP_X + stringX(k, facts.strings));
    const thick = round(2.4 - (1.5 * k) / Math.max(1, facts.strings - 1));
    found.push(
      node("path", { d: `M${x} ${top - 26}V${bottom + 8}`, class: "string", "stroke-width": thick }),
    );
    found.push(node("circle", { cx: x, cy: bottom + 8, r: 3.2, class: "saddle" }));
  }
  const plate = { x: STRIP_X - 90, y: bottom - 4, width: 148, height: 24, rx: 4, class: "plate" };
  found.push(node("rect", plate), text(STRIP_X - 16, bottom + 13, "bridge", "tiny"));
  for (const item of strung) {
    for (const { part, cy } of item.shape.coils ?? []) {
      if (part.at_mm === null) continue;
      found.push(text(item.x - 104, item.y + cy + 4, `${Math.round(part.at_mm)} mm`, "tiny", "end"));
    }
  }
  found.push(text(STRIP_X - 104, bottom + 12, "0 mm", "tiny", "end"));
  return node("g", { class: "neck", "aria-hidden": "true" }, found);
}

/** @param {number} k @param {number} n */
const stringX = (k, n) => -76 + (120 * k) / Math.max(1, n - 1);

/** @param {Picture} picture @param {Item} item @returns {Node} */
export function paintPart(picture, item) {
  if (item.members) return gang(picture, item.members);
  const level = picture.state?.parts[item.key] ?? 0;
  const classes = `part ${item.shape.type} level-${picture.mode === "sound" ? level : 0}`;
  return node(
    "g",
    { class: classes, "data-drawn": item.shape.type === "bus" ? null : item.key },
    node("g", { transform: `translate(${item.x} ${item.y})` }, body(picture, item)),
  );
}

/**
 * Controls on one shaft, and the shaft.
 *
 * @param {Picture} picture @param {Item[]} members @returns {Node}
 */
function gang(picture, members) {
  const ys = members.map(({ y }) => y);
  const [top, bottom] = [Math.min(...ys), Math.max(...ys)];
  const band = { x: members[0].x - 12, y: top, width: 24, height: bottom - top, class: "shaft-band" };
  return node(
    "g",
    { class: "gang" },
    node("rect", band),
    members.map((member) => paintPart(picture, member)),
  );
}

/** @param {Picture} picture @param {Item} item @returns {(Node | null)[]} */
function body(picture, item) {
  switch (item.shape.type) {
    case "pickup":
      return pickup(picture, item);
    case "pot":
      return pot(picture, item);
    case "jack":
      return jack(item);
    case "switch":
      return paintSwitch(picture, item);
    case "capacitor":
    case "resistor":
    case "inductor":
      return leg(item);
    case "bus":
      return bus(item);
    default:
      return block(picture, item);
  }
}

/** @param {Item} item @param {...(Node | null)} nodes */
const turned = (item, ...nodes) =>
  node("g", { transform: item.turn ? `rotate(${90 * item.turn})` : null }, nodes);

/** @param {Picture} picture @param {Item} item */
function pickup(picture, item) {
  const half = Number(item.shape.half);
  const coils = item.shape.coils ?? [];
  const found = [node("rect", { x: -96, y: -half, width: 212, height: 2 * half, rx: 10, class: "housing" })];
  for (const { part, cy } of coils) {
    const state = picture.mode === "sound" ? (picture.state?.coils[part.name] ?? "") : "";
    const tall = coils.length > 1 ? 20 : 22;
    const box = { x: BOBBIN_LEFT, y: cy - tall, width: BOBBIN_WIDTH, height: 2 * tall };
    const mark = state ? COIL_WORDS[/** @type {keyof typeof COIL_WORDS} */ (state)] : "";
    const poles = Array.from({ length: picture.facts.strings }, (_, k) =>
      node("circle", {
        cx: round(stringX(k, picture.facts.strings)),
        cy: cy - 8,
        r: picture.facts.strings > 8 ? 3 : 4,
        class: "pole",
      }),
    );
    const lugs = item.shape.lugs.filter((lug) => lug.terminal.startsWith(`${part.name}.`));
    found.push(
      node(
        "g",
        { class: `coil ${state}`, "data-drawn": part.name },
        node("title", {}, [part.name, part.value, mark].filter(Boolean).join(", ")),
        node("rect", { ...box, rx: 8, class: "bobbin" }),
        state === "shorted" ? node("path", { d: hatch(box), class: "hatch" }) : null,
        poles,
        text(-84, cy + 14, short(part.name, mark ? 10 : 11), "name small", "start"),
        text(53, cy + 14, mark || part.value, mark ? "state" : "value", "end"),
        lugs.map((lug) => text(104, lug.y + 4, lug.name, "tiny", "end")),
      ),
    );
  }
  return found;
}

/** Slanting lines over a box. @param {{x: number, y: number, width: number, height: number}} box */
function hatch({ x, y, width, height }) {
  let path = "";
  for (let k = 8; k < width + height; k += 9) {
    const [x0, y0] = k < height ? [x, y + k] : [x + k - height, y + height];
    const [x1, y1] = k < width ? [x + k, y] : [x + width, y + k - width];
    path += `M${x0} ${y0}L${x1} ${y1}`;
  }
  return path;
}

/** Where a knob stands if nothing is said. */
const TOP = 10;

/** The needle of a knob, as a transform. @param {number} value 0 to 10 */
export const needleTurn = (value) => `rotate(${round(-120 + 24 * value)})`;

/** @param {Picture} picture @param {Item} item */
function pot(picture, item) {
  const { name, value } = item.part;
  const { knobs } = picture;
  const needle = knobs && item.part.knob ? needleTurn(knobs[item.part.knob] ?? TOP) : null;
  return [
    title(item),
    turned(
      item,
      node("path", { d: "M-40 18L-38 52H38L40 18Z", class: "wafer" }),
      node("circle", { r: 44, class: "casing" }),
      node("circle", { r: 37, class: "rim" }),
    ),
    needle ? node("path", { d: "M0 -36V-47", class: "needle", transform: needle }) : null,
    text(0, item.turn ? 2 : -2, short(name, 12), name.length > 10 ? "name small" : "name"),
    text(0, item.turn ? 17 : 14, value, "value"),
  ];
}

/** @param {Item} item */
function jack(item) {
  const half = Math.max(36, -item.shape.boxes[0][1] - 4);
  const box = { x: -36, y: -half, width: 72, height: 2 * half, rx: 12, class: "casing" };
  const lugs = item.shape.lugs.map((lug) => jackLug(item, lug));
  return [
    title(item),
    turned(
      item,
      node("rect", box),
      node("circle", { r: 22, class: "rim" }),
      node("circle", { r: 9, class: "hole" }),
      node("path", { d: "M44 0H78M70 -7L79 0L70 7", class: "cable" }),
    ),
    text(0, half + 18, short(item.part.name, 14), "name"),
    ...lugs,
  ];
}

/** @param {Item} item @param {Lug} lug */
function jackLug(item, lug) {
  const placed = item.lugs.find((one) => one.terminal === lug.terminal) ?? lug;
  const back = item.turn === 2;
  const [x, y] = [placed.x - item.x + (back ? -12 : 12), placed.y - item.y];
  return text(x, y + (lug.y < 0 ? -4 : 12), lug.name, "tiny", back ? "end" : "start");
}

const CANS = {
  capacitor: [node("rect", { x: -26, y: -14, width: 52, height: 28, rx: 9, class: "can" })],
  resistor: [
    node("path", {
      d: "M-26 -8Q-26 -10 -23 -10H-17L-13 -7H13L17 -10H23Q26 -10 26 -8V8Q26 10 23 10H17L13 7H-13L-17 10H-23Q-26 10 -26 8Z",
      class: "can",
    }),
  ],
  inductor: [
    node("rect", { x: -28, y: -13, width: 56, height: 26, rx: 3, class: "can" }),
    node("path", { d: "M-20 -13V13M-12 -13V13M-4 -13V13M4 -13V13M12 -13V13M20 -13V13", class: "turns" }),
  ],
};

/** @param {Item} item */
function leg(item) {
  const kind = /** @type {keyof typeof CANS} */ (item.shape.type);
  const { name, value } = item.part;
  const words =
    item.turn % 2
      ? [text(20, -2, short(name, 14), "name small", "start"), text(20, 12, value, "value", "start")]
      : [text(0, 30, short(name, 16), "name small"), text(0, kind === "resistor" ? -16 : 4, value, "value")];
  return [title(item), turned(item, node("path", { d: "M-40 0H40", class: "leg" }), ...CANS[kind]), ...words];
}

/** The bare wire that collects the grounds. @param {Item} item */
function bus(item) {
  const [left, , right] = item.boxes[0];
  return [
    node("path", { d: `M${left - item.x} 0H${right - item.x}`, class: "bus-wire" }),
    text(left - item.x, 22, "bare wire that collects the grounds", "tiny", "start"),
  ];
}

/** @param {Picture} picture @param {Item} item */
function block(picture, item) {
  const [left, top, right, bottom] = item.shape.boxes[0];
  const isSketch = item.part.kind === "sketch";
  const position = picture.stands?.[item.key];
  const sound = isSketch && position ? item.part.sounds[position] : "";
  const heads = { group: "soldered group", metal: item.part.value, transformer: "transformer" };
  const about = isSketch
    ? "to be designed"
    : (heads[/** @type {keyof typeof heads} */ (item.part.kind)] ?? "");
  const lines = isSketch ? sketchLines(picture, item, sound) : [];
  return [
    title(item),
    turned(
      item,
      node("rect", {
        x: left,
        y: top,
        width: right - left,
        height: bottom - top,
        rx: 8,
        class: isSketch ? "deck open" : "deck",
      }),
    ),
    text(0, top + 18, short(item.part.name, 16), "name small"),
    // a piece of metal has the names of its lugs in between
    text(0, isSketch ? top + 33 : bottom - 8, short(about, 24), "tiny"),
    ...lines,
  ];
}

/**
 * The expression of the position that plays, or of every one.
 *
 * @param {Picture} picture @param {Item} item @param {string} sound
 */
function sketchLines(picture, item, sound) {
  const bottom = item.shape.boxes[0][3];
  const position = picture.stands?.[item.key];
  if (!position) return [];
  const width = Math.floor((item.shape.boxes[0][2] - 10) / 4.2);
  return [
    text(0, bottom - 32, short(sound, width), "value"),
    ...stepper(picture, item, position, bottom - 10),
  ];
}

/** @param {Item} item */
const title = ({ part }) => node("title", {}, [part.name, part.value].filter(Boolean).join(", "));
