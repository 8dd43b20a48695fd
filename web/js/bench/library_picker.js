/** Take a part's values from the library of generic parts, as one step of undo. */

import { problemText } from "../shared/http.js";
import { listLibraryParts } from "../shared/lists.js";
import { fill, h, uid } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";
import { tryEdits } from "./try_edits.js";

/** @import {Session} from "../session/session.js" */
/** @import {LibraryPart, Part} from "../shared/types.js" */

/** @type {Promise<LibraryPart[]> | undefined} */
let shelf;
const entries = () =>
  (shelf ??= listLibraryParts().catch(() => {
    shelf = undefined;
    return [];
  }));

/** Fields that keep their values: the place of a part and its part in hum-cancelling. */
const STAYS = ["at", "winding", "magnet"];

/**
 * The coupling to write for both coils of a two-coil unit.
 * @param {LibraryPart} entry
 */
const couplingText = ({ name, pair, coupling }) =>
  pair
    ? `. Couple it with ${pair === name ? "its twin" : pair.replaceAll("_", " ")}: coefficient ${coupling}`
    : "";

/** @param {Session} session @param {Part} part */
export function libraryPicker(session, part) {
  const id = uid("library");
  /** @type {LibraryPart[]} */
  let offered = [];
  let now = part;
  const select = h("select", {
    id,
    onchange: () => {
      take(select.value).catch(toastError);
      select.value = now.like ?? "";
    },
  });
  const element = h(
    "div",
    { class: "value", hidden: true },
    h("label", { for: id }, "from the library"),
    select,
  );

  /** @param {string} name */
  async function take(name) {
    const entry = offered.find((one) => one.name === name);
    if (!entry) return;
    const own = now.fields.filter(({ value }) => value).map(({ name: field }) => field);
    // a part that takes its values from the library names another entry; any other gets the values
    const isNamed = !!now.like && !own.some((field) => field in entry.fields && !STAYS.includes(field));
    const fields = isNamed ? [["like", entry.name]] : Object.entries(entry.fields);
    const edits = fields
      .filter(([field]) => !STAYS.includes(field))
      .map(([field, value]) => ({ path: ["parts", part.name, field], value }));
    const problems = await tryEdits(session, () => edits);
    if (problems.length) {
      toast(problems.map(problemText).join(" "));
      return;
    }
    toast(entry.about + couplingText(entry), { label: "Undo", act: session.undo });
  }
  entries().then((all) => {
    offered = all.filter(({ kind }) => kind === part.kind);
    element.hidden = offered.length === 0;
    fill(
      select,
      h("option", { value: "" }, "choose…"),
      ...offered.map(({ name, about }) =>
        h("option", { value: name, title: about }, name.replaceAll("_", " ")),
      ),
    );
    select.value = now.like ?? "";
  });
  return {
    element,
    /** @param {Part} next */
    update(next) {
      now = next;
      if (document.activeElement !== select) select.value = next.like ?? "";
    },
  };
}
