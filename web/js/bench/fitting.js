/** Fit the setting to the controls of the wiring. */

import { changeSlot } from "../session/compare.js";
import { hearingOf } from "../session/session.js";

/** @import {State} from "../session/session.js" */
/** @import {Check, Draft, Edit} from "../shared/types.js" */

/** Fields of a part on which positions, knobs and switches depend. */
const CONTROLS = ["kind", "like", "positions", "contacts", "lugs", "poles", "function", "ganged"];

/** Whether an edit may add or remove positions, knobs or switches. @param {Edit} edit */
const isOfControls = ({ path, value }) =>
  ["renamed", "ganged", "selector", "output"].includes(path[0]) ||
  (path[0] === "parts" &&
    (path.length === 2 || (CONTROLS.includes(path[2]) && (path.length === 3 || value === null))));

/** @param {Draft} draft */
const controlsKey = ({ version, edits }) => JSON.stringify([version, edits.filter(isOfControls)]);

/**
 * Whether the setting is known to fit the draft. After a part has been added or removed it does only once the
 * server has said which controls there are; a setting with others would be refused.
 * @param {State} state
 */
export const isFitted = (state) =>
  !state.check ||
  !state.checked ||
  controlsKey(hearingOf(state).draft) === controlsKey(JSON.parse(state.checked));

/** The change that gives the current slot positions and knobs of its wiring. New knobs start at 10.
 * @param {State} state @param {Check} check @returns {Partial<State>} */
export function fits(state, check) {
  const slot = state.slots[state.current];
  const positions = check.positions.map(({ position }) => position);
  const knobs = Object.fromEntries(check.knobs.map(({ name }) => [name, slot.knobs[name] ?? 10]));
  const switches = Object.fromEntries(
    check.switches.map(({ name, positions: has }) => [
      name,
      has.includes(slot.switches[name]) ? slot.switches[name] : has[0],
    ]),
  );
  return changeSlot(state, {
    position: positions.includes(slot.position) ? slot.position : (positions[0] ?? ""),
    knobs,
    switches,
  });
}
