/**
 * What the customer said and the workshop does not have yet. Each operation has a place of its own in the
 * browser's store, so two tabs never overwrite each other; it leaves only when the server has it.
 */

import { ApiError } from "../shared/http.js";
import { operationOf } from "./operation.js";
import { newId } from "../shared/ids.js";
import { whyNot } from "./refusals.js";

/** @import {Operation, Said} from "./operation.js" */

/**
 * @typedef {{operation: Operation, order: number, why: string}} Entry  why: empty while it waits, else the
 *   reason why the server refused it
 * @typedef {{device: string, operations: Operation[]}} Request
 * @typedef {Pick<Storage, "getItem" | "setItem" | "removeItem" | "key" | "length">} Kept
 * @typedef {ReturnType<typeof createOutbox>} Outbox
 */

/** Of one request; the server takes no more. */
const MOST_AT_ONCE = 50;
/** Bytes of one request, well below what the server takes. */
const MOST_BYTES = 12_000;
const FIRST_RETRY_S = 1,
  LAST_RETRY_S = 60;
/** Statuses after which the same request may succeed later. */
const LATER = [0, 401, 403, 408, 429];

/**
 * @template Answer
 * @param {object} means
 * @param {string} means.name  of the conversation
 * @param {Kept | null} means.storage  null where the browser keeps nothing
 * @param {(request: Request) => Promise<Answer>} means.send
 * @param {(answer: Answer) => void} means.onAnswer  before the operations it has leave
 * @param {() => void} means.onChange
 * @param {(act: () => void, seconds: number) => unknown} [means.later]
 */
export function createOutbox({
  name,
  storage,
  send,
  onAnswer,
  onChange,
  later = (act, seconds) => setTimeout(act, 1000 * seconds),
}) {
  const beginning = `presolder said ${name} `;
  /** What the browser did not keep. @type {Map<string, Entry>} */
  const unkept = new Map();
  let keeps = storage !== null,
    sending = false,
    closed = false,
    fails = 0,
    // how many are sent one by one, to find the one that is refused
    alone = 0,
    retry = 0;
  const device = ownDevice();

  function ownDevice() {
    const key = `presolder device ${name}`;
    try {
      const before = storage?.getItem(key);
      if (before) return before;
      const made = newId();
      storage?.setItem(key, made);
      return made;
    } catch {
      keeps = false;
      return newId();
    }
  }

  /** @returns {Entry[]} in the order in which they were said */
  function entries() {
    const found = new Map(unkept);
    try {
      for (let k = 0; storage && k < storage.length; k += 1) {
        const key = storage.key(k) ?? "",
          entry = key.startsWith(beginning) && readEntry(storage.getItem(key));
        if (entry) found.set(entry.operation.id, entry);
      }
    } catch {
      keeps = false;
    }
    return [...found.values()].sort((a, b) => a.order - b.order);
  }

  /** @param {Entry} entry */
  function keep(entry) {
    const { id } = entry.operation;
    try {
      if (!storage) throw new Error("no storage");
      storage.setItem(beginning + id, JSON.stringify(entry));
      unkept.delete(id);
    } catch {
      // none, or full: the page says so
      keeps = false;
      unkept.set(id, entry);
    }
  }

  /** @param {string} id */
  function forget(id) {
    unkept.delete(id);
    try {
      storage?.removeItem(beginning + id);
    } catch {
      keeps = false;
    }
  }

  const waiting = () => entries().filter(({ why }) => !why);

  async function flush() {
    const due = waiting();
    if (sending || closed || due.length === 0) return;
    sending = true;
    // a later try that was planned has nothing to do
    retry += 1;
    const batch = alone > 0 ? due.slice(0, 1) : firstOf(due);
    try {
      const answer = await send({ device, operations: batch.map(({ operation }) => operation) });
      fails = 0;
      alone = Math.max(alone - 1, 0);
      for (const { operation } of batch) forget(operation.id);
      onAnswer(answer);
    } catch (error) {
      fail(error, batch);
    }
    sending = false;
    onChange();
    if (fails === 0) await flush();
  }

  /** @param {unknown} error @param {Entry[]} batch */
  function fail(error, batch) {
    const status = error instanceof ApiError ? error.status : 500,
      link = error instanceof ApiError && error.problems.some(({ where }) => where === "this link");
    if (status === 410 || (status === 404 && link)) {
      closed = true;
      fails += 1;
    } else if (LATER.includes(status) || status >= 500) {
      fails += 1;
      const mine = (retry += 1);
      later(
        () => {
          if (mine === retry) void flush();
        },
        Math.min(FIRST_RETRY_S * 2 ** (fails - 1), LAST_RETRY_S),
      );
    } else if (batch.length > 1) alone = batch.length;
    else {
      alone = Math.max(alone - 1, 0);
      const deed = batch[0].operation.kind === "note" ? "note" : "mark";
      keep({ ...batch[0], why: whyNot(error, deed) });
    }
  }

  return {
    device,
    entries,
    keeps: () => keeps,
    /** Whether the last try to send failed, so that the next one comes by and by. */
    fails: () => fails > 0,
    flush,
    /** @param {Said} said */
    add(said) {
      const last = entries().at(-1)?.order ?? 0;
      keep({ operation: operationOf(said), order: Math.max(Date.now(), last + 1), why: "" });
      onChange();
      void flush();
    },
    /** Send one again that was refused. @param {string} id */
    again(id) {
      const entry = entries().find(({ operation }) => operation.id === id);
      if (!entry) return;
      keep({ ...entry, why: "" });
      onChange();
      void flush();
    },
    /** Give one up that was refused. @param {string} id */
    drop(id) {
      forget(id);
      onChange();
    },
  };
}

/** @param {string | null} text @returns {Entry | null} */
function readEntry(text) {
  try {
    const entry = JSON.parse(text ?? "");
    return typeof entry?.operation?.id === "string" && typeof entry.order === "number" ? entry : null;
  } catch {
    // another page's, or damaged
    return null;
  }
}

/** As many as fit in one request. @param {Entry[]} due */
function firstOf(due) {
  let bytes = 0;
  const size = (/** @type {Entry} */ { operation }) =>
    new TextEncoder().encode(JSON.stringify(operation)).length;
  const fit = due
    .slice(0, MOST_AT_ONCE)
    .findIndex((entry, k) => (bytes += size(entry)) > MOST_BYTES && k > 0);
  return due.slice(0, fit < 0 ? MOST_AT_ONCE : fit);
}
