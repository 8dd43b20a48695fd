/**
 * The drawing on the bench: the whole wiring as one picture that plays along. Flipping it flips what is
 * heard, and the other way round.
 */

import { boundsOf, paint, pictureOf } from "../drawing/paint.js";
import { needleTurn } from "../drawing/paint_parts.js";
import { choice, fill, h, s, say } from "../shared/dom.js";
import { ApiError } from "../shared/http.js";
import { latest } from "../shared/latest.js";
import { hearingOf, missingOf } from "../session/session.js";
import { getDrawing } from "./api.js";
import { isFitted } from "./fitting.js";
import { listenForHands } from "./drawing_hands.js";
import { listenForDrawingKeys, nextLug } from "./drawing_keys.js";
import { createLayouts } from "./drawing_layout.js";
import { drawingWords, KEYS, lugWords, partWords, wireWords } from "./drawing_words.js";

/** @import {Session} from "../session/session.js" */
/** @import {Laid} from "../drawing/layout.js" */
/** @import {Picture} from "../drawing/paint.js" */
/** @import {Node as Painted, Place, State, WiringFacts} from "../drawing/types.js" */

/** Least time between requests while a knob moves, ms. */
const EVERY = 120;
const [LEAST_ZOOM, MOST_ZOOM] = [0.3, 3];
/** Below this a name cannot be read: the drawing is scrolled instead. */
const READABLE = 0.62;
const MARGIN = 8;
const HINT =
  "Point at a lug, a wire or a part. A switch flips by its handle, a pot turns when it is dragged up or down.";

/** @param {Painted | string} one @returns {Node} */
const build = (one) =>
  typeof one === "string"
    ? document.createTextNode(one)
    : s(/** @type {"g"} */ (one.tag), one.attributes, ...one.children.map(build));

/** @param {Session} session @returns {HTMLElement} */
export function drawingView(session) {
  const { get, set, on, signal } = session;
  const layouts = createLayouts(signal);
  const layer = s("g", {});
  const cursor = s("circle", { class: "cursor", r: 15, hidden: true });
  const picture = s(
    "svg",
    {
      class: "board-picture",
      tabindex: 0,
      role: "application",
      "aria-label": "The drawing. Arrow keys go from lug to lug; question mark tells the keys.",
    },
    layer,
    cursor,
  );
  const frame = h("div", { class: "board-frame" }, picture);
  const words = h("p", { class: "board-words soft small", role: "status" }, HINT);
  const note = h("p", { class: "board-note warn small", hidden: true });
  const list = h("div", { class: "scroller" });
  const text = h(
    "details",
    { class: "numbers", ontoggle: () => showText() },
    h("summary", {}, "Read the drawing as text"),
    list,
  );

  /** @type {{facts: WiringFacts, states: State[]} | null} */
  let known = null;
  /** @type {Laid | null} */
  let laid = null;
  /** @type {Picture | null} */
  let shown = null;
  /** @type {Record<string, Place>} */
  let places = {};
  /** @type {"sound" | "joints"} */
  let mode = "sound";
  let folded = true;
  let zoom = 1;
  let fitted = true;
  /** @type {string | null} */
  let at = null;
  let laidFor = "";
  /** @type {{joint?: number, wire?: string}} */
  let marked = {};

  const ask = latest(
    async () => {
      const { draft, setting } = hearingOf(get());
      if (!setting.position || missingOf(get()).length || !isFitted(get())) return;
      const found = await getDrawing(draft, setting, signal);
      known = found;
      await lay();
    },
    {
      spacing: EVERY,
      failed: (error) => {
        if (error instanceof ApiError) return; // the page says elsewhere what is wrong with the draft
        say(words, "The drawing could not be made.");
      },
    },
  );

  /** Place the parts and lay the wires, if they are not as they were. */
  async function lay() {
    if (!known) return;
    const names = new Set(known.facts.parts.map(({ name }) => name));
    const kept = Object.fromEntries(Object.entries(places).filter(([name]) => names.has(name)));
    const content = JSON.stringify([known.facts, folded]);
    if (content !== laidFor) {
      const wanted = known.facts;
      const made = await layouts.lay({ ...wanted, places: { ...wanted.places, ...kept } }, folded);
      if (known?.facts !== wanted) return;
      laid = made;
      places = laid.places;
      laidFor = content;
      show();
      if (fitted) fit();
      return;
    }
    show();
  }

  const stateNow = () => known?.states.find(({ position }) => position === session.slot().position) ?? null;

  function show() {
    if (!known || !laid) return;
    shown = pictureOf(known.facts, laid, { mode, state: stateNow(), knobs: session.slot().knobs });
    layer.replaceChildren(build(paint(shown)));
    const broken = shown.routed.broken.length;
    note.hidden = broken === 0;
    say(
      note,
      broken
        ? `${broken === 1 ? "One wire" : `${broken} wires`} found no way and is shown by two marked ends. ` +
            "“Tidy” may help; the text below names it."
        : "",
    );
    mark(marked.joint, marked.wire);
    showCursor();
    showText();
  }

  function showText() {
    if (!text.open || !shown || !known) return;
    fill(
      list,
      ...drawingWords(shown, known.facts).flatMap(({ head, lines }) => [
        h("h3", {}, head),
        h("ul", {}, ...lines.map((line) => h("li", {}, line))),
      ]),
    );
  }

  /* what is chosen */
  function showCursor() {
    const lug = at === null ? undefined : shown?.placed.lugs.get(at);
    cursor.toggleAttribute("hidden", !lug || document.activeElement !== picture);
    if (lug) {
      cursor.setAttribute("cx", String(lug.x));
      cursor.setAttribute("cy", String(lug.y));
    }
  }
  /** Mark everything of one joint. @param {number | undefined} joint @param {string} [wire] */
  function mark(joint, wire) {
    marked = { joint, wire };
    for (const one of layer.querySelectorAll("[data-joint]")) {
      const { joint: mine, wire: key } = /** @type {SVGElement} */ (one).dataset;
      one.classList.toggle("kin", joint !== undefined && mine === String(joint));
      one.classList.toggle("on", wire !== undefined && key === wire);
    }
  }
  /** @param {{lug?: string, wire?: string, part?: string} | null} what */
  function tell(what) {
    if (!shown || !known) return;
    if (what?.lug) {
      mark(shown.joints.get(what.lug));
      say(words, lugWords(shown, what.lug));
    } else if (what?.wire) {
      const wire = shown.wires.find(({ key }) => key === what.wire);
      if (!wire) return;
      mark(wire.joint, wire.key);
      say(words, wireWords(shown, wire, known.states));
    } else {
      mark(undefined);
      say(words, what?.part ? partWords(shown, what.part) : HINT);
    }
  }

  /* what it does */
  /** @param {string} key @param {1 | -1} by */
  function flip(key, by) {
    const part = known?.facts.parts.find(({ name }) => name === key);
    const now = stateNow()?.stands[key];
    if (!part || now === undefined) return;
    const all = part.positions;
    const next = all[(all.indexOf(now) + by + all.length) % all.length];
    if (key === known?.facts.selector) session.setPosition(next);
    else session.setSwitch(key, next);
    say(words, `${key}: position ${next}.`);
  }
  /** @param {string} name */
  const knobOf = (name) => known?.facts.parts.find((part) => part.name === name)?.knob ?? null;
  /** @param {string} knob */
  const valueOf = (knob) => session.slot().knobs[knob] ?? 10;
  /** @param {string} knob @param {number} value */
  function turn(knob, value) {
    if (get().sweeping === knob) set({ sweeping: "" });
    session.setKnob(knob, value);
    say(words, `${knob}: ${valueOf(knob)}.`);
  }
  function showKnobs() {
    if (shown) shown.knobs = session.slot().knobs;
    for (const part of known?.facts.parts ?? []) {
      if (!part.knob) continue;
      const needle = layer.querySelector(`[data-drawn="${CSS.escape(part.name)}"] .needle`);
      needle?.setAttribute("transform", needleTurn(valueOf(part.knob)));
    }
  }

  /* size */
  function size() {
    if (!shown) return;
    const [left, top, right, bottom] = boundsOf(shown);
    const [wide, high] = [right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
    picture.setAttribute("viewBox", `${left - MARGIN} ${top - MARGIN} ${wide} ${high}`);
    picture.setAttribute("width", String(Math.round(wide * zoom)));
    picture.setAttribute("height", String(Math.round(high * zoom)));
  }
  function fit() {
    if (!shown || !frame.clientWidth) return;
    const [left, top, right, bottom] = boundsOf(shown);
    const [wide, high] = [right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
    const whole = Math.min(frame.clientWidth / wide, frame.clientHeight / high);
    zoom = Math.max(whole, Math.min(READABLE, frame.clientHeight / high));
    fitted = true;
    size();
  }
  /** @param {number} by */
  function zoomBy(by) {
    const { scrollLeft, scrollTop, clientWidth, clientHeight } = frame;
    const before = zoom;
    zoom = Math.min(MOST_ZOOM, Math.max(LEAST_ZOOM, zoom * by));
    fitted = false;
    size();
    const grown = zoom / before;
    frame.scrollLeft = (scrollLeft + clientWidth / 2) * grown - clientWidth / 2;
    frame.scrollTop = (scrollTop + clientHeight / 2) * grown - clientHeight / 2;
  }

  /* tools */
  const modes = choice(
    "The drawing shows",
    [
      { value: "sound", label: "Sounding" },
      { value: "joints", label: "Joints" },
    ],
    mode,
    (value) => {
      mode = value === "joints" ? "joints" : "sound";
      show();
    },
  );
  const grounds = h("input", {
    type: "checkbox",
    onchange: () => {
      folded = !grounds.checked;
      lay();
    },
  });
  const tidy = () => {
    places = {};
    laidFor = "";
    fitted = true;
    say(words, "Laid out anew.");
    lay();
  };
  const tools = h(
    "div",
    { class: "board-tools" },
    modes.element,
    h("label", { class: "row small" }, grounds, "Every ground wire"),
    h("button", { type: "button", onclick: tidy }, "Tidy"),
    h(
      "div",
      { class: "board-zoom", role: "group", "aria-label": "Size of the drawing" },
      h("button", { type: "button", "aria-label": "Smaller", onclick: () => zoomBy(0.8) }, "−"),
      h("button", { type: "button", "aria-label": "Larger", onclick: () => zoomBy(1.25) }, "+"),
      h("button", { type: "button", onclick: fit }, "Fit"),
    ),
  );

  listenForHands(picture, { flip: (key, back) => flip(key, back ? -1 : 1), knobOf, valueOf, turn, tell });
  listenForDrawingKeys(picture, {
    move(to) {
      const lugs = [...(shown?.placed.lugs.values() ?? [])].filter(({ name }) => name && name !== "casing");
      const from = lugs.find(({ terminal }) => terminal === at);
      const next = from ? nextLug(lugs, from, to) : lugs[0];
      if (!next) return;
      at = next.terminal;
      showCursor();
      cursor.scrollIntoView({ block: "nearest", inline: "nearest" });
      tell({ lug: at });
    },
    nextWire() {
      const mine = shown?.wires.filter(({ a, b }) => a === at || b === at) ?? [];
      if (!mine.length) return say(words, "No wire here.");
      const on = layer.querySelector(".wire.on");
      const key = on instanceof SVGElement ? on.dataset.wire : undefined;
      tell({ wire: mine[(mine.findIndex((wire) => wire.key === key) + 1) % mine.length].key });
    },
    position: (by) => known?.facts.selector && flip(known.facts.selector, by),
    turn(by) {
      const knob = at === null ? null : knobOf(at.slice(0, at.indexOf(".")));
      if (knob) turn(knob, valueOf(knob) + by);
      else say(words, "No knob here: go to a lug of a pot.");
    },
    grounds: () => grounds.click(),
    joints() {
      mode = mode === "sound" ? "joints" : "sound";
      modes.set(mode);
      show();
    },
    zoom: zoomBy,
    fit,
    help: () => say(words, KEYS),
    clear() {
      at = null;
      showCursor();
      tell(null);
    },
  });
  picture.addEventListener("focus", showCursor);
  picture.addEventListener("blur", showCursor);

  const sized = new ResizeObserver(() => {
    if (fitted) fit();
  });
  sized.observe(frame);
  signal.addEventListener("abort", () => sized.disconnect());
  let before = hearingOf(get());
  on(["slots", "current", "before"], (state) => {
    const now = hearingOf(state);
    const moved =
      now.setting.position !== before.setting.position &&
      JSON.stringify(now.draft) === JSON.stringify(before.draft);
    before = now;
    if (moved && stateNow()) show();
    else showKnobs();
    ask();
  });
  on(["check", "checked"], () => {
    ask();
  });
  ask();
  return h(
    "section",
    { class: "board sheet", "aria-label": "Drawing" },
    tools,
    frame,
    words,
    note,
    h("div", { class: "plot-foot" }, text),
  );
}
