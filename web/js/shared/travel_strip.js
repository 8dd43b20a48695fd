/** A knob as a strip of travel, 0 to 10. Drag it, turn the wheel or press keys; a double click resets it. */

import { onTravel } from "./units.js";
import { knobInWords, plainName } from "./words.js";
import { h, s } from "./dom.js";

export const WIDE = 300,
  EDGE = 10,
  RAIL = 36;
/** Where a pot with a detent clicks, and how near to it a dragged knob falls in. The width is our own. */
const CLICK = 5,
  CLICK_WIDTH = 0.3;

/** A dragged value: near the click it is at the click. @param {number} value @param {boolean} clicks */
export const snapped = (value, clicks) => (clicks && Math.abs(value - CLICK) <= CLICK_WIDTH ? CLICK : value);

/** @param {number} value */
const place = (value) => EDGE + (value / 10) * (WIDE - 2 * EDGE);

/**
 * @param {object} knob
 * @param {string} knob.name
 * @param {() => number} knob.value
 * @param {(to: number) => void} knob.turn
 * @param {number} [knob.rest]  value after a double click
 * @param {SVGElement} [knob.behind]  drawn behind the rail
 * @param {() => boolean} [knob.clicks]  whether it has a detent in the middle, which keys step through
 */
export function travelStrip({ name, value, turn, rest = 10, behind, clicks = () => false }) {
  const used = s("line", { class: "used", x1: place(0), y1: RAIL, y2: RAIL });
  const handle = h("span", { class: "handle", "aria-hidden": "true" });
  const ticks = Array.from({ length: 21 }, (_, k) => `M${place(k / 2)} ${RAIL - 4}v${k % 2 ? -5 : -9}`).join(
    "",
  );
  const click = s("path", { class: "click", d: `M${place(CLICK)} ${RAIL - 7}l-4 -9h8z` });
  const strip = h(
    "div",
    {
      class: "strip",
      role: "slider",
      tabindex: 0,
      "aria-label": plainName(name),
      "aria-valuemin": 0,
      "aria-valuemax": 10,
      "data-knob": name,
    },
    s(
      "svg",
      { viewBox: `0 0 ${WIDE} 52`, preserveAspectRatio: "none", "aria-hidden": "true" },
      behind,
      s("path", { class: "ticks", d: ticks }),
      click,
      s("line", { class: "rail", x1: place(0), x2: place(10), y1: RAIL, y2: RAIL }),
      used,
    ),
    handle,
  );

  /** @param {PointerEvent} event */
  const valueAt = (event) => {
    const { left, width } = strip.getBoundingClientRect();
    const at = ((((event.clientX - left) / width) * WIDE - EDGE) / (WIDE - 2 * EDGE)) * 10;
    return onTravel(snapped(at, clicks()));
  };
  strip.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    strip.setPointerCapture(event.pointerId);
    strip.focus({ preventScroll: true });
    turn(valueAt(event));
  });
  strip.addEventListener("pointermove", (event) => {
    if (strip.hasPointerCapture(event.pointerId)) turn(valueAt(event));
  });
  strip.addEventListener("dblclick", () => turn(rest));
  strip.addEventListener(
    "wheel",
    (event) => {
      if (document.activeElement !== strip) return;
      event.preventDefault();
      turn(onTravel(value() + (event.deltaY < 0 ? 0.1 : -0.1)));
    },
    { passive: false },
  );
  strip.addEventListener("keydown", (event) => {
    const to = /** @type {Record<string, number>} */ ({
      ArrowRight: value() + 0.1,
      ArrowUp: value() + 0.1,
      ArrowLeft: value() - 0.1,
      ArrowDown: value() - 0.1,
      PageUp: value() + 1,
      PageDown: value() - 1,
      Home: 0,
      End: 10,
    })[event.key];
    if (to === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    turn(onTravel(to));
  });
  function update() {
    const now = value();
    strip.setAttribute("aria-valuenow", String(now));
    click.toggleAttribute("hidden", !clicks());
    strip.setAttribute(
      "aria-valuetext",
      knobInWords(name, now, clicks() && now === CLICK ? "at the click" : ""),
    );
    used.setAttribute("x2", String(place(now)));
    handle.style.left = `${(place(now) / WIDE) * 100}%`;
  }
  update();
  return { element: strip, update };
}
