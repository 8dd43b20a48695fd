/** The finished guitar's sound beside its sign-off: recordings, the verdict, listening side by side. */

import { mayRecord } from "../player/capture.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { filePlace, reasonOf } from "../shared/file_place.js";
import { heed } from "../shared/heed.js";
import * as api from "./api.js";
import { pairChart } from "./chart.js";
import { changedText, createJudging } from "./judging.js";
import { createListening } from "./listening.js";
import { recordSetting } from "./record.js";
import { MOST, SOUND } from "./sounds.js";
import {
  besideText,
  causeTexts,
  firstHeard,
  pairText,
  recordingText,
  settingText,
  unheardText,
  verdictText,
} from "./words.js";

/** @import {Fields, Guitar, Recording, Verdict} from "./api.js" */

/** @type {{key: keyof Fields, title: string, example: string}[]} */
const FIELDS = [
  { key: "frets", title: "Chord, a fret for each string, lowest first", example: "open strings" },
  { key: "cable", title: "Length of the cable", example: "as signed" },
  { key: "input", title: "Resistance of the input", example: "as signed" },
];

const ELSEWHERE =
  "This page's address is not secure, so the browser opens no input: record with any program and bring the files.";

/**
 * @param {{id: string, title: string}} proposal  one that is signed
 * @param {{take: string, way: string}} bench  what is chosen there
 */
export function openSoundCheck({ id, title }, bench) {
  const closing = new AbortController();
  const body = h(
    "div",
    { class: "measure verify" },
    h("p", { role: "status" }, "Looking up what was recorded…"),
  );
  /** What is lost if the dialog closes now. */
  let loss = () => "";
  openDialog(`Does it sound as proposed? ${title}`, () => body, {
    closed: () => closing.abort(),
    loss: () => loss(),
  });
  const open = async () => {
    try {
      const made = checkBody(id, await api.getGuitar(id, closing.signal), bench, closing.signal);
      loss = made.loss;
      fill(body, ...made.elements);
    } catch (error) {
      if (closing.signal.aborted) return;
      const again = h("button", { type: "button", onclick: () => void open() }, "Try again");
      fill(body, h("p", { class: "problem", role: "alert" }, reasonOf(error)), again);
    }
  };
  void open();
}

/**
 * @param {string} proposal @param {Guitar} first @param {{take: string, way: string}} bench
 * @param {AbortSignal} signal
 */
function checkBody(proposal, first, bench, signal) {
  let heard = firstHeard(first, bench),
    latest = first;
  const listening = createListening(proposal, signal, () => heard);
  const beside = h("p", { class: "soft small" }, besideText(heard.way));
  /** @param {string} title @param {"take" | "way"} key @param {string[][]} options */
  const heardField = (title, key, options) => {
    const select = h(
      "select",
      {
        onchange: () => {
          heard = { ...heard, [key]: select.value };
          listening.stop();
          say(beside, besideText(heard.way));
          show(latest);
        },
      },
      ...options.map(([value, text]) => h("option", { value, selected: value === heard[key] }, text)),
    );
    return options.length > 1 && h("label", { class: "field" }, h("span", {}, title), select);
  };
  const problem = h("p", { class: "problem", role: "alert" });
  const result = h("div", { class: "verify-result" });
  const working = h("p", { class: "soft small", role: "status" });
  /** @param {unknown} error */
  const fail = (error) => {
    if (!signal.aborted) say(problem, reasonOf(error));
  };
  const places = first.settings.map((one) => {
    const listen = h("div", {});
    const place = filePlace({
      key: one.setting,
      title: settingText(one.setting, one.label),
      about: one.sound ? `Signed for as “${one.sound.label}”.` : "It helps to find a fault.",
      accept: SOUND,
      most: MOST,
      bring: (file, onProgress) => api.bringRecording(proposal, one.setting, file, onProgress),
      drop: () => api.dropRecording(proposal, one.setting),
      lost: "The recording and the verdict go. The file that you brought stays where it is.",
      words: (/** @type {Recording} */ there) => ({ text: recordingText(there), warn: "" }),
      came: (/** @type {Guitar} */ now) => show(now),
      signal,
      more: listen,
      taking: mayRecord()
        ? {
            label: "Record",
            take: () => recordSetting(settingText(one.setting), `setting ${one.setting}`),
          }
        : null,
    });
    return { setting: one.setting, place, listen };
  });
  const compare = h(
    "button",
    {
      type: "button",
      class: "main",
      onclick: async () => {
        say(problem, "");
        say(working, "The strums are being compared with what the wiring predicts; it takes some seconds…");
        compare.disabled = true;
        try {
          const now = await judging.judge();
          show(now);
          say(problem, changedText(now.verdict));
        } catch (error) {
          fail(error);
        } finally {
          say(working, "");
          compare.disabled = false;
        }
      },
    },
    "Compare with what was proposed",
  );
  const typed = FIELDS.map(({ key, title, example }) => {
    const input = h("input", {
      type: "text",
      value: first.fields[key],
      maxlength: 60,
      placeholder: example,
      autocomplete: "off",
      onchange: () => void judging.keep().then(show, fail),
    });
    return { key, input, element: h("label", { class: "field" }, h("span", {}, title), input) };
  });
  const judging = createJudging({
    fields: () => {
      const now = { ...first.fields };
      for (const { key, input } of typed) now[key] = input.value.trim();
      return now;
    },
    keep: (fields) => api.keepFields(proposal, fields),
    judge: () => api.judge(proposal),
  });

  /** @param {Guitar} now */
  function show(now) {
    latest = now;
    for (const { setting, place, listen } of places) {
      const one = now.settings.find((row) => row.setting === setting);
      place.update(one?.recording ?? null);
      fill(listen, one ? listening.buttons(one) : null);
    }
    compare.hidden = now.settings.filter(({ recording }) => recording).length < 2;
    fill(result, ...(now.verdict ? verdictView(now.verdict) : []));
  }
  show(first);
  const loss = () => places.map(({ place }) => place.loss()).find(Boolean) ?? "";
  const elements = [
    heed(first.cautions),
    h("ol", { class: "small verify-steps" }, ...first.steps.map((text) => h("li", {}, text))),
    ...(mayRecord() ? [] : [h("p", { class: "soft small" }, ELSEWHERE)]),
    h("div", { class: "row verify-fields" }, ...typed.map(({ element }) => element)),
    h(
      "div",
      { class: "row verify-fields" },
      heardField(
        "Clips play",
        "take",
        first.takes.map(({ id, name }) => [id, name]),
      ),
      heardField(
        "Clips are heard",
        "way",
        first.ways.map((way) => [way, way]),
      ),
    ),
    beside,
    listening.level,
    h("ul", { class: "measure-steps" }, ...places.map(({ place }) => place.element)),
    h("div", { class: "actions" }, compare),
    working,
    problem,
    result,
  ];
  return { elements, loss };
}

/** @param {Verdict} verdict @returns {Node[]} */
function verdictView(verdict) {
  const { look, text } = verdictText(verdict);
  const chart = h("div", {}),
    words = h("p", { class: "small" });
  const choose = h(
    "select",
    { onchange: () => showPair() },
    ...verdict.pairs.map((pair, k) =>
      h(
        "option",
        { value: String(k) },
        `${pair.agrees ? "" : "≠ "}${settingText(pair.first)} against ${settingText(pair.second)}`,
      ),
    ),
  );
  const showPair = () => {
    const pair = verdict.pairs[Number(choose.value)];
    fill(chart, pairChart(pair, verdict.bands_hz));
    say(words, pairText(pair));
  };
  const worst = verdict.pairs.findIndex((pair) => !pair.agrees);
  if (verdict.pairs.length) {
    choose.value = String(Math.max(worst, 0));
    showPair();
  }
  const unheard = unheardText(verdict);
  const standing = verdict.recordings.filter(({ words: said }) => said);
  return [
    h("p", { class: `verify-verdict ${look}`, role: "status" }, text),
    ...(unheard ? [h("p", { class: "small" }, unheard)] : []),
    h("ul", { class: "small" }, ...causeTexts(verdict).map((one) => h("li", {}, one))),
    h(
      "ul",
      { class: "small" },
      ...standing.map((one) => h("li", {}, `${settingText(one.setting)}: ${one.words}.`)),
    ),
    ...(verdict.pairs.length
      ? [
          h("label", { class: "field" }, h("span", {}, "Two settings compared"), choose),
          words,
          chart,
          h(
            "p",
            { class: "soft small" },
            "Difference in dB over frequency in Hz. In each band the area holds 95 % of sound guitars and hands; of many bands some may lie outside it. The line is what was heard; a larger dot lies outside.",
          ),
        ]
      : []),
    ...verdict.notes.map((note) => h("p", { class: "soft small" }, note)),
  ];
}
