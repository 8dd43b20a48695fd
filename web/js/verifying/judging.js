/** What is typed is kept in its order, and judged as it was kept last. */

/**
 * @template Fields @template Now
 * @param {object} of
 * @param {() => Fields} of.fields  as they stand in the page
 * @param {(fields: Fields) => Promise<Now>} of.keep
 * @param {() => Promise<Now>} of.judge
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

/**
 * @param {unknown} found  what a judgement came back with; null: not of what stands there now
 * @param {string} [again]  what helps
 */
export const changedText = (found, again = "compare again") =>
  found ? "" : `Something changed meanwhile: ${again}.`;
