/** One's own coils: take, rename, save as a file, remove. */

import { askText } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import * as api from "./api.js";
import { reasonOf } from "../shared/file_place.js";

/** @import {OwnCoil} from "./api.js" */

/** @param {(coil: OwnCoil) => Promise<void>} take */
export function coilList(take) {
  const list = h("ul", { class: "own-coils" });
  const empty = h("p", { class: "soft small" }, "None yet. “Keep in my coils” keeps one by its name.");
  const count = h("small", { class: "soft" });
  const said = h("p", { class: "small row", role: "status" });
  const failed = (/** @type {unknown} */ error) => fill(said, reasonOf(error));
  const element = h(
    "details",
    { class: "own-coils-part" },
    h("summary", {}, "My coils ", count),
    empty,
    list,
    said,
  );
  async function refresh() {
    const coils = await api.listCoils();
    empty.hidden = coils.length > 0;
    say(count, coils.length ? String(coils.length) : "");
    fill(list, ...coils.map(row));
  }
  /** @param {OwnCoil} coil */
  function row(coil) {
    const { name, comment, fields } = coil;
    /** @param {string} label @param {() => unknown} act */
    const button = (label, act) =>
      h(
        "button",
        {
          type: "button",
          class: "small",
          "aria-label": `${label}: ${name}`,
          onclick: () => Promise.resolve(act()).catch(failed),
        },
        label,
      );
    return h(
      "li",
      {},
      h(
        "div",
        {},
        h("b", {}, name),
        h(
          "p",
          { class: "soft small" },
          `${fields.resistance}, ${fields.inductance}, ${fields.capacitance}; ${comment}`,
        ),
      ),
      h(
        "div",
        { class: "row" },
        button("Take", () => take(coil)),
        button("Rename", () =>
          askText(`Rename ${name}`, "Name", name, async (to) => {
            await api.renameCoil(name, to);
            await refresh();
          }),
        ),
        h("a", { class: "small", href: api.coilUrl(name), download: `${name}.json` }, "Save as a file"),
        button("Remove", async () => {
          const { id } = await api.removeCoil(name);
          await refresh();
          const undo = h("button", { type: "button", class: "small" }, "Undo");
          undo.addEventListener("click", () =>
            api.restoreCoil(id).then(() => {
              fill(said, `${name} is back.`);
              return refresh();
            }, failed),
          );
          fill(
            said,
            h("span", {}, `${name} is out of your coils. Wirings that took it stay as they are.`),
            undo,
          );
          undo.focus();
        }),
      ),
    );
  }
  return { element, refresh };
}
