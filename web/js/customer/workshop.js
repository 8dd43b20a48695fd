/** Who proposes: the workshop's name, contact and picture. */

import { fill, h } from "../shared/dom.js";

/** @import {Page} from "./page.js" */

/** @param {Page} page */
export function workshopView({ get, on }) {
  const box = h("div", { class: "workshop" });
  let shown = "";
  function show() {
    const { workshop } = get().offer,
      now = JSON.stringify(workshop);
    box.hidden = !workshop;
    if (!workshop || shown === now) return;
    shown = now;
    const { name, contact, picture } = workshop;
    fill(
      box,
      picture && h("img", { src: picture, alt: "" }),
      h("p", {}, name && h("b", {}, name), contact && h("span", { class: "soft small" }, contact)),
    );
  }
  on(["offer"], show);
  show();
  return box;
}
