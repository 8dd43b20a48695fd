/** What is typed is kept in its order, and judged as it was kept last. */

/** @import {Fields, Guitar} from "./api.js" */

/**
 * @param {object} of
 * @param {() => Fields} of.fields  as they stand in the page
 * @param {(fields: Fields) => Promise<Guitar>} of.keep
 * @param {() => Promise<Guitar>} of.judge
 */
export function createJudging({ fields, keep, judge }) {
  /** @type {Promise<unknown>} */
  let last = Promise.resolve();
  const keepNow = () => {
    const now = fields();
    const kept = last.then(() => keep(now));
    last = kept.catch(() => undefined); // whoever asked is told
    return kept;
  };
  return {
    keep: keepNow,
    /** Judge what stands in the page, after everything typed before is kept. */
    async judge() {
      await keepNow();
      return judge();
    },
  };
}

/** @param {Guitar} judged  what a judgement came back with */
export const changedText = ({ verdict }) => (verdict ? "" : "Something changed meanwhile: compare again.");
