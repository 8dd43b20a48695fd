/** Apply edits one after another, each only if the whole wiring is valid with it. */

import * as api from "./api.js";
import { withEdit } from "../session/compare.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit, Problem} from "../shared/types.js" */

/** @type {WeakMap<Session, Promise<unknown>>} */
const queues = new WeakMap();

/**
 * Check edits together with all edits before them, and apply them if they are valid.
 * @param {Session} session
 * @param {() => Edit[]} makeEdits  called when the edits before have been answered
 * @param {() => void} [onApplied]  called before the next edits are made
 * @returns {Promise<Problem[]>}  Empty if the edits were applied.
 */
export function tryEdits(session, makeEdits, onApplied = () => {}) {
  const { current } = session.get(),
    { version } = session.slot();
  const requireSameSound = () => {
    if (session.get().current !== current || session.slot().version !== version)
      throw new Error("Another sound or version was chosen before this was checked. Enter it again.");
  };
  const turn = (queues.get(session) ?? Promise.resolve()).then(async () => {
    requireSameSound();
    const edits = makeEdits();
    const check = await api.checkDraft({ version, edits: edits.reduce(withEdit, session.slot().edits) });
    requireSameSound();
    if (!check.ok) return check.problems;
    session.edit(...edits);
    onApplied();
    return [];
  });
  queues.set(
    session,
    turn.catch(() => undefined),
  );
  return turn;
}
