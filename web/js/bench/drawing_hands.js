/** Mouse and fingers on the drawing: a tap tells or flips, a pot is turned by dragging it up and down. */

/** Units of a knob for a pixel. */
const TRAVEL = 0.05;
/** A pointer that moves less has tapped. */
const STILL = 5;

/**
 * @typedef {object} Hands
 * @property {(key: string, back: boolean) => void} flip a switch
 * @property {(key: string) => string | null} knobOf the knob of a part, if it has one
 * @property {(knob: string) => number} valueOf
 * @property {(knob: string, value: number) => void} turn
 * @property {(what: {lug?: string, wire?: string, part?: string} | null) => void} tell
 */

/** What an element of the drawing stands for. @param {EventTarget | null} target */
export function meantBy(target) {
  const at = target instanceof Element ? target : null;
  /** @param {string} name */
  const near = (name) => {
    const found = at?.closest(`[data-${name}]`);
    return found instanceof SVGElement || found instanceof HTMLElement ? found.dataset[name] : undefined;
  };
  return { lug: near("lug"), wire: near("wire"), step: near("step"), part: near("drawn") };
}

/** @param {SVGSVGElement} picture @param {Hands} hands */
export function listenForHands(picture, hands) {
  /** @type {{id: number, y: number, knob: string | null, from: number, moved: boolean} | null} */
  let held = null;
  picture.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary) return;
    const { part, step, lug } = meantBy(event.target);
    const knob = part && !step && !lug ? hands.knobOf(part) : null;
    held = {
      id: event.pointerId,
      y: event.clientY,
      knob,
      from: knob ? hands.valueOf(knob) : 0,
      moved: false,
    };
    if (knob) picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener("pointermove", (event) => {
    if (held?.id === event.pointerId) {
      const up = held.y - event.clientY;
      if (Math.abs(up) >= STILL) held.moved = true;
      if (held.knob && held.moved) hands.turn(held.knob, held.from + up * TRAVEL);
    } else if (event.pointerType !== "touch") {
      const { lug, wire, part } = meantBy(event.target);
      if (lug || wire || part) hands.tell({ lug, wire, part });
    }
  });
  picture.addEventListener("pointerup", (event) => {
    const { lug, wire, step, part } = meantBy(event.target);
    const turned = held?.knob && held.moved;
    held = null;
    if (turned) return;
    if (step) hands.flip(step, event.shiftKey);
    else hands.tell(lug || wire || part ? { lug, wire, part } : null);
  });
  picture.addEventListener("pointercancel", () => {
    held = null;
  });
}
