/**
 * The drawing for those who do not see it: what sounds, every part with its acts, contacts, wires, and joints
 * that can be soldered and taken apart.
 */

import { fill, h } from "../shared/dom.js";
import { plainName } from "../shared/words.js";
import { brokenWords, contactWords, partWords, runWords, soundWords } from "./drawing_words.js";
import { jointsBody } from "./joints_view.js";

/** @import {Change, Changed} from "../shared/types.js" */
/** @import {Board} from "./drawing_board.js" */

/**
 * @param {Board} board
 * @param {(change: Change) => Promise<Changed | null>} act
 * @param {(part: string) => void} openPart  chooses a part and goes there
 */
export function drawingText(board, act, openPart) {
  const sounds = h("div", {}),
    parts = h("div", {}),
    contacts = h("div", {}),
    wires = h("div", {});
  const joints = jointsBody(act);
  const whole = h(
    "div",
    { class: "board-text" },
    sounds,
    parts,
    h("h2", {}, "Joints"),
    joints.element,
    contacts,
    wires,
  );
  const element = h(
    "details",
    { class: "numbers", ontoggle: () => show() },
    h("summary", {}, "Read and solder the drawing as text"),
  );
  /** @param {string[]} lines */
  const list = (lines) => h("ul", {}, ...lines.map((line) => h("li", {}, line)));
  /** @param {string} name @param {string} words */
  const part = (name, words) =>
    h(
      "li",
      {},
      words,
      " ",
      h(
        "button",
        {
          type: "button",
          "data-part-of-text": name,
          "aria-label": `Change ${plainName(name)}`,
          onclick: () => openPart(name),
        },
        "Change",
      ),
    );
  /** @param {{name: string, rows: [string, string][]}} one */
  const table = ({ name, rows }) =>
    h(
      "table",
      {},
      h("caption", {}, `${plainName(name)}: lugs joined`),
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Position"), h("th", { scope: "col" }, "Lugs"))),
      h(
        "tbody",
        {},
        ...rows.map(([position, lugs]) =>
          h("tr", {}, h("th", { scope: "row" }, position), h("td", {}, lugs)),
        ),
      ),
    );
  function show() {
    element.querySelector(".board-text")?.remove();
    if (!element.open) return; // nobody reads it
    element.append(whole);
    update();
  }
  function update() {
    const [shown, known, { check }] = [board.shown(), board.known(), board.session.get()];
    if (!element.open || !shown || !known) return;
    const at = document.activeElement;
    const focused = at instanceof HTMLElement && parts.contains(at) ? at.dataset.partOfText : undefined;
    const { facts, states } = known;
    fill(
      sounds,
      h("h2", {}, "What sounds"),
      list(states.length ? soundWords(facts, states) : ["Nothing yet."]),
    );
    fill(
      parts,
      h("h2", {}, "Parts"),
      facts.parts.length
        ? h("ul", {}, ...facts.parts.map(({ name }) => part(name, partWords(shown, name))))
        : h("p", {}, "No part yet: add a pickup and a jack first."),
    );
    if (focused) {
      /** @type {NodeListOf<HTMLElement>} */
      const buttons = parts.querySelectorAll("[data-part-of-text]");
      [...buttons].find(({ dataset }) => dataset.partOfText === focused)?.focus();
    }
    if (check) joints.update(check);
    const tables = contactWords(facts);
    fill(contacts, tables.length > 0 && h("h2", {}, "Contacts"), ...tables.map(table));
    const broken = brokenWords(shown);
    fill(
      wires,
      h("h2", {}, "Wires"),
      list(runWords(shown)),
      broken.length > 0 && h("h2", {}, "Wires without a way on the drawing"),
      broken.length > 0 && list(broken),
    );
  }
  board.painted.push(update);
  board.session.on(["check"], update);
  return { element };
}
