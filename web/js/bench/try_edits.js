/** Apply edits one after another, each only if the whole wiring is valid with it. */

import * as api from "./api.js";
import { inTurn } from "../session/changes.js";
import { withEdit } from "../session/compare.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit, Problem} from "../shared/types.js" */

/**
 * Check edits together with all edits before them, and apply them if they are valid. A wiring that lacks a
 * jack or its coils can be edited further.
 * @param {Session} session
 * @param {() => Edit[]} makeEdits  called when the edits before have been answered
 * @param {() => void} [onApplied]  called before the next edits are made
 * @returns {Promise<Problem[]>}  Empty if the edits were applied.
 */
export const tryEdits = (session, makeEdits, onApplied = () => {}) =>
  inTurn(session, async (requireSameSound) => {
    const { version } = session.slot(),
      edits = makeEdits();
    const check = await api.checkDraft({ version, edits: edits.reduce(withEdit, session.slot().edits) });
    requireSameSound();
    if (!check.ok && !check.missing.length) return check.problems;
    session.edit(...edits);
    onApplied();
    return [];
  });
