/** The map of sounds: a dot each, similar sounds close together. Pointer and keys play them at once. */

import { distance, dotAt, dotPath, inDirection, layOut, nearestOf, shapeOf, dotLabel } from "./sound_map.js";
import { cancellingInWords } from "./words.js";
import { fixed } from "../shared/units.js";
import { fill, h, s, say, uid } from "../shared/dom.js";

/** @import {SoundMap} from "./words.js" */

const PAD = 26,
  REACH = 24,
  TALLEST = 520;
const ABOUT =
  "Only distance counts: near dots sound alike, far dots differ. The axes have no meaning, but brighter sounds tend to the right. The rules exclude pale dots.";
const LEGEND = /** @type {const} */ ([
  ["disc full", "hum cancels"],
  ["disc hollow", "hums"],
  ["diamond full", "out of phase, hum cancels"],
  ["diamond hollow", "out of phase, hums"],
]);

/** A pin that stands on a place. @param {number} x @param {number} y */
const pinMark = (x, y) => s("path", { class: "pin", d: `M${x} ${y}v-9m-4 0h8l-2 -5h-4z` });

/**
 * @param {{hear: (sound: number) => void, at: (sound: number) => void}} ways  called with indexes of the
 *   map's points
 */
export function mapView({ hear, at }) {
  const dots = s("g", {}),
    numbers = s("g", { class: "above", "aria-hidden": "true" }),
    scale = s("g", { "aria-hidden": "true" }),
    ring = s("circle", { class: "at", r: 12, visibility: "hidden" });
  const picture = s(
    "svg",
    {
      class: "sound-map",
      role: "listbox",
      "aria-label": "Map of sounds. Arrow keys move to the nearest dot in that direction, Enter plays it.",
    },
    scale,
    dots,
    numbers,
    ring,
  );
  const tip = h("div", { class: "readout", "aria-hidden": "true", hidden: true });
  const note = h("p", { class: "soft small" }, ABOUT);
  const legend = h(
    "ul",
    { class: "legend small" },
    ...LEGEND.map(([shape, words]) =>
      h(
        "li",
        {},
        s(
          "svg",
          { viewBox: "-9 -9 18 18", "aria-hidden": "true" },
          s("path", { class: `dot ${shape}`, d: dotPath(shape.startsWith("diamond"), 5) }),
        ),
        words,
      ),
    ),
    h(
      "li",
      {},
      s("svg", { viewBox: "-9 -9 18 18", "aria-hidden": "true" }, pinMark(0, 5)),
      "pinned: every set has it",
    ),
  );
  const otherSet = h(
    "li",
    { hidden: true },
    s("svg", { viewBox: "-9 -9 18 18", "aria-hidden": "true" }, s("circle", { class: "compared", r: 7 })),
    "in the set without the condition",
  );
  legend.append(otherSet);
  /** @type {SoundMap | null} */
  let map = null;
  /** @type {number[]} */
  let chosen = [];
  /** @type {number[]} */
  let pinned = [];
  /** The members of another set. @type {number[]} */
  let compared = [];
  /** @type {SVGPathElement[]} */
  let drawn = [];
  let heardAt = -1,
    focus = 0,
    wide = 600,
    places = /** @type {{x: number, y: number}[]} */ ([]),
    perDb = 1;
  const name = uid("dot");

  /** @param {number} k */
  const nearest = (k) =>
    map && chosen.length && !chosen.includes(k)
      ? Math.min(...chosen.map((one) => distance(/** @type {SoundMap} */ (map), k, one)))
      : null;

  function lay() {
    if (!map) return;
    const { tall, perDb: scaled, places: found } = layOut(map.points, wide, TALLEST, PAD);
    [places, perDb] = [found, scaled];
    picture.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
    picture.style.height = `${tall}px`;
    drawn.forEach((dot, k) =>
      dot.setAttribute("transform", `translate(${places[k].x.toFixed(1)} ${places[k].y.toFixed(1)})`),
    );
    fill(
      scale,
      s("path", { class: "grid", d: `M${PAD} ${tall - 8}v-6m0 3h${5 * perDb}m0 -3v6` }),
      s("text", { x: PAD + 5 * perDb + 6, y: tall - 7 }, "5 dB apart"),
    );
    mark();
  }
  function mark() {
    if (!map) return;
    const { points } = map;
    drawn.forEach((dot, k) => {
      const number = chosen.indexOf(k) + 1;
      dot.setAttribute(
        "class",
        `dot ${shapeOf(points[k])}${number ? " chosen" : ""}${k === heardAt ? " heard" : ""}${points[k].allowed ? "" : " out"}`,
      );
      dot.setAttribute("d", dotPath(!points[k].in_phase, number || k === heardAt ? 7 : 4));
      dot.setAttribute("aria-selected", String(k === heardAt));
      dot.setAttribute("aria-label", dotLabel(points[k], number, null, pinned.includes(k)));
      dot.setAttribute("tabindex", k === focus ? "0" : "-1");
    });
    // drawn again, above all others
    const over = heardAt >= 0 && !chosen.includes(heardAt) ? [...chosen, heardAt] : chosen;
    fill(
      numbers,
      ...over.map((k) =>
        s("path", {
          class: drawn[k].getAttribute("class") ?? "",
          d: drawn[k].getAttribute("d") ?? "",
          transform: drawn[k].getAttribute("transform") ?? "",
        }),
      ),
      ...compared.map((k) => s("circle", { class: "compared", r: 11, cx: places[k].x, cy: places[k].y })),
      ...pinned.map((k) => pinMark(places[k].x, places[k].y - 11)),
      ...chosen.map((k, n) =>
        s("text", { class: "number", x: places[k].x + 9, y: places[k].y - 8 }, String(n + 1)),
      ),
    );
    ring.setAttribute("cx", String(places[focus]?.x ?? 0));
    ring.setAttribute("cy", String(places[focus]?.y ?? 0));
  }
  /** @param {number} k @param {boolean} grab */
  function go(k, grab) {
    if (!map || k < 0) return;
    drawn[focus]?.setAttribute("tabindex", "-1");
    focus = k;
    drawn[k].setAttribute("tabindex", "0");
    const away = nearest(k);
    drawn[k].setAttribute(
      "aria-label",
      dotLabel(map.points[k], chosen.indexOf(k) + 1, away, pinned.includes(k)),
    );
    ring.setAttribute("cx", String(places[k].x));
    ring.setAttribute("cy", String(places[k].y));
    ring.setAttribute("visibility", "visible");
    at(k);
    if (grab) drawn[k].focus({ preventScroll: true });
  }
  /** @param {MouseEvent} event */
  const under = (event) => {
    const box = picture.getBoundingClientRect();
    return dotAt(
      places,
      (event.clientX - box.left) * (wide / box.width),
      (event.clientY - box.top) * (wide / box.width),
      REACH,
    );
  };
  picture.addEventListener("pointermove", (event) => {
    const k = event.pointerType === "mouse" ? under(event) : -1;
    tip.hidden = k < 0 || !map;
    if (k < 0 || !map) return;
    const { expression, words, hum_cancelling: cancels } = map.points[k],
      number = chosen.indexOf(k) + 1,
      away = nearest(k);
    fill(
      tip,
      h("b", {}, number ? `${number}  ${expression}` : expression),
      h("div", {}, [...words, cancels ? "hum cancels" : "hums"].join(", ")),
      away === null ? null : h("div", {}, `${fixed(away)} dB from the nearest chosen`),
    );
    const share = picture.getBoundingClientRect().width / wide;
    const { x, y } = places[k];
    tip.style.top = `${Math.max(0, y * share - 76)}px`;
    tip.style.left = x < wide / 2 ? `${x * share + 14}px` : "auto";
    tip.style.right = x < wide / 2 ? "auto" : `${(wide - x) * share + 14}px`;
  });
  picture.addEventListener("pointerleave", () => {
    tip.hidden = true;
  });
  picture.addEventListener("click", (event) => {
    const k = under(event);
    if (k < 0) return;
    go(k, true);
    hear(k);
  });
  picture.addEventListener("focusin", (event) => {
    const k = drawn.indexOf(/** @type {SVGPathElement} */ (event.target));
    if (k >= 0) go(k, false);
  });
  picture.addEventListener("focusout", () => ring.setAttribute("visibility", "hidden"));
  picture.addEventListener("keydown", (event) => {
    if (!map || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Enter") {
      event.preventDefault();
      hear(focus);
      return;
    }
    const set = chosen.length ? chosen : [0];
    const turn = event.key === "PageDown" ? 1 : event.key === "PageUp" ? -1 : 0;
    const to = turn
      ? set[(set.indexOf(focus) + turn + (set.includes(focus) || turn > 0 ? 0 : 1) + set.length) % set.length]
      : event.key === "Home"
        ? set[0]
        : event.key === "End"
          ? set[set.length - 1]
          : inDirection(map.points, focus, event.key);
    if (to === focus && !event.key.startsWith("Arrow")) return;
    event.preventDefault();
    go(to, true);
  });
  const sized = new ResizeObserver(([{ contentRect }]) => {
    const next = Math.round(contentRect.width);
    if (next < 50 || next === wide) return;
    wide = next;
    lay();
  });
  sized.observe(picture);
  const frame = h("div", { class: "map-frame" }, picture, tip);
  const element = h("div", { class: "map-part", hidden: true }, frame, legend, note);
  return {
    element,
    close: () => sized.disconnect(),
    /** @param {SoundMap | null} found */
    show(found) {
      map = found;
      element.hidden = !found;
      if (!found) return;
      const focused = drawn.includes(/** @type {SVGPathElement} */ (document.activeElement));
      drawn = found.points.map((_, k) => s("path", { role: "option", id: `${name}-${k}`, tabindex: -1 }));
      fill(dots, ...drawn);
      focus = Math.min(focus, found.points.length - 1);
      const part =
        found.points.length < found.sounds
          ? `${found.points.length} of ${found.sounds} sounds are on the map, including the chosen ones. `
          : "";
      say(note, `${part}${ABOUT} ${cancellingInWords(found.hum_cancelling_db)}`);
      lay();
      if (focused) drawn[focus].focus({ preventScroll: true }); // the search draws the map anew as it goes
    },
    /** @param {number[]} members indexes of the set, in its order */
    choose(members) {
      const first = chosen.length === 0 && members.length > 0;
      chosen = members;
      if (first && document.activeElement?.parentElement !== /** @type {Element} */ (dots))
        focus = members[0];
      mark();
    },
    /** @param {number[]} members indexes of another set to show beside the chosen one */
    compare(members) {
      compared = members;
      otherSet.hidden = members.length === 0;
      mark();
    },
    /** @param {number[]} sounds indexes of the pinned sounds */
    pin(sounds) {
      pinned = sounds;
      mark();
    },
    /** @param {number} k index of the playing sound, -1 for none */
    markPlaying(k) {
      if (k !== heardAt) {
        heardAt = k;
        mark();
      }
    },
    nearest: (/** @type {number} */ k) => (map ? nearestOf(map, k, chosen) : null),
    /** @param {number} k */
    focusOn: (k) => go(k, false),
  };
}
