/** Two knobs together: a map of timbre that one plays by touching it. */

import * as api from "./api.js";
import { hearingOf } from "../session/session.js";
import { ApiError, problemText } from "../shared/http.js";
import { latest } from "../shared/latest.js";
import { snapped } from "../shared/travel_strip.js";
import { fixed, onTravel, showKnob } from "../shared/units.js";
import { plainName } from "../shared/words.js";
import { fill, h, s, say, uid } from "../shared/dom.js";
import {
  CONTOURS,
  SHADES,
  contourPath,
  distancesFrom,
  fieldOf,
  placeText,
  shadePaths,
  tableRows,
} from "./pair.js";

/** @import {Session} from "../session/session.js" */
/** @import {Field, Pair} from "./pair.js" */

/** Side of the map and room for its labels, in its own units. */
const SIZE = 300,
  LEFT = 30,
  BELOW = 34;
/** Least time between two requests, ms. */
const SPACING = 150;

/** @param {Session} session */
export function pairView(session) {
  const { get, set, on, signal } = session;
  /** @type {Pair | null} */
  let pair = null;
  /** @type {Field | null} */
  let field = null;
  let known = "";
  const wanted = () => get().pair;
  /** The chosen knobs as far as the wiring has them; an empty name leaves the choice to the server. */
  function asked() {
    const names = (get().check?.knobs ?? []).map(({ name }) => name),
      [first, second] = [wanted().first, wanted().second].map((name) => (names.includes(name) ? name : ""));
    return { first, second: second === first ? "" : second };
  }
  const value = (/** @type {0 | 1} */ k) => session.slot().knobs[pair?.knobs[k] ?? ""] ?? 10;
  const clicks = (/** @type {string} */ name) =>
    get().check?.knobs.find((knob) => knob.name === name)?.detent ?? false;

  // --- elements
  const text = h("p", { role: "status" }),
    place = h("p", { class: "pair-place" }),
    hint = h("p", { class: "soft small", role: "status" }),
    failure = h("p", { class: "problem small", role: "alert" });
  /** @param {0 | 1} k @param {string} label */
  function pick(k, label) {
    const select = h("select", {
      onchange: () => {
        const now = pair?.knobs ?? ["", ""],
          other = now[1 - k] === select.value ? now[k] : now[1 - k];
        const names = k === 0 ? [select.value, other] : [other, select.value];
        set({ pair: { ...wanted(), first: names[0], second: names[1] } });
      },
    });
    return { select, element: h("label", { class: "field" }, h("span", {}, label), select) };
  }
  const picks = [pick(0, "Left to right"), pick(1, "Bottom to top")];
  const shades = [...SHADES, "silent"].map((_, k) =>
    s("path", { class: k < SHADES.length ? `shade-${k}` : "shade-silent" }),
  );
  const hatch = s(
    "pattern",
    { id: uid("hatch"), width: 6, height: 6, patternUnits: "userSpaceOnUse" },
    s("path", { class: "hatch", d: "M-1 7L7 -1" }),
  );
  shades[SHADES.length].setAttribute("fill", `url(#${hatch.id})`);
  const lines = CONTOURS.map(() => s("path", { class: "contour" }));
  const mark = s("g", { class: "mark" }, s("circle", { r: 9 }), s("circle", { r: 3, class: "centre" }));
  const names = [s("text", { "text-anchor": "middle" }), s("text", { "text-anchor": "middle" })];
  names[0].setAttribute("x", String(SIZE / 2));
  names[0].setAttribute("y", String(SIZE + 30));
  names[1].setAttribute("transform", `translate(-18 ${SIZE / 2}) rotate(-90)`);
  const picture = s(
    "svg",
    { viewBox: `${-LEFT} -10 ${SIZE + LEFT + 12} ${SIZE + BELOW + 10}`, "aria-hidden": "true" },
    hatch,
    ...shades,
    ...lines,
    s("rect", { class: "frame", width: SIZE, height: SIZE }),
    ...[0, 5, 10].flatMap((tick) => [
      s("text", { x: (tick / 10) * SIZE, y: SIZE + 15, "text-anchor": "middle" }, String(tick)),
      s("text", { x: -6, y: SIZE - (tick / 10) * SIZE + 4, "text-anchor": "end" }, String(tick)),
    ]),
    ...names,
    mark,
  );
  const help = h(
    "p",
    { class: "soft small", id: uid("pair-help") },
    "Touch the map, or use the arrow keys: both knobs go there. Shift takes whole steps. The shades show how far the timbre is from the marked setting, with the level taken out.",
  );
  const pad = h(
    "div",
    {
      class: "knob-map",
      role: "slider",
      tabindex: 0,
      "aria-valuemin": 0,
      "aria-valuemax": 10,
      "aria-describedby": help.id,
    },
    picture,
  );
  const silence = shadeItem("silent", "silent", `url(#${hatch.id})`);
  const legend = h(
    "ul",
    { class: "pair-legend small", "aria-label": "Shades" },
    ...SHADES.map((words, k) => shadeItem(String(k), words)),
    silence,
  );
  const table = h("div", {
    class: "scroller",
    tabindex: 0,
    role: "region",
    "aria-label": "Table of the pair",
  });
  const body = h(
    "div",
    { class: "pair-body" },
    h("div", { class: "row" }, picks[0].element, picks[1].element),
    text,
    failure,
    h("div", { class: "pair-map" }, pad, h("div", {}, place, legend, help, hint)),
    h("details", { class: "numbers" }, h("summary", {}, "Read the map as a table"), table),
  );
  const element = h(
    "details",
    { class: "pair", open: wanted().open, hidden: true },
    h("summary", {}, "Two knobs together"),
    body,
  );
  element.addEventListener("toggle", () => {
    if (element.open !== wanted().open) set({ pair: { ...wanted(), open: element.open } });
  });

  // --- playing it
  /** @param {number} first @param {number} second */
  function go(first, second) {
    if (!pair) return;
    const [one, other] = pair.knobs;
    if (pair.knobs.includes(get().sweeping)) set({ sweeping: "" });
    session.setKnobs({ [one]: onTravel(first), [other]: onTravel(second) });
    say(hint, get().playing ? "" : "Press Play to hear it.");
  }
  /** @param {PointerEvent} event */
  function goTo(event) {
    if (!pair) return;
    const box = picture.getBoundingClientRect(),
      unit = box.width / (SIZE + LEFT + 12);
    const first = ((event.clientX - box.left) / unit - LEFT) / SIZE,
      second = 1 - ((event.clientY - box.top) / unit - 10) / SIZE;
    go(snapped(10 * first, clicks(pair.knobs[0])), snapped(10 * second, clicks(pair.knobs[1])));
  }
  pad.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    pad.setPointerCapture(event.pointerId);
    pad.focus({ preventScroll: true });
    goTo(event);
  });
  pad.addEventListener("pointermove", (event) => {
    if (pad.hasPointerCapture(event.pointerId)) goTo(event);
  });
  pad.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = event.shiftKey ? 1 : 0.1;
    const by = /** @type {Record<string, [number, number]>} */ ({
      ArrowRight: [step, 0],
      ArrowLeft: [-step, 0],
      ArrowUp: [0, step],
      ArrowDown: [0, -step],
      PageUp: [0, 1],
      PageDown: [0, -1],
      End: [10, 10],
      Home: [-10, -10],
    })[event.key];
    if (!by) return;
    event.preventDefault();
    go(value(0) + by[0], value(1) + by[1]);
  });

  // --- showing
  let drawn = "";
  function draw() {
    if (!pair || !field) return;
    const [first, second] = [value(0), value(1)],
      next = JSON.stringify([known, first, second]);
    if (next === drawn) return;
    drawn = next;
    const distances = distancesFrom(field, first, second);
    shadePaths(distances, field.side, SIZE).forEach((path, k) => shades[k].setAttribute("d", path));
    CONTOURS.forEach((level, k) =>
      lines[k].setAttribute("d", contourPath(distances, /** @type {Field} */ (field).side, SIZE, level)),
    );
    mark.setAttribute("transform", `translate(${(first / 10) * SIZE} ${SIZE - (second / 10) * SIZE})`);
    const words = placeText(pair, first, second);
    say(place, words);
    pad.setAttribute("aria-valuenow", String(first));
    pad.setAttribute("aria-valuetext", words);
  }
  /** @param {Pair} found */
  function show(found) {
    pair = found;
    field = fieldOf(found);
    const [one, other] = found.knobs.map(plainName);
    const all = get().check?.knobs ?? [];
    picks.forEach(({ select }, k) => {
      fill(select, ...all.map(({ name }) => h("option", { value: name }, plainName(name))));
      select.value = found.knobs[k];
    });
    say(names[0], one);
    say(names[1], other);
    pad.setAttribute("aria-label", `${one} and ${other.toLowerCase()} together`);
    say(text, found.text);
    fill(
      table,
      h(
        "table",
        {},
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ...[one, "level", `${other} from end to end`, "evenness", "differs from 10 by"].map((words) =>
              h("th", { scope: "col" }, words),
            ),
          ),
        ),
        h(
          "tbody",
          {},
          ...tableRows(found).map((row) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, showKnob(row.value)),
              h("td", {}, `${fixed(row.level_db)} dB`),
              h("td", {}, `${fixed(row.width_db)} dB`),
              h("td", {}, fixed(row.evenness, 2)),
              h("td", {}, `${fixed(row.changed_db)} dB`),
            ),
          ),
        ),
      ),
    );
    silence.hidden = !field.silent.includes(1);
    drawn = "";
    draw();
  }
  const ask = latest(
    async () => {
      const key = wantedKey();
      if (!element.open || element.hidden || !key || key === known) return;
      const { draft, setting } = hearingOf(get());
      const { first, second } = asked();
      const found = await api.getPair(draft, setting, first, second, signal);
      if (key !== wantedKey()) return; // another request follows
      say(failure, "");
      pair = found;
      known = wantedKey();
      show(found);
    },
    {
      spacing: SPACING,
      failed: (error) => {
        if (error instanceof ApiError && error.status !== 0)
          say(failure, error.problems.map(problemText).join(" ") || error.message);
      },
    },
  );
  /** What the map depends on: everything but the two knobs themselves. */
  function wantedKey() {
    const { draft, setting } = hearingOf(get());
    if (!get().check?.ok || !setting.position) return "";
    const mine = asked(),
      own = [mine.first || pair?.knobs[0], mine.second || pair?.knobs[1]];
    const others = Object.entries(setting.knobs).filter(([name]) => !own.includes(name));
    return JSON.stringify([draft, setting.position, setting.switches, others, mine]);
  }
  function update() {
    const { check } = get();
    if (check?.ok) element.hidden = check.knobs.length < 2;
    ask();
    draw();
  }
  on(["slots", "current", "before", "check", "pair"], update);
  on(["playing"], ({ playing }) => {
    if (playing) say(hint, "");
  });
  element.addEventListener("toggle", update);
  update();
  return element;
}

/** @param {string} shade @param {string} words @param {string} [paint] */
const shadeItem = (shade, words, paint) =>
  h(
    "li",
    {},
    s(
      "svg",
      { viewBox: "0 0 14 14", "aria-hidden": "true" },
      s("rect", { class: `shade-${shade}`, width: 14, height: 14, fill: paint }),
    ),
    words,
  );
