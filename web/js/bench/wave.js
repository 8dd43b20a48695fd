/** The waveform of the take, its loop and the playing position. */

import * as api from "./api.js";
import { latest } from "../shared/latest.js";
import { fixed, showSeconds } from "../shared/units.js";
import { fill, h, s } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */

const SHORTEST_S = 0.2;
/** A shorter drag counts as a click, px. */
const SLIP = 6;

/** @param {Session} session @param {(seconds: number) => void} seek */
export function waveView(session, seek) {
  const { get, set, on, setLoop, signal } = session;
  const bars = s("path", { class: "bars" }),
    inside = s("path", { class: "bars inside" });
  const region = s("rect", { class: "region", y: 0, height: 48 }),
    head = s("line", { class: "head", y1: 0, y2: 48 });
  const picture = s(
    "svg",
    { viewBox: "0 0 400 48", preserveAspectRatio: "none", "aria-hidden": "true" },
    region,
    bars,
    inside,
    head,
  );
  const grips = /** @type {const} */ ([0, 1]).map(grip);
  const view = h(
    "div",
    { class: "wave", title: "Click to go there; drag to loop a part; double-click for the whole take" },
    picture,
    ...grips,
  );
  /** @type {{seconds: number, peaks: number[]}} */
  let seen = { seconds: 0, peaks: [] };

  const length = () => seen.seconds || get().takes.find(({ id }) => id === get().take)?.seconds || 1;
  /** @returns {[number, number]} */
  const loop = () => get().loops[get().take] ?? [0, length()];

  const load = latest(
    async () => {
      const { take, slots, current } = get();
      if (!take || !slots[current].version) return;
      seen = await api.getOverview(take, slots[current].version, signal);
      show();
    },
    { failed: () => {} },
  );

  function show() {
    const { peaks } = seen,
      step = 400 / Math.max(1, peaks.length),
      [from, to] = loop(),
      all = length();
    const shapes = { in: "", out: "" };
    peaks.forEach((peak, k) => {
      const at = ((k + 0.5) / peaks.length) * all,
        x = ((k + 0.5) * step).toFixed(2),
        tall = Math.max(0.6, peak * 23);
      shapes[at >= from && at <= to ? "in" : "out"] +=
        `M${x} ${(24 - tall).toFixed(1)}V${(24 + tall).toFixed(1)}`;
    });
    bars.setAttribute("d", shapes.out);
    inside.setAttribute("d", shapes.in);
    region.setAttribute("x", String((from / all) * 400));
    region.setAttribute("width", String(get().loops[get().take] ? ((to - from) / all) * 400 : 0));
    grips.forEach((element, k) => {
      element.style.left = `${(loop()[k] / all) * 100}%`;
      element.setAttribute("aria-valuemax", fixed(all, 2));
      element.setAttribute("aria-valuenow", loop()[k].toFixed(2));
      element.setAttribute("aria-valuetext", showSeconds(loop()[k]));
    });
    showHead();
  }
  function showHead() {
    const x = String(Math.min(1, get().head / length()) * 400);
    head.setAttribute("x1", x);
    head.setAttribute("x2", x);
  }
  /** @param {0 | 1} end @param {number} seconds */
  function move(end, seconds) {
    const [from, to] = loop(),
      all = length();
    const at = Math.min(all, Math.max(0, seconds));
    const next = /** @type {[number, number]} */ (
      end === 0 ? [Math.min(at, to - SHORTEST_S), to] : [from, Math.max(at, from + SHORTEST_S)]
    );
    setLoop(next[0] <= 0.005 && next[1] >= all - 0.005 ? null : next);
  }
  /** @param {0 | 1} end */
  function grip(end) {
    const element = h("div", {
      class: "grip",
      role: "slider",
      tabindex: 0,
      "aria-label": end === 0 ? "Loop from" : "Loop to",
      "aria-valuemin": 0,
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        const steps = /** @type {Record<string, number>} */ ({
          ArrowLeft: -0.1,
          ArrowDown: -0.1,
          ArrowRight: 0.1,
          ArrowUp: 0.1,
          PageDown: -1,
          PageUp: 1,
          Home: -1e6,
          End: 1e6,
        });
        if (!(event.key in steps)) return;
        event.preventDefault();
        move(end, loop()[end] + steps[event.key]);
      },
      onpointerdown: (/** @type {PointerEvent} */ event) => {
        event.stopPropagation();
        element.setPointerCapture(event.pointerId);
      },
      onpointermove: (/** @type {PointerEvent} */ event) => {
        if (element.hasPointerCapture(event.pointerId)) move(end, secondsAt(event));
      },
    });
    return element;
  }
  /** @param {PointerEvent} event */
  function secondsAt(event) {
    const { left, width } = view.getBoundingClientRect();
    return ((event.clientX - left) / width) * length();
  }
  let start = NaN;
  view.addEventListener("pointerdown", (event) => {
    start = secondsAt(event);
    view.setPointerCapture(event.pointerId);
  });
  view.addEventListener("pointermove", (event) => {
    if (Number.isNaN(start) || (event.target instanceof Element && event.target.closest(".grip"))) return;
    const now = Math.min(length(), Math.max(0, secondsAt(event)));
    if (Math.abs(now - start) * (view.clientWidth / length()) > SLIP && Math.abs(now - start) >= SHORTEST_S)
      setLoop([Math.min(start, now), Math.max(start, now)]);
  });
  view.addEventListener("pointerup", (event) => {
    const now = secondsAt(event);
    if (Math.abs(now - start) * (view.clientWidth / length()) <= SLIP) {
      seek(now);
      set({ head: now });
    }
    start = NaN;
  });
  view.addEventListener("pointercancel", () => {
    start = NaN;
  });
  view.addEventListener("dblclick", () => setLoop(null));
  on(["take"], () => {
    seen = { seconds: 0, peaks: [] };
    show();
    load();
  });
  on(["takes"], show);
  on(["loops"], show);
  on(["head"], showHead);
  fill(view, picture, ...grips);
  show();
  load();
  return view;
}
