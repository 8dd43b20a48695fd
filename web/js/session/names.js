/** Short names of edits, which the server makes from its tables of fields. */

import * as api from "./api.js";
import { listNames, placeInWords } from "./compare.js";
import { same } from "../shared/store.js";

/** @import {Session} from "./session.js" */
/** @import {Draft, Edit} from "../shared/types.js" */

/** Names kept, the newest of them. */
const MOST_NAMES = 400;
/** Drafts in a request. */
const AT_ONCE = 16;

/** @param {string} version @param {Edit} edit */
const keyOf = (version, { path, value }) => JSON.stringify([version, path, value]);

/**
 * A function that names edits: by the server's words, or by their place before these are known.
 * @param {Record<string, string>} names @returns {(version: string, edit: Edit) => string}
 */
export const namesIn = (names) => (version, edit) => names[keyOf(version, edit)] ?? placeInWords(edit.path);

/**
 * Have the names of drafts' edits, as far as they are not known.
 * @param {Session} session @param {Draft[]} drafts
 */
export async function learnNames({ get, set }, drafts) {
  const unknown = drafts.filter(({ version, edits }) =>
    edits.some((edit) => !(keyOf(version, edit) in get().names)),
  );
  for (let at = 0; at < unknown.length; at += AT_ONCE) {
    const some = unknown.slice(at, at + AT_ONCE).map(({ version, edits }) => ({ version, edits }));
    const { names } = await api.getEditNames(some);
    const found = some.flatMap(({ version, edits }, k) =>
      edits.map((edit, n) => [keyOf(version, edit), names[k][n]]),
    );
    set({ names: Object.fromEntries([...Object.entries(get().names), ...found].slice(-MOST_NAMES)) });
  }
}

/** Keep the names of all slots' edits. @param {Session} session */
export function followNames(session) {
  const { get, on } = session;
  let asked = "";
  const learn = () => {
    const drafts = get().slots.map(({ version, edits }) => ({ version, edits })),
      next = JSON.stringify(drafts);
    if (next === asked) return;
    asked = next;
    learnNames(session, drafts).catch(() => {
      asked = ""; // the server is away: with the next change
    });
  };
  on(["slots"], learn);
  learn();
}

/** @param {string} version @param {Edit[]} before @param {Edit[]} after */
const stepKey = (version, before, after) => JSON.stringify([version, before, after]);

/**
 * Names with that of a step: what was done to go from some edits to others.
 * @param {Record<string, string>} names @param {string} version @param {Edit[]} before @param {Edit[]} after
 * @param {string} words
 */
export const withStep = (names, version, before, after, words) =>
  Object.fromEntries([...Object.entries(names), [stepKey(version, before, after), words]].slice(-MOST_NAMES));

/**
 * What a step back or forward changed, in words.
 * @param {Record<string, string>} names @param {string} version @param {Edit[]} before @param {Edit[]} after
 */
export function stepInWords(names, version, before, after) {
  const done = names[stepKey(version, before, after)] ?? names[stepKey(version, after, before)];
  if (done) return done;
  const lost = before.filter((one) => !after.some((other) => same(one, other))),
    won = after.filter((one) => !before.some((other) => same(one, other)));
  const name = namesIn(names);
  return listNames((lost.length ? lost : won).map((edit) => name(version, edit)));
}
