/** What this tab remembers until it is closed: words not sent yet, and where one was. The server has the rest. */

/** @param {string} name */
const keyOf = (name) => `${location.pathname}#${name}`;

/** @param {string} name @param {string} otherwise @returns {string} */
export function recalled(name, otherwise = "") {
  try {
    return sessionStorage.getItem(keyOf(name)) ?? otherwise;
  } catch {
    return otherwise; // storage refused: the page works without
  }
}

/** @param {string} name @param {string} value An empty one is forgotten. */
export function recall(name, value) {
  try {
    if (value) sessionStorage.setItem(keyOf(name), value);
    else sessionStorage.removeItem(keyOf(name));
  } catch {
    // storage refused or full: nothing else depends on it
  }
}
