/** Take a part's values from the library of generic parts, as one step of undo. */

import * as api from "./api.js";
import { problemText } from "../shared/http.js";
import { listLibraryParts } from "../shared/lists.js";
import { fill, h, uid } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";

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

/** @param {Session} session @param {Part} part */
export function libraryPicker(session, part) {
  const id = uid("library");
  /** @type {LibraryPart[]} */
  let offered = [];
  const select = h("select", {
    id,
    onchange: () => {
      take(select.value).catch(toastError);
      select.value = "";
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
    const edits = Object.entries(entry.fields)
      .filter(([field]) => !STAYS.includes(field))
      .map(([field, value]) => ({ path: ["parts", part.name, field], value }));
    const { version, edits: before } = session.slot();
    const check = await api.checkDraft({
      version,
      edits: [
        ...before.filter(({ path }) => !edits.some((edit) => edit.path.join() === path.join())),
        ...edits,
      ],
    });
    if (!check.ok) {
      toast(check.problems.map(problemText).join(" "));
      return;
    }
    session.edit(...edits);
    toast(`${entry.about}`, { label: "Undo", act: session.undo });
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
  });
  return element;
}
