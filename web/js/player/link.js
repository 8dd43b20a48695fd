/**
 * Requests the filters of settings: over the live connection, or by single requests while it is down.
 * One request is under way at a time. Of those that wait, the newest wins. After a break the newest is
 * sent again.
 */

/** @import {Draft, Problem, Setting} from "../shared/types.js" */
/** @typedef {"live" | "fallback" | "offline"} LinkState */
/** @typedef {{draft: Draft, setting: Setting, take?: string, through?: {way: string, lowered_db: number}}}
 *   Wanted  Without a way it is heard direct. */
/**
 * @typedef {object} Api
 * @property {(on: {frame: (frame: ArrayBuffer) => void, problems: (id: number, problems: Problem[]) => void,
 *   open: (open: boolean) => void}) => {send: (ask: any) => boolean, close: () => void}} openLive
 * @property {(draft: Draft, setting: Setting, take: string | undefined, through: Wanted["through"]) =>
 *   Promise<ArrayBuffer>} getFilters
 *   With a take the answer also has its level, and waits until the take has been rendered.
 */

/** Time to wait for an answer before the next request goes out, ms. */
const PATIENCE = 3000;
const RETRY = 1000;
/** Time to wait for a level before requesting the filters without it, ms. */
const LEVEL_PATIENCE = 400;
/** Settings kept until their answers arrive. */
const MOST_ASKED = 256;

/**
 * @param {{api: Api, onFrame: (frame: ArrayBuffer, id: number, wanted: Wanted) => void,
 *   onProblems?: (id: number, problems: Problem[]) => void, onState?: (state: LinkState) => void}} options
 */
export function createLink({ api, onFrame, onProblems, onState }) {
  let id = 0,
    delivered = 0,
    levelling = false,
    open = false,
    closed = false,
    byRequest = false,
    retry = 0,
    patience = 0;
  /** @type {Wanted | null} The newest setting, sent again after a break. */
  let newest = null;
  let wanted = false,
    flying = 0;
  /** @type {Map<number, Wanted>} Settings that may still be answered, by number. */
  const asked = new Map();
  /** @type {LinkState | null} */
  let state = null;

  /** @param {LinkState} now */
  function become(now) {
    if (now !== state && !closed) onState?.((state = now));
  }

  const live = api.openLive({
    frame(frame) {
      const answered = new DataView(frame).getFloat64(0, true);
      deliver(frame, answered);
      landed();
    },
    problems(answered, problems) {
      if (answered === id || answered === null) onProblems?.(id, problems);
      landed();
    },
    open(now) {
      open = now;
      flying = 0;
      wanted = newest !== null;
      if (now) become("live");
      go();
    },
  });

  /** Pass a frame on unless a newer one has arrived: while a knob moves, a late frame is better than none.
   * @param {ArrayBuffer} frame @param {number} answered */
  function deliver(frame, answered) {
    if (answered < delivered || closed) return;
    delivered = answered;
    for (const number of asked.keys()) if (number < answered) asked.delete(number);
    const wanted = asked.get(answered);
    if (wanted) onFrame(frame, answered, wanted);
  }

  function landed() {
    flying = 0;
    clearTimeout(patience);
    go();
  }

  function go() {
    if (closed || !wanted || !newest) return;
    if (!open) return void request();
    if (flying) return;
    if (!live.send({ id, ...newest })) return void request();
    wanted = false;
    flying = id;
    clearTimeout(patience);
    patience = window.setTimeout(landed, PATIENCE);
  }

  async function request() {
    if (byRequest || !newest) return;
    byRequest = true;
    wanted = false;
    const now = newest,
      mine = id;
    try {
      arrived(await answer(now, mine), mine);
    } catch (error) {
      refused(error, mine);
    }
    byRequest = false;
    go();
  }

  /** The whole answer, or only the filters if the level takes long. The level then follows by itself.
   * @param {Wanted} wanted @param {number} mine */
  async function answer({ draft, setting, take, through }, mine) {
    if (take === undefined || levelling) return api.getFilters(draft, setting, undefined, through);
    const whole = api.getFilters(draft, setting, take, through),
      late = Symbol();
    const first = await Promise.race([
      whole,
      new Promise((resolve) => setTimeout(resolve, LEVEL_PATIENCE, late)),
    ]);
    if (first !== late) return first;
    levelling = true;
    const over = () => {
      levelling = false;
    };
    whole.then((frame) => {
      over();
      if (mine === delivered) arrived(frame, mine);
      else again(); // the newest still needs its level, and the take is rendered now
    }, over);
    return api.getFilters(draft, setting, undefined, through);
  }

  function again() {
    wanted = newest !== null;
    go();
  }

  /** @param {ArrayBuffer} frame @param {number} mine */
  function arrived(frame, mine) {
    if (!open) become("fallback");
    new DataView(frame).setFloat64(0, mine, true);
    deliver(frame, mine);
  }

  /** @param {any} error @param {number} mine */
  function refused(error, mine) {
    if (error?.status > 0 && error.status < 500) {
      if (!open) become("fallback");
      onProblems?.(mine, error.problems ?? []);
      return;
    }
    become("offline");
    clearTimeout(retry);
    retry = window.setTimeout(() => {
      wanted = true;
      go();
    }, RETRY);
  }

  return {
    /** @param {Wanted} setting  @returns {number} its number, which its frame carries */
    ask(setting) {
      newest = setting;
      wanted = true;
      id += 1;
      asked.set(id, setting);
      asked.delete(id - MOST_ASKED);
      go();
      return id;
    },
    get state() {
      return state;
    },
    close() {
      closed = true;
      clearTimeout(retry);
      clearTimeout(patience);
      live.close();
    },
  };
}
