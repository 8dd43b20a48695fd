/** Give the reader a file to keep. */

import { h } from "./dom.js";

/** A browser may still be reading the file. */
const KEPT_MS = 60_000;

/** @param {string} name @param {BlobPart} content @param {string} type its media type */
export function download(name, content, type) {
  const address = URL.createObjectURL(new Blob([content], { type }));
  h("a", { href: address, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(address), KEPT_MS);
}
