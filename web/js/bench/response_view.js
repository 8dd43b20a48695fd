/**
 * The response: current sound bold, its coils thin, kept sounds dashed, behind them what plays as a spectrum.
 * Pointer and keys read it at a frequency; its peaks are marked and said.
 */

import { LETTERS } from "../session/compare.js";
import { layOutPlot, levelRange, nearestIndex, tableRows } from "../shared/plot.js";
import { gridElements } from "../shared/plot_grid.js";
import { SILENT_DB, fixed, showDb, showHz } from "../shared/units.js";
import { plainName } from "../shared/words.js";
import { fill, h, s, uid } from "../shared/dom.js";
import { peakLines, peakMarks, peakWords } from "./peak_marks.js";
import { nextPeak, peakAt, peaksOf } from "./peaks.js";
import { spectrumView } from "./spectrum_view.js";

/** @import {Session} from "../session/session.js" */

/** @type {[number, number]} */
const SHOWN_HZ = [40, 20000];
/** One press of an arrow key: a twelfth of an octave. */
const STEP = 2 ** (1 / 12);
/** Room above the highest curve for the words of its peak, dB. */
const ROOM_DB = 5;
/** A peak is read from this far, as a ratio: less than one press away. */
const NEAR = 2 ** (1 / 20);

/**
 * The choice of the drawn sum: a string, with each coil at its own place, or equal signals in all coils.
 * @param {Session} session
 */
function stringPicker({ get, set, on }) {
  const select = h("select", {
    "aria-label": "Together, for",
    onchange: () => set({ string: Number(select.value) || null }),
  });
  const label = h("label", { class: "row small soft" }, "together, for", select);
  const show = () => {
    const strings = get().check?.strings ?? [];
    label.hidden = strings.length === 0;
    fill(
      select,
      h("option", { value: 0 }, "equal signals in all coils"),
      ...strings.map((note, k) =>
        h("option", { value: k + 1 }, `the open ${note}, string ${strings.length - k}`),
      ),
    );
    select.value = String(get().string ?? 0);
    if (!select.value) select.value = "0";
  };
  on(["check", "string"], show);
  show();
  return label;
}

/** @param {Session} session @param {() => Float32Array | null} bins  of the spectrum of what plays */
export function plotView(session, bins) {
  const { get, on } = session;
  const clip = uid("clip"),
    frame = s("rect", {});
  const grid = s("g", {}),
    lines = s("g", { "clip-path": `url(#${clip})` }),
    marks = s("g", { "aria-hidden": "true" }),
    spectrum = spectrumView(session, bins, () => plot, SHOWN_HZ),
    cursor = s("line", { class: "cursor" });
  const picture = s(
    "svg",
    {
      role: "slider",
      tabindex: 0,
      "aria-label": "Response, read at a frequency; P goes to the next peak",
      "aria-valuemin": SHOWN_HZ[0],
      "aria-valuemax": SHOWN_HZ[1],
    },
    s("clipPath", { id: clip }, frame),
    spectrum.area,
    grid,
    lines,
    marks,
    cursor,
  );
  const peaksText = h("ul", { class: "peaks small" });
  const readout = h("div", { class: "readout", "aria-hidden": "true", hidden: true });
  const table = h("div", { class: "scroller" }),
    numbers = h(
      "details",
      { class: "numbers", ontoggle: () => showTable() },
      h("summary", {}, "Read the response as a table"),
      table,
    );
  let wide = 600,
    tall = 300,
    at = 1000,
    reading = false;
  /** @param {(number | null)[][]} levels */
  const layOut = (levels) => {
    const roomy = levels.map((curve) => curve.map((db) => (db === null ? null : db + ROOM_DB)));
    return layOutPlot({ wide, tall, hz: SHOWN_HZ, range: levelRange(roomy) });
  };
  let plot = layOut([]);
  /** @type {import("./peak_marks.js").Marked[]} */
  let marked = [];

  /** Every curve to read: name, levels, slot. */
  const curves = () =>
    get()
      .curves.map((known, k) => ({ known, k, name: k === get().current ? "now" : LETTERS[k] }))
      .flatMap(({ known, k, name }) =>
        known
          ? [
              {
                hz: known.frequencies_hz,
                db: known.settings[0].together_db,
                coils: known.settings[0].coils,
                k,
                name,
              },
            ]
          : [],
      );

  const connected = () =>
    get().facts.find(({ position }) => position === session.slot().position)?.coils ?? [];

  function show() {
    const all = curves(),
      here = get().current;
    plot = layOut(all.map(({ db }) => db));
    const { path } = plot;
    const fan = get().fans[get().fanned];
    const now = all.find(({ k }) => k === here);
    fill(
      lines,
      ...(fan
        ? fan.curves.map(({ together_db }) =>
            s("path", { class: "curve fan", d: path(fan.frequencies_hz, together_db) }),
          )
        : []),
      ...(now && connected().length > 1
        ? connected().flatMap((name) =>
            now.coils[name] ? [s("path", { class: "curve coil", d: path(now.hz, now.coils[name]) })] : [],
          )
        : []),
      ...all
        .filter(({ k }) => k !== here)
        .map(({ hz, db, k }) => s("path", { class: `curve slot-${k}`, d: path(hz, db) })),
      now ? s("path", { class: "curve heard", d: path(now.hz, now.db) }) : null,
    );
    marked = all.map(({ hz, db, k, name }) => ({
      name,
      now: k === here,
      hz,
      db,
      mark: k === here ? "heard" : `slot-${k}`,
      peaks: peaksOf(hz, db, SHOWN_HZ),
    }));
    fill(marks, ...peakMarks(marked, plot));
    fill(peaksText, ...peakLines(marked));
    showGrid();
    showReading();
    showTable();
  }
  function showGrid() {
    picture.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
    for (const [key, value] of Object.entries(plot.frame)) frame.setAttribute(key, String(value));
    fill(grid, ...gridElements(plot));
  }
  function showReading() {
    const all = curves();
    const words = all.map(({ hz, db, name }) => `${name} ${showDb(db[nearestIndex(hz, at)])}`);
    picture.setAttribute("aria-valuenow", at.toFixed(0));
    const peaks = marked.map((one) => ({ ...one, peak: peakAt(one.peaks, at, NEAR) }));
    const said = peaks.flatMap(({ name, peak }) => (peak ? [`peak of ${name}: ${peakWords(peak)}`] : []));
    picture.setAttribute("aria-valuetext", `${showHz(at)}: ${[...words, ...said].join(", ")}`);
    readout.hidden = !reading;
    cursor.toggleAttribute("hidden", !reading);
    if (!reading) {
      cursor.setAttribute("x1", "-9");
      cursor.setAttribute("x2", "-9");
      return;
    }
    const place = plot.x.to(at),
      { y: top, height } = plot.frame;
    for (const [key, value] of Object.entries({ x1: place, x2: place, y1: top, y2: top + height }))
      cursor.setAttribute(key, String(value));
    fill(
      readout,
      h("b", {}, showHz(at)),
      ...all.map(({ hz, db, name, k }, j) =>
        h(
          "div",
          { class: k === get().current ? "heard" : `slot-${k}` },
          `${name}  ${showDb(db[nearestIndex(hz, at)])}`,
          peaks[j]?.peak && h("b", {}, `peak ${peakWords(peaks[j].peak)}`),
        ),
      ),
    );
    readout.style.left = place < wide / 2 ? `${place + 12}px` : "auto";
    readout.style.right = place < wide / 2 ? "auto" : `${wide - place + 12}px`;
  }
  function showTable() {
    const all = curves();
    if (!numbers.open || all.length === 0) return;
    const now = all.find(({ k }) => k === get().current);
    const coils = now
      ? connected().flatMap((name) =>
          now.coils[name] ? [/** @type {const} */ ([name, now.coils[name]])] : [],
        )
      : [];
    const rows = tableRows(all[0].hz, [...all.map(({ db }) => db), ...coils.map(([, db]) => db)]);
    fill(
      table,
      h(
        "table",
        {},
        h("caption", { class: "unseen" }, "Response in dB"),
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ...["Frequency", ...all.map(({ name }) => name), ...coils.map(([name]) => plainName(name))].map(
              (text) => h("th", { scope: "col" }, text),
            ),
          ),
        ),
        h(
          "tbody",
          {},
          ...rows.map(({ hz, levels }) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, showHz(hz)),
              ...levels.map((db) => h("td", {}, db === null || db <= SILENT_DB ? "silent" : fixed(db))),
            ),
          ),
        ),
      ),
    );
  }
  /** @param {number} hz */
  function read(hz) {
    at = Math.min(SHOWN_HZ[1], Math.max(SHOWN_HZ[0], hz));
    reading = true;
    showReading();
  }
  const hide = () => {
    reading = document.activeElement === picture;
    showReading();
  };
  picture.addEventListener("pointermove", (event) =>
    read(plot.x.from(event.clientX - picture.getBoundingClientRect().left)),
  );
  picture.addEventListener("pointerleave", hide);
  picture.addEventListener("focus", () => {
    if (picture.matches(":focus-visible")) read(at);
  });
  picture.addEventListener("blur", hide);
  picture.addEventListener("keydown", (event) => {
    const peaks = marked.find(({ now }) => now)?.peaks ?? [];
    const to = /** @type {Record<string, number>} */ ({
      ArrowRight: at * STEP,
      ArrowUp: at * STEP,
      ArrowLeft: at / STEP,
      ArrowDown: at / STEP,
      PageUp: at * 2,
      PageDown: at / 2,
      Home: SHOWN_HZ[0],
      End: SHOWN_HZ[1],
      p: nextPeak(peaks, at)?.hz,
    })[event.key];
    if (to === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    read(to);
  });
  const sized = new ResizeObserver(([{ contentRect }]) => {
    if (contentRect.width < 50) return;
    [wide, tall] = [Math.round(contentRect.width), Math.round(contentRect.height)];
    show();
  });
  sized.observe(picture);
  session.signal.addEventListener("abort", () => sized.disconnect());
  on(["curves", "current", "fans", "fanned", "facts"], show);
  show();
  return h(
    "div",
    { class: "response" },
    h("div", { class: "plot" }, picture, readout),
    peaksText,
    spectrum.about,
    h("div", { class: "plot-foot" }, spectrum.button, stringPicker(session), numbers),
  );
}
