/** Requests to the server. This is the only module that uses fetch, XMLHttpRequest or WebSocket. */

/** @import {Problem} from "./types.js" */

/** A refused or failed request, with the problems that the server names. */
export class ApiError extends Error {
  /** @param {number} status 0 if the server could not be reached @param {Problem[]} problems */
  constructor(status, problems) {
    super(problems.map(problemText).join(" ") || `The server answered ${status}.`);
    this.name = "ApiError";
    this.status = status;
    this.problems = problems;
  }
}

/** A problem as one sentence. @param {Problem} problem */
export function problemText({ where, got, allowed, hint }) {
  const text = [where, got && `got ${got}`, allowed && `allowed: ${allowed}`].filter(Boolean).join(": ");
  return hint ? `${text} (${hint}).` : `${text}.`;
}

/** @typedef {"there" | "gone" | "key"} Connection */
/** @type {Set<(state: Connection) => void>} */
const watchers = new Set();
/** @type {Connection} */
let connection = "there";

/**
 * Call a function when the server goes away, comes back or asks for its key.
 * @param {(state: Connection) => void} watcher @returns {() => void} stops the calls
 */
export function onConnection(watcher) {
  watchers.add(watcher);
  return () => watchers.delete(watcher);
}

/** @param {Connection} state */
function setConnection(state) {
  if (state === connection) return;
  connection = state;
  for (const watcher of watchers) watcher(state);
}

const ACCESS = "/api/access";

/** @returns {Promise<{needs_key: boolean, signed_in: boolean, tls: boolean}>} */
export const getAccess = () => requestJson("GET", ACCESS);
/** @param {string} key */
export const signIn = (key) => requestJson("POST", ACCESS, { body: { key } });

/**
 * @typedef {{body?: unknown, signal?: AbortSignal, keepalive?: boolean, from?: number}} Options  from: first
 *   byte of the answer that is wanted
 */

/** @param {string} method @param {string} path @param {Options} [options] @returns {Promise<Response>} */
export async function request(method, path, { body, signal, keepalive, from = 0 } = {}) {
  /** @type {Record<string, string>} */
  const headers = method === "GET" ? {} : { "X-Presolder": "1" };
  if (body !== undefined) headers["Content-Type"] = "application/json";
  if (from > 0) headers.Range = `bytes=${from}-`;
  const text = body === undefined ? undefined : JSON.stringify(body);
  let answer;
  try {
    answer = await fetch(path, { method, headers, signal, keepalive, body: text });
  } catch (error) {
    throw unreachable(error);
  }
  if (!answer.ok) throw await refusal(answer, path !== ACCESS);
  setConnection("there");
  return answer;
}

/**
 * The error for a server that does not answer. A request that the page stopped keeps its own.
 * @param {unknown} error
 */
function unreachable(error) {
  if (error instanceof DOMException && error.name === "AbortError") return error;
  setConnection("gone");
  return new ApiError(0, [
    { where: "the server", got: "no answer", allowed: "", hint: "the page tries again" },
  ]);
}

/**
 * @param {Response} answer @param {boolean} watched false for signing in: a wrong key there is no lost access
 */
async function refusal(answer, watched) {
  if (answer.status === 401 && watched) setConnection("key");
  else if (answer.status < 500) setConnection("there");
  const { problems } = await answer.json().catch(() => ({}));
  return new ApiError(answer.status, Array.isArray(problems) ? problems : []);
}

/**
 * Read an answer's body. The server may go away halfway.
 * @template T @param {Promise<T>} reading @returns {Promise<T>}
 */
const readWhole = (reading) => reading.catch((error) => Promise.reject(unreachable(error)));

/** @param {string} method @param {string} path @param {Options} [options] @returns {Promise<any>} */
export async function requestJson(method, path, options) {
  const answer = await request(method, path, options);
  return answer.status === 204 ? null : readWhole(answer.json());
}

/** @param {string} method @param {string} path @param {Options} [options] */
export async function requestBytes(method, path, options) {
  return readBytes(await request(method, path, options));
}

/** @param {string} url @param {AbortSignal} [signal] */
export const getBytes = (url, signal) => requestBytes("GET", url, { signal });

/**
 * @param {Response} answer @param {(share: number) => void} [onProgress] share of the bytes received, 0 to 1
 */
export async function readBytes(answer, onProgress) {
  const reader = onProgress && answer.body?.getReader();
  if (!reader) return readWhole(answer.arrayBuffer());
  const total = Number(answer.headers.get("Content-Length"));
  const parts = [];
  let received = 0;
  for (let part = await readWhole(reader.read()); part.value; part = await readWhole(reader.read())) {
    parts.push(part.value);
    received += part.value.length;
    onProgress(total > 0 ? Math.min(received / total, 1) : 0);
  }
  return new Blob(parts).arrayBuffer();
}

/**
 * Read a file piece by piece, or go on where a reading stopped.
 * @param {string} path
 * @param {{from: number, signal: AbortSignal, onPiece: (piece: Uint8Array<ArrayBuffer>, at: number, total:
 *   number) => void}} how  at: the place of a piece in the file; total: the file's bytes, 0 if unknown
 */
export async function readPieces(path, { from, signal, onPiece }) {
  const answer = await request("GET", path, { signal, from });
  // 200: all of it again
  let at = answer.status === 206 ? from : 0;
  const total = at + Number(answer.headers.get("Content-Length"));
  if (!answer.body) return onPiece(new Uint8Array(await readWhole(answer.arrayBuffer())), at, total);
  const reader = answer.body.getReader();
  for (let part = await readWhole(reader.read()); part.value; part = await readWhole(reader.read())) {
    onPiece(part.value, at, total);
    at += part.value.length;
  }
}

/**
 * Upload a file. XMLHttpRequest, because fetch does not report the progress of an upload.
 * @param {string} path @param {File} file @param {(share: number) => void} onProgress share sent, 0 to 1
 * @returns {{done: Promise<any>, stop: () => void}}
 */
export function upload(path, file, onProgress) {
  const sending = new XMLHttpRequest();
  const done = new Promise((resolve, reject) => {
    sending.open("POST", path);
    sending.setRequestHeader("X-Presolder", "1");
    sending.setRequestHeader("Content-Type", "application/octet-stream");
    sending.responseType = "json";
    sending.upload.onprogress = ({ lengthComputable, loaded, total }) =>
      onProgress(lengthComputable ? loaded / total : 0);
    sending.onload = () =>
      sending.status < 300
        ? resolve(sending.response)
        : reject(new ApiError(sending.status, sending.response?.problems ?? []));
    sending.onerror = () => reject(new ApiError(0, [{ where: "the server", got: "no answer", allowed: "" }]));
    sending.onabort = () => reject(new DOMException("stopped", "AbortError"));
    sending.send(file);
  });
  return { done, stop: () => sending.abort() };
}

/** @param {string} path @returns {WebSocket} */
export function openSocket(path) {
  return new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${path}`);
}

/** @param {Record<string, string | number | undefined>} values undefined ones are left out */
export const queryText = (values) =>
  new URLSearchParams(Object.entries(values).flatMap(([k, v]) => (v === undefined ? [] : [[k, String(v)]])));
