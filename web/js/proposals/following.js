/** Follow the proposals of a commission and show the customer's changes as they happen. */

import * as api from "./api.js";
import { ApiError } from "../shared/http.js";
import { newsOf, stateOf } from "./words.js";
import { toast } from "../shared/notices.js";

/** @import {Session} from "../session/session.js" */
/** @import {Proposal} from "../shared/types.js" */

/** Proposals followed at a time. Each holds a connection, and a browser allows six. */
const MOST = 2;
/** Pause after a failed request, ms. */
const AGAIN_MS = 4000;

/** Whether a customer can still say something. @param {Proposal | undefined} row */
const isHeard = (row) => ["open", "signed"].includes(stateOf(row));

/** The proposals of a commission, each with its answers. @param {string} commission */
async function listWithAnswers(commission) {
  const [proposals, answers] = await Promise.all([
    api.listProposals(commission),
    api.listAnswers(commission),
  ]);
  return proposals.map((row) => ({ ...row, answers: answers.filter(({ proposal }) => proposal === row.id) }));
}

/** @param {Session} session @returns {() => Promise<void>} reloads the list */
export function followProposals(session) {
  const { get, set, signal } = session;
  /** @type {Set<string>} */
  const followed = new Set();
  async function load() {
    const before = get().proposals;
    const proposals = await listWithAnswers(get().commission.id).catch(() => before);
    set({ proposals });
    for (const news of newsOf(before, proposals)) toast(news);
    for (const one of proposals.filter(isHeard)) {
      if (followed.size >= MOST || followed.has(one.id)) continue;
      followed.add(one.id);
      follow(one).finally(() => followed.delete(one.id));
    }
  }
  /** @param {Proposal} row */
  async function follow({ id, after = 0 }) {
    while (!signal.aborted && isHeard(get().proposals.find((row) => row.id === id))) {
      try {
        const news = await api.waitForProposal(id, after, signal);
        after = news.after;
        if (news.changed) await load();
      } catch (error) {
        if (signal.aborted || (error instanceof ApiError && [401, 404, 410].includes(error.status))) return;
        await new Promise((again) => setTimeout(again, AGAIN_MS));
      }
    }
  }
  load();
  return load;
}
