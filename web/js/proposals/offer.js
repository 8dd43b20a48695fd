/** The offer that is being made at the bench: its state, with undo, remembered by the session. */

import * as api from "./api.js";
import { newAlternative, soundsOf, USUAL_WAYS } from "./offering.js";
import { record, redo, startHistory, undo } from "../session/history.js";
import { hearingOf, placeOf } from "../session/session.js";
import { stopsOf } from "../session/stops.js";

/** @import {Known} from "./offering.js" */
/** @import {Check, Offering} from "../shared/types.js" */
/** @import {History} from "../session/history.js" */
/** @import {Session} from "../session/session.js" */

const KNOB_TOP = 10;

/** The parts of a wiring, without what it is plugged into. @param {Check["parts"]} parts */
const partNames = (parts) => parts.filter(({ kind }) => kind !== "load").map(({ name }) => name);

/** @typedef {ReturnType<typeof startOffer>} Offer */

/**
 * Start an offer: what was left, with undo. The session remembers it.
 * @param {Session} session @param {(error: unknown) => void} failed
 */
export function startOffer({ get, set }, failed) {
  /** @type {Map<string, Known>} */
  const known = new Map();
  const { draft, setting } = hearingOf(get()),
    { facts, check } = get();
  known.set(draft.version, {
    stops: stopsOf(facts),
    knobs: setting.knobs,
    switches: setting.switches,
    parts: partNames(check?.parts ?? []),
    coils: check?.coils.map(({ name }) => name) ?? [],
  });
  let now = beginning(get(), draft.version, /** @type {Known} */ (known.get(draft.version)));
  /** @type {History<Offering>} */
  let history = startHistory(now);
  let redraw = () => {},
    settled = () => {};
  const keep = (/** @type {Offering} */ next) => {
    now = next;
    set({ offering: next });
  };
  const go = (/** @type {History<Offering>} */ to) => {
    history = to;
    keep(to.now);
    redraw();
  };
  /** Learn of a wiring that is not on the bench. @param {string} version */
  async function learn(version) {
    if (known.has(version)) return;
    try {
      const [check, { positions }] = await Promise.all([api.checkVersion(version), api.getFacts(version)]);
      const found = {
        stops: stopsOf(positions),
        knobs: Object.fromEntries(check.knobs.map(({ name }) => [name, KNOB_TOP])),
        switches: {},
        parts: partNames(check.parts),
        coils: check.coils.map(({ name }) => name),
      };
      known.set(version, found);
      const whole = history.now === now,
        next = withSounds(now, version, found);
      history = { ...history, now: whole ? next : withSounds(history.now, version, found) };
      keep(next);
      redraw();
    } catch (error) {
      failed(error);
    }
  }
  return {
    known,
    now: () => now,
    canUndo: () => history.past.length > 0,
    canRedo: () => history.future.length > 0,
    /** @param {() => void} draw */
    onRedraw(draw) {
      redraw = draw;
    },
    /** While something is typed: kept, and a step once the field is left. @param {Offering} next */
    type: keep,
    /** @param {Offering} next */
    step: (next) => go(record(history, next)),
    /**
     * A step after which the fields stay: a press that leaves a field would miss new ones.
     * @param {Offering} next
     */
    settle(next) {
      history = record(history, next);
      keep(next);
      settled();
    },
    /** @param {() => void} then called after each step without a redraw */
    onSettled(then) {
      settled = then;
    },
    undo: () => go(undo(now === history.now ? history : record(history, now))),
    redo: () => go(redo(history)),
    /** Wirings whose parts are shown. @type {Set<string>} */
    unfolded: new Set(),
    /** Offer another wiring too. @param {string} version */
    add(version) {
      const next = { ...now, wirings: [...now.wirings, newAlternative(version)] },
        there = known.get(version);
      go(record(history, there ? withSounds(next, version, there) : next));
      void learn(version);
    },
    learn,
  };
}

/**
 * An offer whose wiring has a sound for each of its positions.
 * @param {Offering} offering @param {string} version @param {Known} known
 */
const withSounds = (offering, version, known) => ({
  ...offering,
  wirings: offering.wirings.map((one) =>
    one.version === version ? { ...one, sounds: soundsOf(one.sounds, known) } : one,
  ),
});

/**
 * The offer as it was left, with the wiring that is on the bench now.
 * @param {import("../session/session.js").State} state
 * @param {string} version on the bench @param {Known} known
 * @returns {Offering}
 */
function beginning({ commission, offering, takes, take }, version, known) {
  const of = (/** @type {string} */ one) => placeOf(commission, one)?.wiring.id,
    left = (offering?.wirings ?? []).filter((one) => of(one.version)),
    at = left.findIndex((one) => one.version === version),
    place = at >= 0 ? at : left.findIndex((one) => of(one.version) === of(version)),
    wirings =
      place >= 0
        ? left.map((one, k) => (k === place ? { ...one, version } : one))
        : [newAlternative(version)];
  const there = takes.filter(({ state }) => state !== "broken").map(({ id }) => id),
    chosen = (offering?.takes ?? [take]).filter((id) => there.includes(id));
  return withSounds(
    {
      title: offering?.title ?? commission.title,
      days: offering?.days ?? "30",
      ways: offering?.ways ?? USUAL_WAYS,
      takes: chosen.length ? chosen : there.filter((id) => id === take),
      wirings: wirings.filter((one, k) => k === place || one.version !== version || place < 0),
    },
    version,
    known,
  );
}
