/**
 * Fit a starter to an instrument: scale length, strings, and each coil from the library. Every field is
 * optional.
 */

import * as api from "./api.js";
import { listLibraryParts } from "../shared/lists.js";
import { plainName } from "../shared/words.js";
import { fill, h, say, uid } from "../shared/dom.js";

/** @import {Fitting, LibraryPart, Problem, Starter, StringSet} from "../shared/types.js" */

const STAYS = "as in the starter";

/** @param {(text: string) => void} failed called with the reason if the library cannot be loaded */
export function fitStarter(failed) {
  const scale = asked(
    "Scale length, nut to bridge",
    h("input", { type: "text", maxlength: 40, autocomplete: "off", spellcheck: "false" }),
  );
  const set = asked("Strings", h("select", {}, h("option", { value: "" }, STAYS)));
  const places = h("div", { class: "fitting" });
  const hint = h(
    "p",
    { class: "soft small" },
    "Coils keep their distance from the bridge. You can change it on the bench.",
  );
  const element = h(
    "fieldset",
    { class: "field", hidden: true },
    h("legend", {}, "Instrument and coils"),
    h("div", { class: "fitting" }, scale.element, set.element),
    places,
    hint,
  );
  /** @type {LibraryPart[]} */
  let shelf = [];
  /** @type {Map<string, ReturnType<typeof asked<HTMLSelectElement>>>} */
  let coils = new Map();
  /** @type {Starter | undefined} */
  let current;

  Promise.all([api.listStringSets(), listLibraryParts()]).then(
    ([/** @type {StringSet[]} */ sets, parts]) => {
      set.input.append(...sets.map(({ name, title }) => h("option", { value: name }, title)));
      shelf = parts.filter(({ kind }) => kind === "coil");
      if (current) show(current);
    },
    (error) => failed(error.message),
  );

  /** @param {Starter} starter */
  function show(starter) {
    const chosen = new Map([...coils].map(([name, { input }]) => [name, input.value]));
    current = starter;
    element.hidden = false;
    scale.input.placeholder = `${starter.scale}, ${STAYS}`;
    coils = new Map(
      starter.coils.map(({ name, like }) => [
        name,
        asked(plainName(name), coilChoice(like, chosen.get(name))),
      ]),
    );
    fill(places, ...[...coils.values()].map((one) => one.element));
  }
  /** @param {string} like @param {string} [chosen] */
  function coilChoice(like, chosen = "") {
    const select = h(
      "select",
      {},
      h("option", { value: "" }, like ? `${like.replaceAll("_", " ")} (starter)` : STAYS),
      ...shelf.map(({ name, about }) =>
        h("option", { value: name, title: about }, name.replaceAll("_", " ")),
      ),
    );
    select.value = chosen;
    return select;
  }
  return {
    element,
    show,
    /** @returns {Fitting} */
    wanted: () => ({
      instrument: {
        ...(scale.input.value.trim() && { scale: scale.input.value.trim() }),
        ...(set.input.value && { set: set.input.value }),
      },
      coils: Object.fromEntries(
        [...coils].flatMap(([name, { input }]) => (input.value ? [[name, input.value]] : [])),
      ),
    }),
    /** Show each problem beside its field; return those without a field. @param {Problem[]} problems */
    refused(problems) {
      /** @type {[string, {refuse: (problem: Problem | undefined) => void}][]} */
      const fields = [
        ["instrument.scale", scale],
        ["instrument.set", set],
        ...[...coils].map(([name, one]) => /** @type {[string, typeof one]} */ ([`coils.${name}`, one])),
      ];
      for (const [where, one] of fields)
        one.refuse(problems.find((problem) => problem.where.endsWith(where)));
      return problems.filter((problem) => !fields.some(([where]) => problem.where.endsWith(where)));
    },
  };
}

/** A field with its label and a line for its problem. @template {HTMLInputElement | HTMLSelectElement} T
 * @param {string} label @param {T} input */
function asked(label, input) {
  const problemId = uid("problem"),
    id = uid("fit"),
    problem = h("p", { class: "problem", id: problemId, role: "alert" });
  input.id = id;
  input.setAttribute("aria-describedby", problemId);
  const element = h("div", { class: "field" }, h("label", { for: id }, label), input, problem);
  return {
    element,
    input,
    /** @param {Problem | undefined} wrong */
    refuse(wrong) {
      input.setAttribute("aria-invalid", String(!!wrong));
      say(
        problem,
        wrong ? `Got ${wrong.got}; allowed: ${wrong.allowed}${wrong.hint ? ` (${wrong.hint})` : ""}.` : "",
      );
    },
  };
}
