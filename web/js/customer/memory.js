/** The memory of this tab: unsent words and the last choices. The server has the rest. */

/** @param {string} name */
const keyOf = (name) => `${location.pathname}#${name}`;

/** @param {string} name @param {string} otherwise @returns {string} */
export function recall(name, otherwise = "") {
  try {
    return sessionStorage.getItem(keyOf(name)) ?? otherwise;
  } catch {
    // no storage: the page works without it
    return otherwise;
  }
}

/** @param {string} name @param {string} value empty to forget it */
export function remember(name, value) {
  try {
    if (value) sessionStorage.setItem(keyOf(name), value);
    else sessionStorage.removeItem(keyOf(name));
  } catch {
    // no storage or full: nothing else depends on it
  }
}
