/** Lists that several rooms of the page ask for. */

import { queryText, requestJson } from "./http.js";

/** @import {CommissionRow, LibraryPart, Take} from "./types.js" */

/** @param {string} search @param {boolean} archived @returns {Promise<CommissionRow[]>} */
export const listCommissions = (search, archived) =>
  requestJson("GET", `/api/commissions?${queryText({ search, archived: archived ? 1 : 0 })}`);
/** Takes by name; what their recordings hold may come later. @returns {Promise<Take[]>} */
export const listTakes = () => requestJson("GET", "/api/takes");
/**
 * One take, examined; still waiting if that takes the server long.
 * @param {string} take @param {AbortSignal} [signal] @returns {Promise<Take>}
 */
export const takeExamined = (take, signal) =>
  requestJson("GET", `/api/takes/${encodeURIComponent(take)}`, { signal });

const ROUND_MS = 5000;
/**
 * Have the takes examined that wait for it, one after another, the chosen one first. A take that the
 * server cannot finish is asked for again in the next round, so that it holds up no other.
 * @param {{takes: () => Take[], chosen?: () => string, found: (take: Take) => void, signal: AbortSignal}} how
 */
export async function examineTakes({ takes, chosen = () => "", found, signal }) {
  /** @type {Set<string>} */
  const tried = new Set();
  while (!signal.aborted) {
    const waiting = takes().filter(({ state }) => state === "waiting");
    if (waiting.length === 0) return;
    const fresh = waiting.filter(({ id }) => !tried.has(id)),
      next = fresh.find(({ id }) => id === chosen()) ?? fresh[0];
    if (!next) {
      tried.clear();
      await new Promise((done) => setTimeout(done, ROUND_MS));
      continue;
    }
    tried.add(next.id);
    const row = await takeExamined(next.id, signal).catch(() => next); // the server is away: later
    if (!signal.aborted) found(row);
  }
}
/** Generic parts to take values from. @returns {Promise<LibraryPart[]>} */
export const listLibraryParts = () => requestJson("GET", "/api/library");
