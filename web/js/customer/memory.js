/** The memory of this tab: unsent words and the last choices. The server has the rest. */

/** All of it, where the browser keeps nothing until the page is left. @type {Map<string, string>} */
const held = new Map();

/** @param {string} name */
const keyOf = (name) => `${location.pathname}#${name}`;

/** @param {string} name @param {string} otherwise @returns {string} */
export function recall(name, otherwise = "") {
  let kept = held.get(name);
  try {
    kept ??= sessionStorage.getItem(keyOf(name)) ?? undefined;
  } catch {
    // no storage: the page works without it
  }
  return kept ?? otherwise;
}

/** @param {string} name @param {string} value empty to forget it */
export function remember(name, value) {
  if (value) held.set(name, value);
  else held.delete(name);
  try {
    if (value) sessionStorage.setItem(keyOf(name), value);
    else sessionStorage.removeItem(keyOf(name));
  } catch {
    // no storage or full: nothing else depends on it
  }
}
