/** Measure a coil of the wiring: the rig, what was read, the fit, and what becomes of it. */

import { changeWiring } from "../session/changes.js";
import { placeOf } from "../session/session.js";
import { openDialog } from "../shared/dialog.js";
import { choice, fill, h, say } from "../shared/dom.js";
import { heed } from "../shared/heed.js";
import { toast } from "../shared/notices.js";
import { plainName } from "../shared/words.js";
import * as api from "./api.js";
import { coilList } from "./coil_list.js";
import { resultView } from "./result_view.js";
import { rigDrawing } from "./rig_drawing.js";
import { reasonOf } from "../shared/file_place.js";
import { filePlace, stepList } from "./steps.js";
import { tonePlayer } from "./tone.js";
import { nameFor, SOURCES } from "./words.js";

/** @import {Session} from "../session/session.js" */
/** @import {CoilValues, Fields, Measurement, RigWords, Source, Where} from "./api.js" */

const FIRST_BRIDGE = ["100 Hz", "1 kHz", "10 kHz"],
  FIRST_PEAKS = ["470 pF", "2.2 nF"];

/** @param {Session} session @param {string} part */
export function openMeasure(session, part) {
  const { commission } = session.get();
  const place = placeOf(commission, session.slot().version);
  if (!place) return;
  const where = { wiring: place.wiring.id, part };
  const ending = new AbortController();
  openDialog(
    `Measure ${plainName(part)}`,
    (close) => {
      const body = h("div", { class: "measure", "aria-busy": "true" });
      const load = () => {
        fill(body, h("p", { class: "soft", role: "status" }, "Looking for what was measured before…"));
        Promise.all([api.getRig(), api.getMeasurement(where)]).then(
          ([rig, first]) => {
            body.setAttribute("aria-busy", "false");
            fill(body, ...measureBody({ session, where, rig, first, close, signal: ending.signal }));
          },
          (error) =>
            fill(
              body,
              h("p", { class: "problem", role: "alert" }, reasonOf(error)),
              h("button", { type: "button", onclick: load }, "Try again"),
            ),
        );
      };
      load();
      return body;
    },
    { closed: () => ending.abort() },
  );
}

/**
 * Take the values of coils that were measured, as one step of undo.
 * @param {Session} session @param {Record<string, CoilValues>} coils @param {string} comment
 * @param {string} [coefficient] of two coils
 */
export async function takeValues(session, coils, comment, coefficient) {
  const done = await changeWiring(session, { do: "take values", coils, comment, coefficient });
  toast([done.name, comment, ...done.notes].join(". "), { label: "Undo", act: session.undo });
}

/**
 * @param {{session: Session, where: Where, rig: RigWords, first: Measurement, close: () => void, signal:
 *   AbortSignal}} of
 */
function measureBody({ session, where, rig, first, close, signal }) {
  let now = first;
  let fields = withRows(first.fields);
  /** What is on its way to the server, so that a fit has all of it. */
  let keeping = Promise.resolve();
  const problem = h("p", { class: "problem", role: "alert" });

  /** Keep what was typed. */
  function keep() {
    read();
    const typed = fields;
    keeping = keeping.then(() => api.keepFields(where, typed)).then(show, fail);
  }
  /** @param {unknown} error */
  const fail = (error) => {
    if (!signal.aborted) say(problem, reasonOf(error));
  };
  /** @param {string} label @param {string} value @param {string} [example] */
  const line = (label, value, example) => {
    const input = h("input", {
      type: "text",
      value,
      maxlength: 40,
      autocomplete: "off",
      spellcheck: "false",
      placeholder: example,
      onchange: keep,
    });
    return { input, element: h("label", { class: "field" }, h("span", {}, label), input) };
  };
  const known = line("Its resistance on the meter", fields.known, "99.87 kΩ"),
    dc = line("The coil on the meter", fields.dc, "8.12 kΩ"),
    celsius = line("Temperature of the coil, °C", fields.celsius, "20"),
    dcSecond = line("The other coil on the meter", fields.dc_second, "4.25 kΩ"),
    height = line("Height of the first peak over the level at 100 Hz, dB", fields.height, "9");
  const others = (session.get().check?.coils ?? [])
    .map(({ name }) => name)
    .filter((name) => name !== where.part);
  const second = h(
    "select",
    { onchange: keep },
    h("option", { value: "" }, "none"),
    ...others.map((name) => h("option", { value: name }, plainName(name))),
  );
  second.value = others.includes(fields.second) ? fields.second : "";
  const housing = h("label", { class: "field" }, h("span", {}, "Another coil in its housing"), second);
  const turn = h("input", { type: "checkbox", checked: fields.turn, onchange: keep });
  const bridge = fields.bridge.map((row, k) => [
    line(`Frequency ${k + 1}`, row.at),
    line("Ls", row.ls, "2.28 H"),
    line("Rs", row.rs, "8.9 kΩ"),
  ]);
  const peaks = fields.peaks.map((row, k) => [
    line(`Capacitor ${k + 1} across`, row.across),
    line("Peak at", row.at, "4.1 kHz"),
  ]);
  function read() {
    fields = {
      ...fields,
      known: known.input.value,
      dc: dc.input.value,
      celsius: celsius.input.value,
      second: second.value,
      dc_second: dcSecond.input.value,
      height: height.input.value,
      turn: turn.checked,
      bridge: bridge.map(([at, ls, rs]) => ({ at: at.input.value, ls: ls.input.value, rs: rs.input.value })),
      peaks: peaks.map(([across, at]) => ({ across: across.input.value, at: at.input.value })),
    };
  }

  const steps = stepList(where, show, signal, known.element);
  const table = filePlace({
    where,
    step: "table",
    title: "The table",
    about:
      "CSV with a head: freq, |z|, phase, or re, im, or ls, rs. Or a one-port Touchstone file, version 1.",
    accept: ".csv,.tsv,.txt,.s1p,.z1p,.y1p",
    came: show,
    signal,
  });
  const told = h(
    "details",
    { class: "rig-words", open: !first.recording },
    h("summary", {}, "The rig"),
    h("div", { class: "rig-frame", tabindex: 0, role: "group", "aria-label": "The rig drawn" }, rigDrawing()),
    h("h4", {}, "What you need"),
    h("ul", { class: "small" }, ...rig.parts.map((text) => h("li", {}, text))),
    h("h4", {}, "What to do"),
    stepWords(rig.steps),
    h("button", { type: "button", class: "no-print", onclick: () => window.print() }, "Print the rig"),
  );
  /** @type {Record<Source, HTMLElement>} */
  const ways = {
    rig: h("div", {}, told, others.length ? housing : null, tonePlayer(signal), steps.element),
    table: h(
      "div",
      {},
      h("ul", { class: "measure-steps" }, table.element),
      h("label", { class: "row" }, turn, h("span", {}, "Its phase counts the other way")),
    ),
    bridge: h(
      "div",
      {},
      h("p", { class: "soft small" }, "Series inductance and resistance, best at 100 Hz, 1 kHz and 10 kHz."),
      ...bridge.map((row) => h("div", { class: "measure-row" }, ...row.map((one) => one.element))),
    ),
    peaks: h(
      "div",
      {},
      h("p", { class: "soft small" }, "Where the response is loudest with each capacitor across the coil."),
      ...peaks.map((row) => h("div", { class: "measure-row" }, ...row.map((one) => one.element))),
      height.element,
    ),
  };
  const source = choice("How it was read", [...SOURCES], fields.source, (value) => {
    fields = { ...fields, source: /** @type {Source} */ (value) };
    showWay();
    keep();
  });
  const way = h("div", { class: "measure-way" });
  const showWay = () => fill(way, ways[fields.source]);

  const working = h(
    "p",
    { class: "measure-working", role: "status", hidden: true },
    h("progress", { "aria-label": "Fitting" }),
    h("span", {}, "Fitting models with no to three eddy losses…"),
  );
  const go = h("button", { type: "button", class: "main", onclick: fit }, "Find the values");
  async function fit() {
    say(problem, "");
    go.disabled = true;
    working.hidden = false;
    try {
      await keeping;
      show(await api.fitMeasurement(where));
      if (now.result) result.element.scrollIntoView({ block: "nearest" });
      result.title.focus();
    } catch (error) {
      fail(error);
    } finally {
      go.disabled = false;
      working.hidden = true;
    }
  }
  const result = resultView({
    part: where.part,
    name: nameFor(where.part),
    take: async ({ fields: values, comment, second, coefficient }) => {
      const coils = { [where.part]: values, ...(second && { [second.part]: second.fields }) };
      await takeValues(session, coils, comment, coefficient?.toFixed(4));
      close();
    },
    keep: async (name) => {
      const kept = await api.keepCoil(where, name);
      await coils.refresh();
      return kept.map((one) => one.name);
    },
  });
  const coils = coilList(async (coil) => {
    await takeValues(session, { [where.part]: coil.fields }, `${coil.name}, ${coil.comment}`);
    close();
  });
  const away = h(
    "button",
    {
      type: "button",
      class: "quiet",
      onclick: () => api.dropReading(where, "all").then(startAnew, fail),
    },
    "Throw this coil's readings away",
  );
  /** @param {Measurement} empty */
  function startAnew(empty) {
    fields = withRows(empty.fields);
    for (const [one, text] of /** @type {const} */ ([
      [dcSecond, fields.dc_second],
      [known, fields.known],
      [dc, fields.dc],
      [celsius, fields.celsius],
      [height, fields.height],
    ]))
      one.input.value = text;
    for (const [k, row] of bridge.entries())
      row.forEach((one, i) => (one.input.value = i ? "" : FIRST_BRIDGE[k]));
    for (const [k, row] of peaks.entries())
      row.forEach((one, i) => (one.input.value = i ? "" : FIRST_PEAKS[k]));
    turn.checked = false;
    second.value = "";
    source.set(fields.source);
    showWay();
    show(empty);
  }

  /** @param {Measurement} next */
  function show(next) {
    now = next;
    steps.update(now);
    table.update(now.table);
    result.update(now.result);
    dcSecond.element.hidden = now.fields.source !== "rig" || !now.fields.second;
    away.hidden = !now.recording && !now.table && !now.result && !now.fields.dc;
  }
  showWay();
  show(first);
  coils.refresh().catch(fail);
  return [
    heed(rig.cautions),
    source.element,
    way,
    h("div", { class: "measure-row" }, dc.element, dcSecond.element, celsius.element),
    h("div", { class: "actions" }, working, away, go),
    problem,
    result.element,
    coils.element,
  ];
}

/** Steps; those that are numbered within another stand below it. @param {string[]} steps */
function stepWords(steps) {
  const list = h("ol", { class: "small" });
  for (const text of steps) {
    const inner = text.match(/^ +\d\. (.*)/);
    if (!inner) list.append(h("li", {}, text));
    else {
      const last = list.lastElementChild ?? list;
      if (!last.querySelector("ul")) last.append(h("ul", {}));
      last.querySelector("ul")?.append(h("li", {}, inner[1]));
    }
  }
  return list;
}

/** Fields with rows to fill in. @param {Fields} fields @returns {Fields} */
const withRows = (fields) => ({
  ...fields,
  bridge: FIRST_BRIDGE.map((at, k) => fields.bridge[k] ?? { at, ls: "", rs: "" }),
  peaks: FIRST_PEAKS.map((across, k) => fields.peaks[k] ?? { across, at: "" }),
});
