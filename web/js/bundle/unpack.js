/** Unpack the page: all of it but its pieces is packed. */

import { inflate } from "./inflate.js";

const OLD = "This browser is too old for this page. Open it in a newer one.";

/** RFC 1924's digits, but for the one that may begin an element. Base 85 is shorter than base 64. */
const DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz!#$%&()*+-;,=>?@^_`{|}~";

/** @param {string} text in base 85 */
function fromBase85(text) {
  const short = (5 - (text.length % 5)) % 5,
    whole = text + "~".repeat(short),
    view = new DataView(new ArrayBuffer((whole.length / 5) * 4));
  for (let k = 0; k < whole.length; k += 5) {
    let value = 0;
    for (let i = k; i < k + 5; i++) value = 85 * value + DIGITS.indexOf(whole[i]);
    view.setUint32((k / 5) * 4, value);
  }
  return new Uint8Array(view.buffer, 0, view.byteLength - short);
}

/**
 * Put the parts into the page: its style, its worklets, what was sent, its script.
 * @param {string} packed deflated, in base 85
 */
async function unpack(packed) {
  const [style, guard, convolver, sent, script] = (await inflate([fromBase85(packed)])).split("\0");
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
