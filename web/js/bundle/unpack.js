/** Unpack the page: all of it but its pieces is packed. */

import { inflate } from "./inflate.js";

const OLD = "This browser is too old for this page. Open it in a newer one.";

/**
 * Put the parts into the page: its style, its worklets, what was sent, its script.
 * @param {string} packed deflated, in base 64
 */
async function unpack(packed) {
  const bytes = Uint8Array.from(atob(packed), (sign) => sign.charCodeAt(0));
  const [style, guard, convolver, sent, script] = (await inflate([bytes])).split("\0");
  add("style", {}, style);
  add("script", { id: "guard", type: "text/plain" }, guard);
  add("script", { id: "convolver", type: "text/plain" }, convolver);
  add("script", { id: "sent", type: "application/json" }, sent);
  add("script", {}, script);
}

/** @param {string} tag @param {Record<string, string>} attributes @param {string} text */
function add(tag, attributes, text) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.textContent = text;
  document.head.append(element);
}

unpack(document.getElementById("packed")?.textContent ?? "").catch(() => {
  /** @type {HTMLElement} */ (document.getElementById("page")).textContent = OLD;
});
