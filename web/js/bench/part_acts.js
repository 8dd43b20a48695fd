/** What one does with a part: rename, swap its leads, remove it; and where its terminals are soldered. */

import { openMeasure } from "../measurements/view.js";
import { h, say, uid } from "../shared/dom.js";
import { openSensitivity } from "../verifying/sensitivity_view.js";

/** @import {Session} from "../session/session.js" */
/** @import {Change, Changed, Part} from "../shared/types.js" */

/**
 * @param {Session} session @param {Part} part
 * @param {(change: Change) => Promise<Changed | null>} act  null if it was refused; the person has been told
 */
export function partActs(session, part, act) {
  const { get } = session;
  const { name, swaps, kind } = part;
  const id = uid("name");
  const problem = h("p", { class: "bad small", role: "alert" });
  const input = h("input", {
    id,
    type: "text",
    value: name,
    maxlength: 60,
    autocomplete: "off",
    spellcheck: "false",
    onkeydown: (/** @type {KeyboardEvent} */ event) => {
      if (event.key !== "Escape") return;
      event.stopPropagation();
      close();
    },
  });
  const form = h(
    "form",
    {
      class: "renaming",
      hidden: true,
      onsubmit: async (/** @type {Event} */ event) => {
        event.preventDefault();
        const to = input.value.trim();
        if (to === name) return close();
        const why = await act({ do: "rename", part: name, to }).then(
          () => "",
          (error) => (error instanceof Error ? error.message : String(error)),
        );
        say(problem, why);
        input.setAttribute("aria-invalid", String(!!why));
      },
    },
    h("label", { for: id, class: "small soft" }, "New name"),
    h("div", { class: "enter" }, input, h("button", {}, "Rename")),
    problem,
  );
  const rename = h(
    "button",
    {
      type: "button",
      "aria-expanded": "false",
      onclick: () => (form.hidden ? open() : close()),
    },
    "Rename",
  );
  function open() {
    form.hidden = false;
    rename.setAttribute("aria-expanded", "true");
    input.value = name;
    input.select();
    input.focus();
  }
  function close() {
    form.hidden = true;
    rename.setAttribute("aria-expanded", "false");
    say(problem, "");
    rename.focus();
  }
  const where = h("p", { class: "soft small where" });
  /** A button that does one thing. @param {string} label @param {Change} change */
  const button = (label, change) => h("button", { type: "button", onclick: () => act(change) }, label);
  const element = h(
    "div",
    { class: "acts" },
    where,
    h(
      "div",
      { class: "row", role: "group", "aria-label": `${name}, ${kind}` },
      rename,
      kind === "coil"
        ? h("button", { type: "button", onclick: () => openMeasure(session, name) }, "Measure")
        : null,
      kind === "coil"
        ? h("button", { type: "button", onclick: () => openSensitivity(session) }, "Sensitivity")
        : null,
      swaps ? button(`Swap ${swaps}`, { do: "swap leads", part: name }) : null,
      button("Remove", { do: "remove", part: name }),
    ),
    form,
  );
  return {
    element,
    rename: open,
    /** @param {Part} now */
    update({ terminals }) {
      const joints = get().check?.joints ?? [];
      const places = terminals.map((lead) => {
        const k = joints.findIndex((joint) => joint.includes(`${name}.${lead}`));
        return `${lead} ${k < 0 ? "loose" : `in joint ${k + 1}`}`;
      });
      say(where, places.length > 8 ? looseCount(places) : places.join(" · "));
    },
  };
}

/** Many lugs in short. @param {string[]} places */
const looseCount = (places) => {
  const loose = places.filter((place) => place.endsWith("loose")).length;
  return `${places.length} lugs, ${loose} of them loose`;
};
