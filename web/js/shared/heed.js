/** Cautions at the top of everything that is measured or recorded. */

import { h } from "./dom.js";

/** @param {string[]} cautions */
export const heed = (cautions) =>
  h(
    "section",
    { class: "heed", "aria-label": "Heed" },
    h("h3", {}, "Heed"),
    h("ul", { class: "small" }, ...cautions.map((text) => h("li", {}, text))),
  );
