/** One thing that a customer says: it has a name of its own, so that saying it twice changes nothing. */

import { newId } from "../shared/ids.js";

/**
 * @typedef {{kind: "favourite", number: number} | {kind: "unfavourite", number: number, seen: number}
 *   | {kind: "note", number: number | null, text: string} | {kind: "unwish", about: string}
 *   | {kind: "wish", number: number, knobs: Record<string, number>}} Said  seen: newest place that was shown
 * @typedef {Said & {id: string, written: string}} Operation
 */

/** @param {Said} said @returns {Operation} */
export const operationOf = (said) => ({ ...said, id: newId(), written: new Date().toISOString() });
