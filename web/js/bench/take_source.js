/** The source of a recording: a flat sensor, or a wiring of this bench at a setting. */

import * as api from "./api.js";
import { createTurns } from "../shared/latest.js";
import { plainName } from "../shared/words.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";

/** @import {Check} from "../shared/types.js" */
/** @import {Session} from "../session/session.js" */
/**
 * @typedef {{version: string, position: string, knobs: Record<string, number>, switches: Record<string,
 *   string>}} Source
 */

const FLAT =
  "The bench assumes a flat sensor: a signal straight from the strings, without a guitar's wiring. You can also bring the sound of a guitar this way, but its own wiring then stays in it.";
const KNOWN =
  "The bench removes the wiring of the recording and applies the one on the bench. What that wiring left too weak stays weak: the take shows how far it was raised.";

/** @param {Session} session @param {(text: string) => void} failed */
export function takeSource({ get, slot }, failed) {
  const { wirings } = get().commission;
  const versions = wirings.flatMap(({ name, versions: all }) =>
    all.map(({ id, number }) => ({ id, label: `${name}, version ${number}` })),
  );
  const which = h(
    "select",
    { onchange: () => load() },
    ...versions.map(({ id, label }) => h("option", { value: id }, label)),
  );
  const controls = h("div", { class: "fitting" }),
    note = h("p", { class: "soft small" }, FLAT);
  const known = h(
    "div",
    { class: "fitting-known", hidden: true },
    labelled("Wiring it was recorded through", which),
    controls,
  );
  const kind = choice(
    "Recorded with",
    [
      { value: "flat", label: "a flat sensor" },
      { value: "wiring", label: "a known wiring" },
    ],
    "flat",
    (value) => {
      known.hidden = value === "flat";
      say(note, value === "flat" ? FLAT : KNOWN);
      if (!known.hidden) load();
    },
  );
  which.value = slot().version;
  /** @type {() => Source | null} */
  let read = () => null;
  const turns = createTurns();

  async function load() {
    const version = which.value,
      isNewest = turns.begin();
    read = () => null;
    fill(controls);
    try {
      const check = await api.checkDraft({ version, edits: [] });
      if (isNewest()) read = asControls(version, check, controls);
    } catch (error) {
      failed(error instanceof Error ? error.message : String(error));
    }
  }
  return {
    element: h(
      "div",
      { class: "field" },
      h("span", {}, "Recorded with"),
      h("div", {}, kind.element),
      note,
      known,
    ),
    /**
     * Null for a flat sensor; undefined while the wiring's controls load.
     * @returns {Source | null | undefined}
     */
    source: () => (known.hidden ? null : (read() ?? undefined)),
  };
}

/**
 * Fields for a wiring's position, knobs and switches.
 * @param {string} version @param {Check} check @param {HTMLElement} into
 */
function asControls(version, check, into) {
  const position = pick(
    check.positions.map((one) => ({
      value: one.position,
      label: one.label ? `${one.position}: ${one.label}` : one.position,
    })),
  );
  const knobs = check.knobs.map(({ name }) => ({
    name,
    input: h("input", { type: "number", min: 0, max: 10, step: "any", value: "10", required: true }),
  }));
  const switches = check.switches.map(({ name, positions }) => ({
    name,
    input: pick(positions.map((value) => ({ value, label: value }))),
  }));
  fill(
    into,
    labelled("Position", position),
    ...knobs.map(({ name, input }) => labelled(`${plainName(name)}, 0 to 10`, input)),
    ...switches.map(({ name, input }) => labelled(plainName(name), input)),
  );
  return () => ({
    version,
    position: position.value,
    knobs: Object.fromEntries(knobs.map(({ name, input }) => [name, Number(input.value)])),
    switches: Object.fromEntries(switches.map(({ name, input }) => [name, input.value])),
  });
}

/** @param {{value: string, label: string}[]} options */
const pick = (options) =>
  h("select", {}, ...options.map(({ value, label }) => h("option", { value }, label)));

/** @param {string} label @param {HTMLElement} input */
function labelled(label, input) {
  input.id = uid("source");
  return h("div", { class: "field" }, h("label", { for: input.id }, label), input);
}
