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
  const isLoad = part.kind === "load"; // cable and amplifier are one entry
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

  /** Whether the file writes values that an entry has too. @param {LibraryPart} entry */
  const hasOwn = (entry) =>
    isLoad
      ? (session.get().check?.parts ?? []).some(
          ({ kind, fields }) => kind === part.kind && fields.some(({ value }) => value),
        )
      : now.fields.some(({ name, value }) => value && name in entry.fields && !STAYS.includes(name));
  /** @param {string} name */
  async function take(name) {
    const entry = offered.find((one) => one.name === name);
    if (!entry) return;
    // a part that takes its values from the library names another entry; any other gets the values
    const isNamed = !!now.like && !hasOwn(entry);
    const fields = isNamed ? [["like", entry.name]] : Object.entries(entry.fields);
    const place = isLoad ? ["load"] : ["parts", part.name];
    const edits = fields
      .filter(([field]) => !STAYS.includes(field))
      .map(([field, value]) => ({ path: [...place, field], value }));
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
