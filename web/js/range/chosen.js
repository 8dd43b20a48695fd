/** The set as a selector: one radio button per sound. Listen, pin, swap or leave out. */

import { drawCoils, joinedInWords } from "../shared/coils_drawing.js";
import { numbersOf, swaps } from "./sound_map.js";
import { nearestInWords } from "./words.js";
import { fixed } from "../shared/units.js";
import { fill, h, uid } from "../shared/dom.js";
import { coilsPicture } from "../shared/coils_picture.js";
import { focusMover, moveButtons, moveKey } from "../shared/moving.js";

/** @import {CoilPlace} from "../shared/types.js" */
/** @import {Nearest, Sound, SoundMap} from "./words.js" */

const MOST_SWAPS = 8;

/**
 * @typedef {object} Ways
 * @property {(expression: string) => void} hear
 * @property {(expression: string) => void} pin  or unpin
 * @property {(expression: string) => void} ban
 * @property {(place: number, expression: string) => void} swap
 * @property {(from: number, to: number) => void} move  to another place in the selector
 */

/** @param {Ways} ways */
export function chosenView(ways) {
  const list = h("div", { role: "radiogroup", "aria-label": "The set, as a selector" });
  /** @type {Map<string, HTMLInputElement>} */
  let radios = new Map();
  let built = "";
  return {
    element: list,
    /**
     * @param {(Sound & Nearest)[]} sounds in the selector's order
     * @param {{coils: CoilPlace[], pins: string[], heard: string, map: SoundMap | null, members: number[],
     *   labels: string[]}} about
     */
    show(sounds, { coils, pins, heard, map, members, labels }) {
      const next = JSON.stringify([sounds, pins, coils.length, map?.points.length, members, labels]);
      if (next !== built) {
        built = next;
        const group = uid("sound"),
          focused = [...radios].find(([, radio]) => radio === document.activeElement)?.[0],
          active = document.activeElement,
          mover = active instanceof HTMLElement && list.contains(active) ? active.dataset.move : undefined;
        radios = new Map();
        fill(
          list,
          ...sounds.map((sound, k) => {
            const radio = h("input", {
              type: "radio",
              name: group,
              onchange: () => ways.hear(sound.expression),
            });
            radios.set(sound.expression, radio);
            return rowOf(sound, k, radio, {
              count: sounds.length,
              label: labels[k],
              coils,
              pinned: pins.includes(sound.expression),
              map,
              members,
              ways,
            });
          }),
        );
        radios.get(focused ?? "")?.focus();
        if (mover) focusMover(list, mover);
      }
      for (const [expression, radio] of radios) radio.checked = expression === heard;
    },
  };
}

/**
 * @param {Sound & Nearest} sound @param {number} k @param {HTMLInputElement} radio
 * @param {{count: number, label: string, coils: CoilPlace[], pinned: boolean, map: SoundMap | null, members:
 *   number[], ways: Ways}} about
 */
function rowOf(sound, k, radio, { count, label, coils, pinned, map, members, ways }) {
  const name = uid("sound-name"),
    facts = uid("sound-facts");
  radio.setAttribute("aria-labelledby", name);
  radio.setAttribute("aria-describedby", facts);
  const [level, hum, , , meter] = numbersOf(sound);
  const outOfPhase = sound.out_of_phase ?? [];
  const unnamed = !sound.in_phase && outOfPhase.length === 0;
  const how = `${joinedInWords(sound.connection, outOfPhase)}${unnamed ? ", out of phase" : ""}`;
  const pin = h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-pressed": String(pinned),
      "aria-label": `${pinned ? "Pinned" : "Pin"}: ${sound.expression}`,
      onclick: () => ways.pin(sound.expression),
    },
    pinned ? "Pinned" : "Pin",
  );
  const ban = h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-label": `Leave out: ${sound.expression}`,
      onclick: () => ways.ban(sound.expression),
    },
    "Leave out",
  );
  const swap = h(
    "select",
    {
      "aria-label": `Swap position ${k + 1} for a sound near it`,
      onchange: () => {
        if (swap.value) ways.swap(k, swap.value);
      },
    },
    h("option", { value: "" }, "Swap for…"),
  );
  swap.addEventListener("focus", () => {
    if (!map || members[k] === undefined || swap.options.length > 1) return;
    swap.append(
      ...swaps(map, members, k, MOST_SWAPS).map(({ sound: other, away, smallest: least }) =>
        h(
          "option",
          { value: map.points[other].expression },
          `${map.points[other].expression}: ${fixed(away)} dB from it${least === null ? "" : `, the set then ${fixed(least)} dB apart`}`,
        ),
      ),
    );
  });
  swap.addEventListener("pointerdown", () => swap.focus());
  radio.addEventListener("keydown", (event) => {
    const by = moveKey(event);
    if (by) ways.move(k, k + by);
  });
  const movers = moveButtons({
    name: label || sound.expression,
    mark: sound.expression,
    first: k === 0,
    last: k === count - 1,
    move: (by) => ways.move(k, k + by),
  });
  return h(
    "div",
    { class: "sound", "data-sound": sound.expression },
    radio,
    h("span", { class: "number", "aria-hidden": "true" }, String(k + 1)),
    h("span", { class: "picture" }, coilsPicture(drawCoils(coils, sound.connection, outOfPhase))),
    h(
      "span",
      { class: "name", id: name },
      h("b", {}, label || sound.expression),
      h("small", {}, [label ? sound.expression : "", how, ...sound.words].filter(Boolean).join(" · ")),
    ),
    h(
      "span",
      { class: "sound-facts", id: facts },
      ...[hum[1], `level ${level[1]}`, `meter ${meter[1]}`, nearestInWords(sound, map?.heard)]
        .filter(Boolean)
        .map((text) => h("span", {}, text)),
    ),
    h("span", { class: "sound-acts" }, ...movers, pin, swap, ban),
  );
}
