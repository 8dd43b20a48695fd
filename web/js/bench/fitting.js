/** Fit the setting to the controls of the wiring. */

import { changeSlot } from "../session/compare.js";

/** @import {State} from "../session/session.js" */
/** @import {Check} from "../shared/types.js" */

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
