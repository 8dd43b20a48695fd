/** Mouse and fingers on the drawing: what a press begins, what a tap is meant for. */

/** @import {Board, Hold, Meant} from "./drawing_board.js" */

/** A pointer that moves less has tapped, px. */
const STILL = 5;
/** A finger finds a lug this near, px. */
const NEAR = 22;
/** Where a finger looks for a wire, px. */
const BESIDE = [[0, -7], [7, 0], [0, 7], [-7, 0], [0, -13], [13, 0], [0, 13], [-13, 0]]; // prettier-ignore

/** What an element of the drawing stands for. @param {EventTarget | null} target @returns {Meant} */
export function meantBy(target) {
  const at = target instanceof Element ? target : null;
  /** @param {string} name */
  const near = (name) => {
    const found = at?.closest(`[data-${name}]`);
    return found instanceof SVGElement || found instanceof HTMLElement ? found.dataset[name] : undefined;
  };
  return {
    lug: near("lug"),
    wire: near("wire"),
    step: near("step"),
    part: near("drawn"),
    grip: near("grip"),
  };
}

/**
 * The lug nearest to a pointer, if one is near.
 *
 * @param {Pick<Board, "shown" | "pointOf" | "zoom">} board @param {{clientX: number, clientY: number}} event
 * @returns {string | null}
 */
export function nearestLug(board, event) {
  const [x, y] = board.pointOf(event);
  let best = { far: NEAR / board.zoom(), lug: /** @type {string | null} */ (null) };
  for (const lug of board.shown()?.placed.lugs.values() ?? []) {
    const far = Math.hypot(lug.x - x, lug.y - y);
    if (lug.name && lug.name !== "casing" && far < best.far) best = { far, lug: lug.terminal };
  }
  return best.lug;
}

/** The wire next to a finger: it is thinner than one. @param {PointerEvent} event */
function wireBeside({ clientX, clientY }) {
  for (const [dx, dy] of BESIDE) {
    const { wire } = meantBy(document.elementFromPoint(clientX + dx, clientY + dy));
    if (wire) return wire;
  }
  return undefined;
}

/**
 * What a pointer means; a finger is led to the nearest lug, then to a wire beside it.
 *
 * @param {Board} board @param {PointerEvent} event @returns {Meant}
 */
function meantAt(board, event) {
  const meant = meantBy(event.target);
  if (event.pointerType !== "touch" || meant.lug || meant.step || meant.grip) return meant;
  const lug = nearestLug(board, event) ?? undefined;
  if (lug || meant.wire || meant.part) return { ...meant, lug };
  return { ...meant, wire: wireBeside(event) };
}

/** @param {Board} board */
export function listenForHands(board) {
  const { picture } = board;
  /** @type {{id: number, x: number, y: number, meant: Meant, hold: Hold | null, moved: boolean} | null} */
  let held = null;
  /** @param {PointerEvent} event */
  const begin = (event) => {
    const meant = meantAt(board, event);
    const hold = board.presses.reduce(
      (found, press) => found ?? press(meant, event),
      /** @type {Hold | null} */ (null),
    );
    return { id: event.pointerId, x: event.clientX, y: event.clientY, meant, hold, moved: false };
  };
  picture.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary || event.button > 0) return;
    held = begin(event);
    if (held.hold) picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener("pointermove", (event) => {
    if (held?.id === event.pointerId) {
      if (Math.hypot(event.clientX - held.x, event.clientY - held.y) >= STILL) held.moved = true;
      if (held.moved) held.hold?.move(event);
    } else if (event.pointerType !== "touch") {
      const { lug, wire, part } = meantBy(event.target);
      if (lug || wire || part) board.point({ lug, wire, part });
    }
  });
  picture.addEventListener("pointerleave", () => {
    if (!held) board.point(null);
  });
  picture.addEventListener("pointerup", (event) => {
    if (held?.id !== event.pointerId) return;
    const { meant, hold, moved } = held;
    held = null;
    if (hold && moved) return hold.drop();
    hold?.cancel();
    if (moved) return; // it has panned
    board.taps.some((tap) => tap(meant, event));
  });
  picture.addEventListener("pointercancel", () => {
    held?.hold?.cancel();
    held = null;
  });
  picture.addEventListener(
    "touchstart",
    (event) => {
      // a finger that holds something does not pan
      if (held?.hold && event.touches.length === 1) event.preventDefault();
    },
    { passive: false },
  );
}
