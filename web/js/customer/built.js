/** What will be built: the picture of the chosen sound's wiring, with what sounds in copper; parts, terms. */

import { fill, h, say } from "../shared/dom.js";
import { partsView, termsView } from "./contents.js";
import { wiringOf } from "./words.js";

/** @import {Page} from "./page.js" */

/** @param {Page} page */
export function builtView({ get, on, item, source }) {
  const image = h("img", { class: "built-picture" });
  const words = h("p", { class: "small soft" });
  const figure = h("figure", {}, image, h("figcaption", {}, words));
  const name = h("p", { class: "built-name" }),
    facts = h("dl", { class: "facts" });
  const section = h(
    "section",
    { class: "built", "aria-labelledby": "built" },
    h("h2", { id: "built" }, "What will be built"),
    name,
    figure,
    facts,
  );
  let shown = "",
    written = 0;
  async function show() {
    const { number, label, picture } = item(get().number),
      { wirings } = get().offer,
      wiring = wiringOf(wirings, number),
      rows = [...termsView(wiring), ...partsView(wiring)];
    name.hidden = wirings.length < 2;
    say(name, wiring.name);
    // what is unfolded stays
    if (written !== wiring.number) fill(facts, ...rows);
    written = wiring.number;
    figure.hidden = !picture;
    section.hidden = !picture && rows.length === 0;
    if (!picture) return;
    image.alt = `The wiring at sound ${number}, ${label}. ${picture.words}`;
    say(words, `Sound ${number}, “${label}”: what sounds is copper, the rest is at rest.`);
    if (shown === picture.file) return;
    shown = picture.file;
    // its words say the same
    const address = await source.getPicture(picture.file).catch(() => "");
    if (address && shown === picture.file) image.src = address;
  }
  on(["number", "offer"], show);
  show();
  return section;
}
