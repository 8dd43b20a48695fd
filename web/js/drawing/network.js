/**
 * The small network of a sound: what lies between hot and ground, and how. Current runs from left (hot) to
 * right (ground): members in series stand in a row, members in parallel on rungs of a ladder.
 */

import { node, round, short, text } from "./nodes.js";

/** @import {JoinedNetwork, Network, NetworkPart, Node} from "./types.js" */

/** @typedef {{left: number, right: number}} Ends */

const PART = { width: 62, height: 34 },
  GAP = 14,
  RAIL = 10,
  END = 24,
  MARGIN = 4;
/** Half of a symbol. */
const HALF = 19;
const LONGEST_NAME = 11;

/** @param {Network} one @returns {one is JoinedNetwork} */
const isJoined = (one) => one.kind === "series" || one.kind === "parallel";

/** The room that a network takes. @param {Network} network @returns {{width: number, height: number}} */
function sizeOf(network) {
  if (!isJoined(network)) return { width: PART.width, height: PART.height };
  const sizes = network.members.map(sizeOf);
  const widths = sizes.map(({ width }) => width),
    heights = sizes.map(({ height }) => height);
  if (network.kind === "series")
    return { width: sum(widths) + GAP * (widths.length - 1), height: Math.max(...heights) };
  return { width: Math.max(...widths) + 2 * RAIL, height: sum(heights) };
}

/** @param {number[]} values */
const sum = (values) => values.reduce((a, b) => a + b, 0);

/**
 * Draw a network.
 *
 * @param {Network} network
 * @param {{named?: boolean}} [options] named: write the names of the parts under their symbols
 * @returns {{width: number, height: number, node: Node}}
 */
export function drawNetwork(network, { named = true } = {}) {
  const size = sizeOf(network);
  const [width, height] = [size.width + 2 * (END + MARGIN), size.height + 2 * MARGIN];
  const [left, right, y] = [MARGIN + END, MARGIN + END + size.width, MARGIN + size.height / 2];
  return {
    width,
    height,
    node: node(
      "g",
      { class: "network" },
      hotEnd(left, y),
      groundEnd(right, y),
      place(network, { left, right }, y, named),
    ),
  };
}

/** @param {Network} network @param {Ends} ends @param {number} y @param {boolean} named @returns {Node[]} */
function place(network, { left, right }, y, named) {
  if (!isJoined(network)) return part(network, { left, right }, y, named);
  return network.kind === "series"
    ? row(network, { left, right }, y, named)
    : ladder(network, { left, right }, y, named);
}

/** @param {JoinedNetwork} network @param {Ends} ends @param {number} y @param {boolean} named */
function row(network, { left, right }, y, named) {
  const widths = network.members.map((member) => sizeOf(member).width);
  const gap = (right - left - sum(widths)) / Math.max(1, widths.length - 1);
  let x = left;
  return network.members.flatMap((member, k) => {
    const [from, to] = [x, x + widths[k]];
    x = to + gap;
    const link =
      k < widths.length - 1
        ? [
            wire([
              [to, y],
              [x, y],
            ]),
          ]
        : [];
    return [...place(member, { left: from, right: to }, y, named), ...link];
  });
}

/** @param {JoinedNetwork} network @param {Ends} ends @param {number} y @param {boolean} named */
function ladder(network, { left, right }, y, named) {
  const heights = network.members.map((member) => sizeOf(member).height);
  let top = y - sum(heights) / 2;
  const rungs = heights.map((height) => {
    const at = top + height / 2;
    top += height;
    return at;
  });
  const last = rungs[rungs.length - 1];
  return [
    wire([
      [left, rungs[0]],
      [left, last],
    ]),
    wire([
      [right, rungs[0]],
      [right, last],
    ]),
    ...[left, right].map((x) => node("circle", { cx: round(x), cy: round(y), r: 2.2, class: "joint" })),
    ...network.members.flatMap((member, k) => {
      const { width } = sizeOf(member);
      const [from, to] = [(left + right - width) / 2, (left + right + width) / 2];
      return [
        wire([
          [left, rungs[k]],
          [from, rungs[k]],
        ]),
        ...place(member, { left: from, right: to }, rungs[k], named),
        wire([
          [to, rungs[k]],
          [right, rungs[k]],
        ]),
      ];
    }),
  ];
}

/** @param {NetworkPart} leaf @param {Ends} ends @param {number} y @param {boolean} named @returns {Node[]} */
function part({ kind, name, turned = false }, { left, right }, y, named) {
  const centre = (left + right) / 2;
  const mirrored = turned ? " scale(-1 1)" : "";
  const words = `${short(name.replaceAll("_", " "), LONGEST_NAME)}${turned ? " ↔" : ""}`;
  return [
    wire([
      [left, y],
      [centre - HALF, y],
    ]),
    wire([
      [centre + HALF, y],
      [right, y],
    ]),
    node(
      "g",
      { class: `network-part ${kind}`, transform: `translate(${round(centre)} ${round(y)})${mirrored}` },
      ...symbol(kind),
    ),
    ...(named ? [text(centre, y + 13, words, "network-name")] : []),
  ];
}

/**
 * A part between -19 and 19, its start at the left. A dot stands at a coil's start.
 *
 * @param {string} kind @returns {Node[]}
 */
function symbol(kind) {
  const path = (/** @type {string} */ d, classes = "symbol") => node("path", { d, class: classes });
  if (kind === "coil" || kind === "inductor") {
    const arcs = path("M-19 0H-16a4 4 0 0 1 8 0a4 4 0 0 1 8 0a4 4 0 0 1 8 0a4 4 0 0 1 8 0H19");
    return kind === "coil" ? [arcs, node("circle", { cx: -18, cy: -7, r: 2, class: "start" })] : [arcs];
  }
  if (kind === "capacitor") return [path("M-19 0H-3M3 0H19M-3 -9V9M3 -9V9")];
  if (kind === "resistor") return [path("M-19 0H-13M13 0H19M-13 -6H13V6H-13Z")];
  if (kind === "pot")
    return [path("M-19 0H-13M13 0H19M-13 -6H13V6H-13Z"), path("M-9 11L9 -11M4 -10L9 -11L9 -6")];
  return [
    path("M-19 0H-15M15 0H19"),
    node("rect", { x: -15, y: -8, width: 30, height: 16, rx: 5, class: "symbol" }),
  ];
}

/** The way to the controls. @param {number} x @param {number} y */
const hotEnd = (x, y) =>
  node(
    "g",
    { class: "network-end" },
    wire([
      [x - END + 6, y],
      [x, y],
    ]),
    node("circle", { cx: round(x - END + 3), cy: round(y), r: 3, class: "hot" }),
  );

/** Ground. @param {number} x @param {number} y */
function groundEnd(x, y) {
  const at = x + 12;
  const bars = [9, 6, 3]
    .map((half, k) => `M${round(at + 3.5 * k)} ${round(y - half)}V${round(y + half)}`)
    .join("");
  return node(
    "g",
    { class: "network-end" },
    wire([
      [x, y],
      [at, y],
    ]),
    node("path", { d: bars, class: "symbol" }),
  );
}

/** @param {[number, number][]} points */
const wire = (points) =>
  node("path", {
    d: `M${points.map(([x, y]) => `${round(x)} ${round(y)}`).join("L")}`,
    class: "network-wire",
  });

/**
 * A network in words, to read aloud: "neck a and neck b in series".
 *
 * @param {Network} network @returns {string}
 */
export function networkInWords(network) {
  if (!isJoined(network)) return `${network.name.replaceAll("_", " ")}${network.turned ? " reversed" : ""}`;
  const members = network.members.map((one) =>
    isJoined(one) ? `(${networkInWords(one)})` : networkInWords(one),
  );
  const all = `${members.slice(0, -1).join(", ")} and ${members[members.length - 1]}`;
  return `${all} in ${network.kind}`;
}

/**
 * The pictures of several sounds in rows, each with its number and words: a sketch as a whole.
 *
 * @param {{position: string, label: string, network: Network}[]} sounds
 * @param {number} most the width that the rows may take
 * @returns {{width: number, height: number, node: Node}}
 */
export function drawSketch(sounds, most) {
  const cells = sounds.map((sound) => ({ ...sound, ...drawNetwork(sound.network) }));
  const HEAD = 20,
    APART = 26;
  let [x, y, tallest, width] = [0, 0, 0, 0];
  const placed = cells.map((cell) => {
    const wide = Math.max(cell.width, 7 * Math.min(40, `${cell.position}  ${cell.label}`.length));
    if (x > 0 && x + wide > most) [x, y, tallest] = [0, y + tallest + APART, 0];
    const at = [x, y];
    x += wide + APART;
    width = Math.max(width, at[0] + wide);
    tallest = Math.max(tallest, cell.height + HEAD);
    const title = cell.label ? `${cell.position}  ${short(cell.label, 38)}` : cell.position;
    return node(
      "g",
      { transform: `translate(${round(at[0])} ${round(at[1])})`, class: "sketch-sound" },
      node("title", {}, `${cell.position}: ${networkInWords(cell.network)}`),
      text(0, 12, title, "name small", "start"),
      node("g", { transform: `translate(0 ${HEAD})` }, cell.node),
    );
  });
  return { width, height: y + tallest, node: node("g", { class: "sketch-sounds" }, placed) };
}
