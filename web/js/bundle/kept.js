/** What the customer marks and writes in a page that is a file: kept by the browser, or else by the page. */

/**
 * @typedef {object} Kept
 * @property {number[]} favourites
 * @property {{id: string, number: number | null, text: string, when: string}[]} comments  written here
 * @property {{id: string, number: number, knobs: Record<string, number>, when: string}[]} wishes
 * @property {{number: number, take: string}[]} heard
 * @property {{of?: "wiring", number: number, name: string, date: string, when: string} | null} sign
 * @property {{of: string, text: string} | null} sealed  the last sealed text, and what it says
 * @property {import("./receipt.js").Receipt | null} receipt  what the workshop sent back
 */

/** Written and removed at once, to see whether the browser keeps anything. */
const TRIED = "presolder tried";

/** @param {string} id of the proposal @param {Kept} sent marks and notes at the time it was sent */
export function createKept(id, sent) {
  const key = `presolder ${id}`;
  let kept = sent,
    keeps = true;
  try {
    const before = JSON.parse(localStorage.getItem(key) ?? "{}");
    if (Array.isArray(before.favourites) && Array.isArray(before.comments)) kept = { ...sent, ...before };
    // writing `kept` here could replace what another tab keeps
    localStorage.setItem(TRIED, "");
    localStorage.removeItem(TRIED);
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
        // no storage or full: the page says so
        keeps = false;
      }
    },
  };
}
