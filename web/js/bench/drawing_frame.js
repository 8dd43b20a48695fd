/** How large the drawing is and which part of it is seen: wheel, pinch, keys, buttons. */

/** @import {Box} from "../drawing/types.js" */

const [LEAST_ZOOM, MOST_ZOOM] = [0.3, 3];
/** Below this a name cannot be read: the drawing is scrolled instead. */
const READABLE = 0.62;
/** Not even a low frame makes it smaller than this. */
const LEAST_READABLE = 0.56;
const MARGIN = 8;
/** How much a wheel's pixel zooms. */
const WHEEL = 0.0015;

/**
 * @param {SVGSVGElement} picture @param {HTMLElement} frame @param {() => Box | null} bounds of what is shown
 * @param {AbortSignal} signal ends the watch over the frame's size
 */
export function createFrame(picture, frame, bounds, signal) {
  let zoom = 1;
  let fitted = true;
  /** @type {[number, number]} */
  let corner = [0, 0];

  function size() {
    const box = bounds();
    if (!box) return;
    const [left, top, right, bottom] = box;
    const [wide, high] = [right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
    corner = [left - MARGIN, top - MARGIN];
    picture.setAttribute("viewBox", `${corner[0]} ${corner[1]} ${wide} ${high}`);
    picture.setAttribute("width", String(Math.round(wide * zoom)));
    picture.setAttribute("height", String(Math.round(high * zoom)));
  }

  function fit() {
    const box = bounds();
    if (!box || !frame.clientWidth) return;
    const [left, top, right, bottom] = box;
    const [wide, high] = [right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
    const whole = Math.min(frame.clientWidth / wide, frame.clientHeight / high);
    zoom = Math.max(whole, LEAST_READABLE, Math.min(READABLE, frame.clientHeight / high));
    fitted = true;
    size();
  }

  /**
   * @param {number} by @param {{clientX: number, clientY: number}} [at] what stays where it is; else the
   *   middle of the frame
   */
  function zoomBy(by, at) {
    const before = zoom;
    const seen = frame.getBoundingClientRect();
    const [x, y] = at
      ? [at.clientX - seen.left, at.clientY - seen.top]
      : [frame.clientWidth / 2, frame.clientHeight / 2];
    const old = picture.getBoundingClientRect();
    const [px, py] = [x + seen.left - old.left, y + seen.top - old.top];
    zoom = Math.min(MOST_ZOOM, Math.max(LEAST_ZOOM, zoom * by));
    fitted = false;
    size();
    const now = picture.getBoundingClientRect();
    const grown = zoom / before;
    frame.scrollLeft += now.left - seen.left + px * grown - x;
    frame.scrollTop += now.top - seen.top + py * grown - y;
  }

  frame.addEventListener(
    "wheel",
    (event) => {
      // a wheel without a key scrolls the page as everywhere, until one works on the drawing
      if (!event.ctrlKey && !frame.parentElement?.contains(document.activeElement)) return;
      event.preventDefault();
      zoomBy(Math.exp(-event.deltaY * WHEEL * (event.deltaMode ? 30 : 1)), event);
    },
    { passive: false },
  );

  /** @type {number | null} */
  let apart = null;
  /** @param {TouchEvent} event */
  const pinch = (event) => {
    if (event.touches.length !== 2) {
      apart = null;
      return;
    }
    event.preventDefault(); // two fingers zoom the drawing, not the page
    const [a, b] = event.touches;
    const far = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
    const at = { clientX: (a.clientX + b.clientX) / 2, clientY: (a.clientY + b.clientY) / 2 };
    if (apart) zoomBy(far / apart, at);
    apart = far;
  };
  for (const name of /** @type {const} */ (["touchstart", "touchmove", "touchend", "touchcancel"])) {
    frame.addEventListener(name, pinch, { passive: false });
  }

  const sized = new ResizeObserver(() => {
    if (fitted) fit();
  });
  sized.observe(frame);
  signal.addEventListener("abort", () => sized.disconnect());

  return {
    fit,
    zoomBy,
    zoom: () => zoom,
    /** After a paint: the whole again if it was, else as large as before. */
    refresh: () => (fitted ? fit() : size()),
    /** A point of the screen in the drawing's units. @param {{clientX: number, clientY: number}} event */
    pointOf({ clientX, clientY }) {
      const seen = picture.getBoundingClientRect();
      /** @type {[number, number]} */
      const point = [corner[0] + (clientX - seen.left) / zoom, corner[1] + (clientY - seen.top) / zoom];
      return point;
    },
  };
}
