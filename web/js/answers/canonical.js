/** Canonical JSON: sorted keys, no spaces, the same bytes as the workshop's program makes. */

/**
 * By code points, as the server sorts; a plain sort would compare halves of pairs.
 * @param {string} a @param {string} b
 */
function byCodePoint(a, b) {
  const [left, right] = [[...a], [...b]];
  const at = left.findIndex((sign, k) => sign !== right[k]);
  if (at < 0) return left.length - right.length;
  return at < right.length
    ? /** @type {number} */ (left[at].codePointAt(0)) - /** @type {number} */ (right[at].codePointAt(0))
    : 1;
}

/**
 * Numbers must be whole or have few decimals: others may be written in two ways.
 * @param {unknown} value @returns {string}
 */
export function canonicalJson(value) {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const all = /** @type {Record<string, unknown>} */ (value);
  const pairs = Object.keys(all)
    .sort(byCodePoint)
    .map((key) => `${JSON.stringify(key)}:${canonicalJson(all[key])}`);
  return `{${pairs.join(",")}}`;
}

/** A text that UTF-8 can hold: halves of pairs become the sign for a lost letter. @param {string} text */
export const wellFormed = (text) => new TextDecoder().decode(new TextEncoder().encode(text));
