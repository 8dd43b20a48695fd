/** Take a part's values from the library of generic parts, as one step of undo. */

import { listLibraryParts } from "../shared/lists.js";
import { fill, h, uid } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";
import { changeWiring } from "../session/changes.js";

/** @import {Session} from "../session/session.js" */
/** @import {LibraryPart, Part} from "../shared/types.js" */

/** @type {Promise<LibraryPart[]> | undefined} */
let shelf;
const entries = () =>
  (shelf ??= listLibraryParts().catch(() => {
    shelf = undefined;
    return [];
  }));

/** What the choice is called, where it is more than values. */
const WORDS = { switch: "another switch" };

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
    h("label", { for: id }, WORDS[/** @type {"switch"} */ (part.kind)] ?? "from the library"),
    select,
  );

  /** @param {string} name */
  async function take(name) {
    const entry = offered.find((one) => one.name === name);
    if (!entry) return;
    const { name: done, notes } = await changeWiring(session, {
      do: "choose",
      part: isLoad ? "load" : part.name,
      like: name,
    });
    toast([done, entry.about, ...notes].join(". "), { label: "Undo", act: session.undo });
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
