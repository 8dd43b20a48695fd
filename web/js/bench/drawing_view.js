/**
 * The drawing on the bench: the whole wiring as one picture that plays along. Flipping it flips what is
 * heard, and the other way round.
 */

import { layWires } from "../drawing/layout.js";
import { boundsOf, paint, pictureOf } from "../drawing/paint.js";
import { shapesOf } from "../drawing/place.js";
import { changeWiring } from "../session/changes.js";
import { hearingOf } from "../session/session.js";
import { choice, fill, h, s, say } from "../shared/dom.js";
import { ApiError } from "../shared/http.js";
import { latest } from "../shared/latest.js";
import { same } from "../shared/store.js";
import { getDrawing } from "./api.js";
import { chosenCard } from "./drawing_card.js";
import { createChosen, HINT } from "./drawing_chosen.js";
import { deedLine } from "./drawing_deed.js";
import { createFrame } from "./drawing_frame.js";
import { listenForHands } from "./drawing_hands.js";
import { doKey, walkLugs } from "./drawing_keys.js";
import { createLayouts } from "./drawing_layout.js";
import { lightLugs } from "./drawing_lit.js";
import { createPainter } from "./drawing_paint.js";
import { movePlaces } from "./drawing_places.js";
import { playOn } from "./drawing_play.js";
import { solderOn } from "./drawing_solder.js";
import { drawingText } from "./drawing_text.js";
import { drawingTray } from "./drawing_tray.js";
import { KEYS } from "./drawing_words.js";
import { isFitted } from "./fitting.js";

/** @import {Session} from "../session/session.js" */
/** @import {Laid} from "../drawing/layout.js" */
/** @import {Picture} from "../drawing/paint.js" */
/** @import {Place, State, WiringFacts} from "../drawing/types.js" */
/** @import {Board} from "./drawing_board.js" */

/** Least time between requests while a knob moves, ms. */
const EVERY = 120;

/** @param {Session} session @returns {HTMLElement} */
export function drawingView(session) {
  const { get, on, signal } = session;
  const layouts = createLayouts(signal);
  const layer = s("g", {});
  const over = s("g", {});
  const repaint = createPainter(layer);
  const picture = s(
    "svg",
    {
      class: "board-picture",
      tabindex: 0,
      role: "application",
      "aria-label": "The drawing. Arrow keys go from lug to lug; question mark tells the keys.",
    },
    layer,
    over,
  );
  const frame = h("div", { class: "board-frame" }, picture);
  const words = h("p", { class: "board-words soft small", role: "status" }, HINT);
  const note = h("p", { class: "board-note warn small", hidden: true });
  const care = h("ul", { class: "small" });
  /** @type {{facts: WiringFacts, states: State[]} | null} */
  let known = null;
  /** @type {Laid | null} */
  let laid = null;
  /** @type {Picture | null} */
  let shown = null;
  /** Where parts stand while they are moved; `under` was written before, and no drawing came with it yet.
   * @type {{places: Record<string, Place>, written: boolean, under: Record<string, Place> | null} | null} */
  let moving = null;
  const writtenNow = () => (moving?.written ? moving.places : (moving?.under ?? null));
  /** Where parts stand that the draft gives no place. @type {Record<string, Place>} */
  let remembered = {};
  /** @type {"sound" | "joints"} */
  let mode = "sound";
  let folded = true;
  let laidFor = "";
  let laying = 0;

  const ask = latest(
    async () => {
      const { draft, setting } = hearingOf(get());
      if (!draft.version || !isFitted(get())) return;
      const over = moving?.written ? moving : null;
      const under = writtenNow();
      const found = await getDrawing(draft, setting, signal);
      known = found;
      if (found.laid) layouts.learn(found.facts, found.laid);
      if (moving === over || same(moving?.places, found.facts.places)) moving = null;
      else if (moving && moving.under === under) moving.under = null;
      if (care.textContent !== found.care.join(""))
        fill(care, ...found.care.map((line) => h("li", {}, line)));
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
    const kept = Object.fromEntries(Object.entries(remembered).filter(([name]) => names.has(name)));
    const moved = Object.fromEntries(
      Object.entries(moving?.places ?? {}).filter(([name]) => names.has(name)),
    );
    const content = JSON.stringify([known.facts, folded, moved]);
    const turn = (laying += 1);
    if (content !== laidFor) {
      const wanted = known.facts;
      const made = await layouts.lay({ ...wanted, places: { ...kept, ...wanted.places, ...moved } }, folded);
      if (turn !== laying) return; // something else is shown by now
      laid = made;
      for (const [name, place] of Object.entries(made.places)) {
        if (!wanted.places[name] && !moved[name]) remembered[name] = place;
      }
      laidFor = content;
      show();
      view.refresh();
      return;
    }
    show();
  }

  const stateNow = () => known?.states.find(({ position }) => position === session.slot().position) ?? null;

  function show() {
    draw();
    if (!shown) return;
    const broken = shown.routed.broken.length;
    note.hidden = broken === 0;
    say(
      note,
      broken
        ? `${broken === 1 ? "One wire" : `${broken} wires`} found no way and is shown by two marked ends. ` +
            "“Tidy” may help; the text below names it."
        : "",
    );
  }
  /** The picture alone, as in every frame of a drag. */
  function draw() {
    if (!known || !laid) return;
    shown = pictureOf(known.facts, laid, { mode, state: stateNow(), knobs: session.slot().knobs });
    repaint(paint(shown));
    chosen.refresh();
    for (const painted of board.painted) painted();
  }

  /* what one works on */
  const view = createFrame(picture, frame, () => shown && boundsOf(shown), signal);
  /** @param {string} what */
  const tell = (what) => say(words, what);
  /** @type {Board["chose"]} */
  const chose = [];
  const seen = { picture, layer, over, frame, known: () => known, shown: () => shown, say: tell, chose };
  const chosen = createChosen(seen);
  /** @type {Board} */
  const board = {
    session,
    ...seen,
    ...chosen,
    state: stateNow,
    pointOf: view.pointOf,
    zoom: view.zoom,
    presses: [],
    taps: [],
    keys: {},
    painted: [],
    places: () => laid?.places ?? {},
    preview(places) {
      if (!known || !laid) return;
      moving = { places, written: false, under: writtenNow() };
      const kept = laid.routed.cells;
      laid = layWires(known.facts, shapesOf(known.facts), places, { folded, effort: "quick", kept });
      laidFor = "";
      laying += 1;
      draw();
    },
    release(written) {
      if (!moving || (written && written !== moving.places)) return;
      if (written) moving.written = true;
      else {
        moving = moving.under && { places: moving.under, written: true, under: null };
        laidFor = "";
        lay();
      }
    },
  };

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
  /** Lay all out anew: undo brings back where it stood. */
  async function tidy() {
    if (!known || !laid) return;
    const { facts } = known;
    const { places } = await layouts.lay({ ...facts, places: {} }, true);
    if (same(places, laid.places)) return tell("Nothing to tidy: every part stands where it is laid out.");
    const own = Object.keys(facts.places).length > 0;
    if (own) remembered = { ...places };
    const done = await changeWiring(session, {
      do: "place",
      part: "",
      how: "tidied",
      places: own ? {} : places,
    });
    view.fit();
    tell(`${done.name}.`);
  }
  const tidyUp = () => tidy().catch((error) => tell(error.message));
  const tools = h(
    "div",
    { class: "board-tools" },
    modes.element,
    h("label", { class: "row small" }, grounds, "Every ground wire"),
    h("button", { type: "button", onclick: tidyUp }, "Tidy"),
    h(
      "div",
      { class: "board-zoom", role: "group", "aria-label": "Size of the drawing" },
      h("button", { type: "button", "aria-label": "Smaller", onclick: () => view.zoomBy(0.8) }, "−"),
      h("button", { type: "button", "aria-label": "Larger", onclick: () => view.zoomBy(1.25) }, "+"),
      h("button", { type: "button", onclick: view.fit }, "Fit"),
    ),
  );

  Object.assign(board.keys, {
    g: () => grounds.click(),
    j() {
      mode = mode === "sound" ? "joints" : "sound";
      modes.set(mode);
      show();
    },
    "+": () => view.zoomBy(1.25),
    "=": () => view.zoomBy(1.25),
    "-": () => view.zoomBy(0.8),
    0: view.fit,
    t: tidyUp,
    "?": () => tell(KEYS),
    Escape() {
      board.goTo(null);
      board.choose(null);
    },
  });
  const showKnobs = playOn(board);
  walkLugs(board);
  movePlaces(board);
  lightLugs(board);
  const deeds = deedLine(session);
  const card = chosenCard(board, deeds.act, solderOn(board, deeds.act));
  const tray = drawingTray(board, async (change) => card.follow(await deeds.act(change)));
  const text = drawingText(board, deeds.act, card.open);
  tools.prepend(tray.toggle);
  listenForHands(board);
  picture.addEventListener("keydown", (event) => doKey(board, event));

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
    tray.panel,
    h("div", { class: "board-stage" }, frame, card.card),
    h("div", { class: "board-bar" }, words, card.acts, deeds.element),
    note,
    h(
      "div",
      { class: "plot-foot" },
      text.element,
      h("details", { class: "board-care" }, h("summary", {}, "Before you solder from it"), care),
    ),
  );
}
