/** A new link, shown once: to copy, to scan with a phone, and where it opens. */

import { fill, h } from "../shared/dom.js";
import { reachInWords, warningOf } from "./words.js";

/** @import {Link, Place} from "./words.js" */

/** @param {Link} link */
export function linkView(link) {
  const { links } = link;
  const input = h("input", { type: "text", readonly: true, "aria-label": "Link for the customer" });
  input.onfocus = () => input.select();
  const copied = h("span", { role: "status", class: "small soft" });
  const code = h("img", { class: "link-code", alt: "The link as a QR code, to scan with a phone" });
  const reach = h("p", { class: "small", role: "status" });
  /** @param {Place} place */
  const show = (place) => {
    const warning = warningOf(place, link);
    input.value = place.url;
    code.src = `data:image/svg+xml,${encodeURIComponent(place.code)}`;
    code.hidden = warning !== "";
    reach.classList.toggle("warn", warning !== "");
    reach.classList.toggle("soft", warning === "");
    fill(reach, warning || reachInWords(place));
    copied.textContent = "";
  };
  show(links[0]);
  return h(
    "div",
    { class: "proposal" },
    h("b", {}, "The link, shown only once"),
    links.length > 1 && placeChoice(links, show),
    h(
      "div",
      { class: "link" },
      input,
      h("button", { type: "button", class: "main", onclick: () => copy(input, copied) }, "Copy"),
    ),
    copied,
    code,
    reach,
    h(
      "p",
      { class: "small soft" },
      "Whoever has the link can listen, write and sign in any name. The server keeps only its fingerprint. You can end it at any time.",
    ),
  );
}

/**
 * Choose among the addresses of this computer.
 * @param {Place[]} links @param {(place: Place) => void} show
 */
function placeChoice(links, show) {
  const choice = h("select", {}, ...links.map(({ url }, k) => h("option", { value: k }, new URL(url).host)));
  choice.onchange = () => show(links[Number(choice.value)]);
  return h("label", { class: "field" }, h("span", {}, "Address of this computer"), choice);
}

/** @param {HTMLInputElement} input @param {HTMLElement} copied says so */
async function copy(input, copied) {
  try {
    await navigator.clipboard.writeText(input.value);
    copied.textContent = "Copied.";
  } catch {
    input.select();
    copied.textContent = "Press Ctrl+C to copy.";
  }
}
