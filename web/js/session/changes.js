/**
 * Things done to the wiring, such as solder or add: the server turns each into edits of the draft, for every
 * view that offers it. Everything that changes a draft by way of the server waits its turn here.
 */

import * as api from "./api.js";

/** @import {Session} from "./session.js" */
/** @import {Change, Changed} from "../shared/types.js" */

/** @type {WeakMap<Session, Promise<unknown>>} */
const queues = new WeakMap();

/**
 * Do something once all that was asked before has been answered.
 * @template T
 * @param {Session} session
 * @param {(requireSameSound: () => void) => Promise<T>} act  requireSameSound throws if another sound or
 *   version has been chosen meanwhile
 * @returns {Promise<T>}
 */
export function inTurn(session, act) {
  const { current } = session.get(),
    { version } = session.slot();
  const requireSameSound = () => {
    if (session.get().current !== current || session.slot().version !== version)
      throw new Error("Another sound or version was chosen before this was checked. Enter it again.");
  };
  const turn = (queues.get(session) ?? Promise.resolve()).then(() => {
    requireSameSound();
    return act(requireSameSound);
  });
  queues.set(
    session,
    turn.catch(() => undefined),
  );
  return turn;
}

/**
 * Do one thing to the wiring that plays, as one step of undo. It is heard at once.
 * @param {Session} session @param {Change} change
 * @returns {Promise<Changed>}  Throws the server's reason if it cannot be done.
 */
export const changeWiring = (session, change) =>
  inTurn(session, async (requireSameSound) => {
    for (;;) {
      const { version, edits } = session.slot();
      const done = await api.changeDraft({ version, edits }, change);
      requireSameSound();
      if (session.slot().edits !== edits) continue; // undone meanwhile
      session.replaceEdits(done.edits, done.name, done.missing);
      return done;
    }
  });
