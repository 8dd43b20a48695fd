/**
 * Transfers over one line, one at a time, the most needed first. What is under way makes room for what is
 * needed more, and later goes on where it stood.
 */

/** @import {ReadFile} from "./source.js" */
/**
 * @typedef {object} Job
 * @property {string} file
 * @property {number} rank
 * @property {Uint8Array<ArrayBuffer>[]} pieces
 * @property {number} received  bytes
 * @property {(received: number) => void} onProgress
 * @property {(bytes: ArrayBuffer) => void} resolve
 * @property {(error: unknown) => void} reject
 */

/** What a file is needed for, the most urgent first. A preferred file comes before all. */
export const KNOBS = 1,
  AHEAD = 2;
const PREFERRED = 0;
/** A line is fast if a file of at least so many bytes comes at this rate, bytes per second. */
const TELLING_BYTES = 20_000,
  FAST_RATE = 300_000;

/**
 * @param {ReadFile} read
 * @param {{now?: () => number, isKept?: (file: string) => boolean}} [options]  now: ms; isKept: whether a
 *   file came from the browser's own store
 */
export function createLine(read, { now = () => performance.now(), isKept = wasKept } = {}) {
  /** @type {Job[]} */
  const jobs = [];
  /** @type {{job: Job, stop: AbortController} | null} */
  let running = null;
  /** @type {string[]} */
  let preferred = [];
  let fast = false;

  /** @param {Job} job */
  const rankOf = (job) => (preferred.includes(job.file) ? PREFERRED : job.rank);

  function settle() {
    const [best] = [...jobs].sort((one, other) => rankOf(one) - rankOf(other));
    if (!best || best === running?.job) return;
    if (!running) void run(best);
    // its end settles again
    else if (rankOf(best) < rankOf(running.job)) running.stop.abort();
  }

  /** @param {Job} job */
  const forget = (job) => jobs.splice(jobs.indexOf(job), 1);

  /** @param {Job} job */
  async function run(job) {
    const stop = new AbortController(),
      begun = now(),
      had = job.received;
    running = { job, stop };
    try {
      await read(job.file, {
        from: had,
        signal: stop.signal,
        onPiece(piece, at) {
          if (at === 0) job.pieces = [];
          job.pieces.push(piece);
          job.received = at + piece.length;
          job.onProgress(job.received);
        },
      });
      measure(job.file, job.received - had, now() - begun);
      forget(job);
      job.resolve(await new Blob(job.pieces).arrayBuffer());
    } catch (error) {
      if (!stop.signal.aborted) {
        forget(job);
        job.reject(error);
      }
    }
    running = null;
    settle();
  }

  /** @param {string} file @param {number} bytes @param {number} ms */
  function measure(file, bytes, ms) {
    if (bytes >= TELLING_BYTES && !isKept(file)) fast = (1000 * bytes) / Math.max(ms, 1) >= FAST_RATE;
  }

  return {
    /**
     * @param {string} file @param {number} rank @param {(received: number) => void} [onProgress] bytes
     * @returns {Promise<ArrayBuffer>}
     */
    get: (file, rank, onProgress = () => {}) =>
      new Promise((resolve, reject) => {
        jobs.push({ file, rank, pieces: [], received: 0, onProgress, resolve, reject });
        settle();
      }),
    /** These files come first, asked for already or later. @param {string[]} files */
    prefer(files) {
      preferred = files;
      settle();
    },
    /** Whether the line was fast of late; false before that is known. */
    isFast: () => fast,
  };
}

/** @param {string} file */
function wasKept(file) {
  const [entry] = performance.getEntriesByName(new URL(file, location.href).href, "resource").slice(-1);
  return /** @type {PerformanceResourceTiming | undefined} */ (entry)?.transferSize === 0;
}
