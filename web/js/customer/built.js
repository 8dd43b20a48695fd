/** What will be built: the picture of the chosen sound's wiring, with what sounds in copper. */

import { h, say } from "../shared/dom.js";

/** @import {Page} from "./page.js" */

/** @param {Page} page */
export function builtView({ get, on, item, source }) {
  const image = h("img", { class: "built-picture" });
  const words = h("p", { class: "small soft" });
  const section = h(
    "section",
    { class: "built", "aria-labelledby": "built" },
    h("h2", { id: "built" }, "What will be built"),
    h("figure", {}, image, h("figcaption", {}, words)),
  );
  let shown = "";
  async function show() {
    const { number, label, picture } = item(get().number);
    section.hidden = !picture;
    if (!picture) return;
    image.alt = `The wiring at sound ${number}, ${label}. ${picture.words}`;
    say(words, `Sound ${number}, “${label}”: what sounds is copper, the rest is at rest.`);
    if (shown === picture.file) return;
    shown = picture.file;
    const address = await source.getPicture(picture.file).catch(() => ""); // its words say the same
    if (address && shown === picture.file) image.src = address;
  }
  on(["number", "offer"], show);
  show();
  return section;
}
