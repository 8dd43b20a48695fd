/**
 * The joints in words: every terminal is a button that takes it off, every joint has a choice that adds one.
 * Everything that the drawing can solder can be soldered here, by keyboard.
 */

import { fill, h, say } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { counted } from "../shared/words.js";

/** @import {Change, Changed, Check, Part} from "../shared/types.js" */

/**
 * @param {(change: Change) => Promise<Changed | null>} act  null if it was refused; the person has been told
 */
export function jointsView(act) {
  const count = h("small", {});
  const body = jointsBody(act, (words) => say(count, words));
  const element = h(
    "details",
    { class: "part", "data-around": "soldering" },
    h("summary", {}, h("span", {}, "Joints"), count),
    body.element,
  );
  return { element, update: body.update };
}

/**
 * The joints without a frame.
 * @param {(change: Change) => Promise<Changed | null>} act @param {(words: string) => void} [tellCount]
 */
export function jointsBody(act, tellCount = () => {}) {
  const rows = h("div", { class: "joints" }),
    loose = h("p", { class: "soft small", role: "status" }),
    fresh = h("div", {});
  const element = h("div", { class: "values" }, rows, loose, fresh);
  let built = "",
    wanted = ""; // the element to focus once it exists

  /** @param {Pick<Check, "joints"> & {parts: Pick<Part, "name" | "terminals" | "kind" | "lists">[]}} check */
  function update({ joints, parts }) {
    const shape = JSON.stringify([
      joints,
      parts.map(({ name, terminals }) => [name, terminals]),
      [...placedBy(parts)],
    ]);
    if (shape === built) return;
    built = shape;
    const focused = document.activeElement;
    const at =
      wanted ||
      (focused instanceof HTMLElement && element.contains(focused) ? (focused.dataset.at ?? "") : "");
    wanted = "";
    const ends = parts.flatMap(({ name, terminals }) => terminals.map((lead) => `${name}.${lead}`));
    const jack = joints.findIndex((joint) => joint.some((one) => one.endsWith(".sleeve")));
    /** @param {string} end */
    const holder = (end) => joints.findIndex((joint) => joint.includes(end));
    const placed = placedBy(parts); // a sketch needs no joints for these
    const free = ends.filter((end) => holder(end) < 0 && !placed.has(end.split(".")[0]));
    tellCount(`${counted(joints.length, "joint")}${free.length ? `, ${free.length} loose` : ""}`);
    fill(rows, ...joints.map((joint, k) => row(joint, k, k === jack)));
    say(loose, free.length ? looseText(free) : "Every terminal is soldered.");
    fill(fresh, newJoint());
    if (at) focusAt(at);

    /** @param {string[]} joint @param {number} k @param {boolean} ground */
    function row(joint, k, ground) {
      const name = `joint ${k + 1}${ground ? ", ground" : ""}`;
      return h(
        "div",
        { class: "joint", role: "group", "aria-label": name },
        h("span", { class: "soft small lead", "aria-hidden": "true" }, String(k + 1)),
        h(
          "div",
          { class: "ends" },
          ground && h("span", { class: "soft small", "aria-hidden": "true" }, "ground"),
          ...joint.map((end) => chip(end, joint, name)),
          adder(
            `Solder to ${name}`,
            `add ${joint[0]}`,
            ends.filter((end) => !joint.includes(end)),
            (end) => [joint[0], end],
          ),
        ),
      );
    }
    /** @param {string} end @param {string[]} joint @param {string} name */
    function chip(end, joint, name) {
      const next = joint[joint.indexOf(end) + 1] ?? joint[joint.indexOf(end) - 1];
      return h(
        "button",
        {
          type: "button",
          class: "end",
          "aria-label": `Take ${end} off ${name}`,
          title: "Unsolder",
          "data-at": `end ${end}`,
          onclick: async () => {
            wanted = joint.length > 2 ? `end ${next}` : "new first";
            if (!(await act({ do: "unsolder", terminal: end }))) wanted = "";
          },
        },
        end,
        icon("close"),
      );
    }
    /**
     * A choice of terminals and the button that solders the chosen one: a choice alone would solder
     * whatever an arrow key passes.
     * @param {string} label @param {string} mark @param {string[]} from
     * @param {(end: string) => [string, string]} pair
     */
    function adder(label, mark, from, pair) {
      const select = picker(label, "solder…", mark, from);
      return h(
        "form",
        {
          class: "solder",
          onsubmit: async (/** @type {Event} */ event) => {
            event.preventDefault();
            if (!select.value) return select.focus();
            wanted = mark;
            if (!(await act({ do: "solder", terminals: pair(select.value) }))) wanted = "";
          },
        },
        select,
        h("button", { "aria-label": `${label}: the chosen one` }, "Solder"),
      );
    }
    /** @param {string} label @param {string} empty @param {string} mark @param {string[]} from */
    function picker(label, empty, mark, from) {
      const groups = new Map(
        parts.map(({ name }) => [name, from.filter((end) => end.split(".")[0] === name)]),
      );
      return h(
        "select",
        { "aria-label": label, "data-at": mark },
        h("option", { value: "" }, empty),
        ...[...groups].map(
          ([name, own]) =>
            own.length > 0 &&
            h(
              "optgroup",
              { label: name },
              ...own.map((end) => {
                const k = holder(end);
                return h("option", { value: end }, k < 0 ? end : `${end} (joint ${k + 1})`);
              }),
            ),
        ),
      );
    }
    function newJoint() {
      const first = picker("New joint: first terminal", "solder…", "new first", free.length ? free : ends),
        second = picker("New joint: second terminal", "to…", "new second", ends);
      return h(
        "form",
        {
          class: "solder fresh",
          "aria-label": "Solder a new joint",
          onsubmit: async (/** @type {Event} */ event) => {
            event.preventDefault();
            const empty = [first, second].find(({ value }) => !value);
            if (empty) return empty.focus();
            wanted = "new first";
            if (!(await act({ do: "solder", terminals: [first.value, second.value] }))) wanted = "";
          },
        },
        h("span", { class: "soft small", "aria-hidden": "true" }, "New joint"),
        first,
        second,
        h("button", {}, "Solder"),
      );
    }
  }
  /** @param {string} at */
  function focusAt(at) {
    /** @type {NodeListOf<HTMLElement>} */
    const all = element.querySelectorAll("[data-at]");
    const found = [...all].find(({ dataset }) => dataset.at === at);
    (found ?? [...all].find(({ dataset }) => dataset.at === "new first"))?.focus();
  }
  return { element, update };
}

/** The names that sketches' sounds place. @param {Pick<Part, "kind" | "lists">[]} parts */
const placedBy = (parts) =>
  new Set(
    parts
      .filter(({ kind }) => kind === "sketch")
      .flatMap(({ lists }) => lists?.[0]?.items ?? [])
      .flatMap(({ fields: [{ value }] }) => value.match(/[\p{L}_][\p{L}\p{N}_-]*/gu) ?? []),
  );

const MOST_NAMED = 8;
/** @param {string[]} free */
const looseText = (free) =>
  `Loose: ${free.slice(0, MOST_NAMED).join(", ")}${free.length > MOST_NAMED ? ` and ${free.length - MOST_NAMED} more` : ""}`;
