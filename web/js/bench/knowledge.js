/** Keep parts, facts, curves and sweeps in step with the current sound. */

import * as api from "./api.js";
import { ApiError, onConnection } from "../shared/http.js";
import { same } from "../shared/store.js";
import { fits, isFitted } from "./fitting.js";
import { createCache, latest } from "../shared/latest.js";
import { hearingOf, missingOf, withMissing } from "../session/session.js";

/** @import {Session} from "../session/session.js" */
/** @import {Fan, Problem, Response as Curves} from "../shared/types.js" */

/** Curves of a sweep: one for every half unit of travel. */
const FAN_STEPS = 21;
/** Interval between facts while a knob moves, ms: reading is slower than hearing. */
const FACTS_EVERY = 150;
/** Sweeps are redrawn after a rest of the hand, ms. */
const FANS_AFTER = 250;

/** @param {Session} session */
export function followFacts(session) {
  const { get, set, on, signal } = session;
  /** @type {{get: (key: string) => Curves | undefined, set: (key: string, value: Curves) => void}} */
  const curves = createCache(64);
  /** @param {unknown} error */
  const failed = (error) => {
    if (error instanceof ApiError && error.status !== 0) set({ problems: error.problems });
  };

  const askCheck = latest(
    async () => {
      const { draft } = hearingOf(get());
      const check = await api.checkDraft(draft, signal);
      const checked = JSON.stringify(draft);
      if (checked !== JSON.stringify(hearingOf(get()).draft)) return;
      const unfinished = withMissing(get().unfinished, draft, check.missing);
      set({ check, checked, unfinished, problems: check.problems, ...(check.ok ? fits(get(), check) : {}) });
    },
    { failed },
  );

  const askFacts = latest(
    async () => {
      const { draft, setting } = hearingOf(get());
      if (!setting.position || missingOf(get()).length || !isFitted(get())) return;
      const { positions } = await api.getFacts(draft, setting, signal);
      set({ facts: positions });
    },
    { spacing: FACTS_EVERY, failed },
  );

  /** Whether nothing can be asked of a slot yet. @param {number} k */
  const waits = (k) => missingOf(get(), k).length > 0 || (k === get().current && !isFitted(get()));

  const askCurves = latest(
    async () => {
      const asked = get().slots.map((_, k) => ({ ...hearingOf(get(), k), waits: waits(k) }));
      const { string } = get();
      const order = [get().current, ...asked.keys()];
      for (const k of order) {
        const { draft, setting } = asked[k] ?? {};
        if (!draft || !setting?.position || asked[k].waits) continue;
        const key = JSON.stringify([draft, setting, string]);
        if (!curves.get(key)) curves.set(key, await api.getResponse(draft, [setting], string, signal));
        const known = get().slots.map((_, j) => {
          const now = hearingOf(get(), j);
          return curves.get(JSON.stringify([now.draft, now.setting, string])) ?? get().curves[j] ?? null;
        });
        set({ curves: known });
      }
    },
    { failed },
  );

  const askFans = latest(
    async () => {
      const { check } = get();
      const { draft, setting } = hearingOf(get());
      if (!check?.ok || !setting.position || !isFitted(get())) return;
      /** @type {Record<string, Fan>} */
      const fans = {};
      for (const { name } of check.knobs)
        fans[name] = await api.getFan(draft, setting, name, FAN_STEPS, signal);
      set({ fans });
    },
    { failed },
  );

  let resting = 0;
  const fansSoon = () => {
    clearTimeout(resting);
    resting = window.setTimeout(askFans, FANS_AFTER);
  };
  const all = () => {
    askCheck();
    askFacts();
    askCurves();
    fansSoon();
  };
  let before = hearingOf(get()),
    waited = false; // for the controls of a wiring whose parts have changed
  on(["slots", "current", "before"], (state) => {
    const now = hearingOf(state);
    const drafted = JSON.stringify(now.draft) !== JSON.stringify(before.draft);
    const { position, switches } = now.setting;
    const moved = drafted || !same([position, switches], [before.setting.position, before.setting.switches]);
    before = now;
    if (moved) set({ fans: {} }); // the curves belong to another position
    if (drafted) askCheck();
    waited = waited || !isFitted(state);
    askFacts();
    askCurves();
    fansSoon();
  });
  on(["check", "checked"], (state) => {
    fansSoon();
    if (!waited || !isFitted(state)) return;
    waited = false;
    askFacts();
    askCurves();
  });
  on(["string"], askCurves);
  const stop = onConnection((state) => {
    if (state === "there") all();
  });
  signal.addEventListener("abort", () => {
    stop();
    clearTimeout(resting);
  });
  all();
}
