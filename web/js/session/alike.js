/** What was asked of instruments built alike: remembered with the session. */

/**
 * @typedef {object} AlikeState
 * @property {boolean} cable  the players' cables differ too
 * @property {string[]} limits  in words, as the server reads them
 */

/** @returns {AlikeState} */
export const startAlike = () => ({ cable: true, limits: [] });
