/** What the customer marks and writes in a page that is a file: kept by the browser, or else by the page. */

/** @import {Comment} from "../customer/words.js" */
/** @typedef {{favourites: number[], comments: Comment[]}} Kept */

/** @param {string} id of the proposal @param {Kept} sent marks and notes at the time it was sent */
export function createKept(id, sent) {
  const key = `presolder ${id}`;
  let kept = sent,
    keeps = true;
  try {
    const { favourites, comments } = JSON.parse(localStorage.getItem(key) ?? "{}");
    if (Array.isArray(favourites) && Array.isArray(comments)) kept = { favourites, comments };
    localStorage.setItem(key, JSON.stringify(kept));
  } catch {
    keeps = false;
  }
  return {
    get: () => kept,
    /** Whether it is still there after a reload. */
    keeps: () => keeps,
    /** @param {Partial<Kept>} change */
    set(change) {
      kept = { ...kept, ...change };
      try {
        localStorage.setItem(key, JSON.stringify(kept));
        keeps = true;
      } catch {
        keeps = false; // no storage or full: the page says so
      }
    },
  };
}
