/**
 * The pieces of a page that is a file: sounds, pictures and what turns knobs, as text in the page or in
 * scripts beside it. A page opened as a file may load a script but not read the bytes of a file.
 */

import { inflate } from "./inflate.js";

/** @import {ReadFile} from "../customer/source.js" */

const LOOK_AGAIN_MS = 50;
/** @type {Map<string, (text: string) => void>} Scripts under way, by the piece they bring. */
const waiting = new Map();

/**
 * Each script beside the page calls this with its piece in base 64.
 * @param {string} name @param {string} text
 */
function receivePiece(name, text) {
  waiting.get(name)?.(text);
}
Object.assign(window, { presolderPiece: receivePiece });

/** @param {string} name @param {string} address of its script @returns {Promise<string>} */
function loadScript(name, address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    const end = () => {
      script.remove();
      waiting.delete(name);
      // no effect once resolved
      reject(new Error(`${address} could not be loaded`));
    };
    waiting.set(name, resolve);
    script.onload = script.onerror = end;
    script.src = address;
    document.head.append(script);
  });
}

/** The text of a piece in the page. A long page may still be on its way. @param {string} name */
async function findText(name) {
  for (;;) {
    const element = document.getElementById(`piece-${name}`);
    const isLoaded = document.readyState !== "loading";
    if (element && (isLoaded || element.nextElementSibling)) return element.textContent ?? "";
    if (isLoaded) throw new Error(`${name} is not in this file`);
    await new Promise((resolve) => {
      setTimeout(resolve, LOOK_AGAIN_MS);
    });
  }
}

/**
 * The scripts beside the page. A piece is cut into parts; one shorter than `part` is the last.
 * @typedef {object} Folder
 * @property {string} path
 * @property {number} part  bytes
 * @property {{name: string, seconds: number}} first  the sound that is heard first: its beginning lies in
 *   the page, the rest beside it in one part; seconds: of all of it
 */

const HEAD = "head";

/** @param {string} text in base 64 */
const bytesOf = (text) => Uint8Array.from(atob(text.trim()), (sign) => sign.charCodeAt(0));

/**
 * A promise that also ends when a signal says so.
 * @template T @param {Promise<T>} promise @param {AbortSignal} signal @returns {Promise<T>}
 */
const unlessStopped = (promise, signal) =>
  new Promise((resolve, reject) => {
    const stop = () => reject(signal.reason);
    if (signal.aborted) stop();
    signal.addEventListener("abort", stop, { once: true });
    promise.then(resolve, reject);
  });

/** @param {Folder | null} folder  null if the page holds its pieces */
export function createPieces(folder) {
  /** Parts asked for and not taken yet, by whoever was stopped. @type {Map<string, Promise<string>>} */
  const coming = new Map();
  /** Settles when the first sound is whole: until then it has the line for itself. */
  let begun = Promise.resolve();

  /** @param {Folder} beside @param {string} part @param {AbortSignal} signal */
  async function takePart({ path }, part, signal) {
    const loading = coming.get(part) ?? loadScript(part, `${path}/${encodeURIComponent(part)}.js`);
    coming.set(part, loading);
    // the next call tries again
    loading.catch(() => coming.delete(part));
    const text = await unlessStopped(loading, signal);
    coming.delete(part);
    return bytesOf(text);
  }

  /** @param {Folder} beside @type {(...all: [Folder, ...Parameters<ReadFile>]) => Promise<void>} */
  async function readParts(beside, name, { from, signal, onPiece }) {
    const head = name === beside.first.name ? bytesOf(await findText(HEAD)) : new Uint8Array();
    if (from === 0 && head.length) onPiece(head, 0, 0);
    for (let at = Math.max(from, head.length); ;) {
      const k = (at - head.length) / beside.part,
        bytes = await takePart(beside, k ? `${name}.${k}` : name, signal);
      onPiece(bytes, at, 0);
      // what began in the page comes in one part
      if (head.length || bytes.length < beside.part) return;
      at += bytes.length;
    }
  }

  /** @type {ReadFile} */
  async function readFile(name, how) {
    if (!folder) {
      const bytes = bytesOf(await findText(name));
      how.onPiece(bytes, 0, bytes.length);
      return;
    }
    const reading = readParts(folder, name, how);
    if (name === folder.first.name) begun = reading.catch(() => undefined);
    await reading;
  }

  return {
    readFile,
    /** The beginning of a sound, if it comes before the rest. @param {string} name */
    getHead: (name) =>
      name === folder?.first.name
        ? findText(HEAD).then((text) => ({ bytes: bytesOf(text).buffer, seconds: folder.first.seconds }))
        : null,
    /** What a piece of text says, once the first sound is whole. @param {string} name */
    async getText(name) {
      await begun;
      /** @type {Uint8Array<ArrayBuffer>[]} */
      const parts = [];
      const { signal } = new AbortController();
      await readFile(name, { from: 0, signal, onPiece: (bytes) => parts.push(bytes) });
      return inflate(parts);
    },
  };
}
