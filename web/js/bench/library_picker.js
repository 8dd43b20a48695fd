/** Take a part's values from the library of generic parts, as one step of undo. */

import { listLibraryParts } from "../shared/lists.js";
import { fill, h, uid } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";
import { changeWiring } from "../session/changes.js";
import { listCoils } from "../measurements/api.js";
import { takeValues } from "../measurements/view.js";

/** @import {Session} from "../session/session.js" */
/** @import {LibraryPart, Part} from "../shared/types.js" */
/** @import {OwnCoil} from "../measurements/api.js" */

/** @type {Promise<LibraryPart[]> | undefined} */
let shelf;
const entries = () =>
  (shelf ??= listLibraryParts().catch(() => {
    shelf = undefined;
    return [];
  }));

/** Before the name of an own coil: the library may have the same. */
const OWN = "own ";
/** What the choice is called, where it is more than values. */
const WORDS = { switch: "another switch" };

/** @param {Session} session @param {Part} part */
export function libraryPicker(session, part) {
  const id = uid("library");
  /** @type {LibraryPart[]} */
  let offered = [];
  /** @type {OwnCoil[]} */
  let own = [];
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
    const coil = own.find((one) => OWN + one.name === name);
    if (coil) return takeValues(session, { [part.name]: coil.fields }, `${coil.name}, ${coil.comment}`);
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
  /** Offer the coils that were measured. They cannot be asked of a server that is away: the others stay. */
  const mine = h("optgroup", { label: "My coils" });
  async function offerOwn() {
    own = await listCoils().catch(() => own);
    fill(mine, ...own.map(({ name, comment }) => h("option", { value: OWN + name, title: comment }, name)));
    if (own.length && !mine.isConnected) select.append(mine);
  }
  if (part.kind === "coil") select.addEventListener("focus", offerOwn);
  return {
    element,
    /** @param {Part} next */
    update(next) {
      now = next;
      if (document.activeElement !== select) select.value = next.like ?? "";
    },
  };
}
