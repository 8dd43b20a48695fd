/**
 * A blind comparison: is X the one sound or the other?
 *
 * What X is in every trial is drawn before the first; right and wrong are not told before the last.
 */

export const LENGTHS = [8, 10, 12, 16];
/** Chance that guessing alone does as well: below this it counts as heard (a convention of statistics). */
export const LIMIT = 0.05;

/** @typedef {{draws: (0 | 1)[], answers: (0 | 1)[]}} Blind */

/** @param {number} trials one of `LENGTHS` @param {(count: number) => Uint8Array} random bytes @returns {Blind} */
export function startBlind(trials, random) {
  if (!LENGTHS.includes(trials)) throw new RangeError(`trials: got ${trials}, allowed: ${LENGTHS.join(", ")}`);
  return { draws: [...random(trials)].map((byte) => /** @type {0 | 1} */ (byte & 1)), answers: [] };
}

/** @param {Blind} blind @param {0 | 1} said @returns {Blind} */
export const answer = (blind, said) => (isOver(blind) ? blind : { ...blind, answers: [...blind.answers, said] });

/** @param {Blind} blind */
export const isOver = ({ draws, answers }) => answers.length >= draws.length;

/** What X is in the present trial. @param {Blind} blind @returns {0 | 1} */
export const hidden = ({ draws, answers }) => draws[Math.min(answers.length, draws.length - 1)];

/** The score, once there is one. @param {Blind} blind @returns {{right: number, trials: number, chance: number, needed: number, heard: boolean} | null} */
export function scoreOf(blind) {
  if (!isOver(blind)) return null;
  const trials = blind.draws.length;
  const right = blind.answers.filter((said, k) => said === blind.draws[k]).length;
  const chance = chanceOf(right, trials);
  return { right, trials, chance, needed: needed(trials), heard: chance < LIMIT };
}

/** Chance of at least so many right by guessing: the upper tail of the binomial at 1/2. @param {number} right @param {number} trials */
export function chanceOf(right, trials) {
  let ways = 0;
  for (let k = right; k <= trials; k += 1) ways += choose(trials, k);
  return ways / 2 ** trials;
}

/** Fewest right answers that guessing reaches in less than one of twenty tests. @param {number} trials */
export function needed(trials) {
  let right = trials;
  while (right > 0 && chanceOf(right - 1, trials) < LIMIT) right -= 1;
  return right;
}

/** @param {number} n @param {number} k */
function choose(n, k) {
  let ways = 1;
  for (let j = 1; j <= k; j += 1) ways = (ways * (n - k + j)) / j;
  return Math.round(ways);
}

/** The outcome said plainly. @param {NonNullable<ReturnType<typeof scoreOf>>} score */
export function verdict({ right, trials, chance, needed: fewest, heard }) {
  const often = chance >= 0.995 ? "always" : chance < 0.0005 ? "in fewer than 1 of 2000 tests" : `in ${oneOf(chance)}`;
  const found = `${right} of ${trials} right. Guessing does at least that well ${often}.`;
  return heard
    ? `${found} You can hear a difference between these two on this take, played this way.`
    : `${found} That is not enough to say you hear a difference (${fewest} of ${trials} would be). It does not show that there is none.`;
}

/** @param {number} chance */
const oneOf = (chance) => (chance > 0.1 ? `${Math.round(chance * 100)} of 100 tests` : `1 of ${Math.round(1 / chance)} tests`);
