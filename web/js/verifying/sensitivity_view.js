/** How sensitive the coils are: strings plucked in several positions, compared, taken into the wiring. */

import { changeWiring } from "../session/changes.js";
import { placeOf } from "../session/session.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { filePlace, reasonOf } from "../shared/file_place.js";
import { heed } from "../shared/heed.js";
import { toast } from "../shared/notices.js";
import { plainName } from "../shared/words.js";
import { changedText, createJudging } from "./judging.js";
import { plucksDrawing } from "./plucks_drawing.js";
import * as api from "./sensitivity_api.js";
import { resultView } from "./sensitivity_result.js";
import {
  ALL,
  countText,
  missingText,
  placeText,
  pluckText,
  removedText,
  stringText,
  waitingText,
} from "./sensitivity_words.js";
import { MOST, SOUND } from "./sounds.js";
import { settingText } from "./words.js";

/** @import {Session} from "../session/session.js" */
/** @import {Draft} from "../shared/types.js" */
/** @import {Fields, Place, Plan, Plucked, Recording, Result} from "./sensitivity_api.js" */

/** @type {{key: "frets" | "cable" | "input", title: string, example: string}[]} */
const TYPED = [
  { key: "frets", title: "Chord of strums, a fret for each string, lowest first", example: "open strings" },
  { key: "cable", title: "Length of the cable", example: "as in the wiring" },
  { key: "input", title: "Resistance of the input", example: "as in the wiring" },
];

/** @param {Session} session */
export function openSensitivity(session) {
  const { version, edits } = session.slot();
  const place = placeOf(session.get().commission, version);
  if (!place) return;
  const wiring = place.wiring.id,
    draft = { version, edits };
  const ending = new AbortController();
  /** What is lost if the dialog closes now. */
  let loss = () => "";
  openDialog(
    "Sensitivity of the coils",
    (close) => {
      const body = h("div", { class: "measure", "aria-busy": "true" });
      const load = async () => {
        fill(body, h("p", { class: "soft", role: "status" }, "Looking for what was recorded before…"));
        try {
          const [plan, first] = await Promise.all([
            api.getPlan(draft, ending.signal),
            api.getPlucked(wiring, ending.signal),
          ]);
          body.setAttribute("aria-busy", "false");
          const made = viewBody({ session, wiring, draft, plan, first, close, signal: ending.signal });
          loss = made.loss;
          fill(body, ...made.elements);
        } catch (error) {
          if (ending.signal.aborted) return;
          const again = h("button", { type: "button", onclick: () => void load() }, "Try again");
          fill(body, h("p", { class: "problem", role: "alert" }, reasonOf(error)), again);
        }
      };
      void load();
      return body;
    },
    { closed: () => ending.abort(), loss: () => loss() },
  );
}

/**
 * @param {{session: Session, wiring: string, draft: Draft, plan: Plan, first: Plucked, close: () => void,
 *   signal: AbortSignal}} of
 */
function viewBody({ session, wiring, draft, plan, first, close, signal }) {
  if (plan.coils.length < 2)
    return {
      elements: [
        h("p", {}, "Coils are compared with one another: this wiring has fewer than two that hear strings."),
      ],
      loss: () => "",
    };
  const problem = h("p", { class: "problem", role: "alert" });
  /** @param {unknown} error */
  const fail = (error) => {
    if (!signal.aborted) say(problem, reasonOf(error));
  };
  let now = first;
  const judging = createJudging({
    fields: readFields,
    keep: (fields) => api.keepFields(wiring, fields),
    judge: () => api.findSensitivities(wiring, draft),
  });
  const keep = () => {
    say(problem, "");
    void judging.keep().then(show, fail);
  };

  const chosen = first.fields.strings.length ? first.fields.strings : plan.advised;
  const boxes = [...plan.strings.map(({ string }) => string), ALL].map((string) => ({
    string,
    box: h("input", {
      type: "checkbox",
      checked: chosen.includes(string),
      onchange: () => {
        layOut();
        keep();
      },
    }),
  }));
  const hand = h(
    "select",
    { onchange: keep },
    ...plan.hands.map((word) => h("option", { value: word }, plainName(word))),
  );
  hand.value = first.fields.hand;
  const reference = h(
    "select",
    { onchange: keep },
    h("option", { value: "" }, "the one heard most"),
    ...plan.coils.map((name) => h("option", { value: name }, plainName(name))),
  );
  reference.value = plan.coils.includes(first.fields.reference) ? first.fields.reference : "";
  const typed = TYPED.map(({ key, title, example }) => {
    const input = h("input", {
      type: "text",
      value: first.fields[key],
      maxlength: 100,
      placeholder: example,
      autocomplete: "off",
      onchange: keep,
    });
    return { key, input, element: h("label", { class: "field" }, h("span", {}, title), input) };
  });
  /** @returns {Fields} */
  function readFields() {
    const [frets, cable, input] = typed.map((one) => one.input.value.trim());
    const strings = boxes.filter(({ box }) => box.checked).map(({ string }) => string);
    return { strings, hand: hand.value, reference: reference.value, frets, cable, input };
  }

  const places = new Map();
  /** The place of a recording, made when it is first shown. @param {Place} place */
  function placeFor(place) {
    const key = JSON.stringify([place.setting, place.string]);
    const there = places.get(key);
    if (there) return there;
    const title = placeText(place, plan.strings);
    const made = filePlace({
      key: `${place.setting}:${place.string}`,
      title,
      about: missingText(planned(place.setting), has(place.string)),
      accept: SOUND,
      most: MOST,
      bring: (file, onProgress) => api.bringRecording(wiring, place, file, onProgress),
      drop: async () => {
        const left = await api.dropRecording(wiring, place);
        focusUndo = true;
        return left;
      },
      words: (/** @type {Recording} */ there) => ({ text: pluckText(there), warn: "" }),
      came: show,
      signal,
    });
    places.set(key, { place, ...made });
    return places.get(key);
  }
  /** @param {string} setting */
  const planned = (setting) => plan.settings.some((one) => one.setting === setting);

  /** @param {number} string */
  const has = (string) => boxes.some((one) => one.string === string);

  const list = h("div", { class: "sensed-places" });
  const count = h("p", { class: "soft small", role: "status" });
  let shown = "";
  /** Show a place for each string chosen, and for each recording that is there. */
  function layOut() {
    const wanted = readFields().strings;
    const settings = [
      ...plan.settings,
      ...now.recordings
        .filter(({ setting }) => !planned(setting))
        .map(({ setting }) => ({ setting, label: "" })),
    ];
    const groups = [...new Map(settings.map((one) => [one.setting, one])).values()].map(
      ({ setting, label }) => ({
        title: settingText(setting, label),
        places: [...new Set([...boxes, ...now.recordings].map(({ string }) => string))]
          .map((string) => ({ setting, string }))
          .filter(
            ({ string }) =>
              (planned(setting) && wanted.includes(string)) ||
              now.recordings.some((one) => one.setting === setting && one.string === string),
          ),
      }),
    );
    const text = JSON.stringify(groups);
    // whoever uses a place keeps the focus
    if (text !== shown)
      fill(
        list,
        ...groups.flatMap(({ title, places: ofGroup }) =>
          ofGroup.length
            ? [
                h("h4", {}, title),
                h("ul", { class: "measure-steps" }, ...ofGroup.map((place) => placeFor(place).element)),
              ]
            : [],
        ),
      );
    shown = text;
    const all = groups.flatMap((one) => one.places);
    const is = (/** @type {Place} */ place) =>
      now.recordings.find((one) => one.setting === place.setting && one.string === place.string);
    for (const place of all) placeFor(place).update(is(place) ?? null);
    say(count, countText(now.recordings.length, all.length));
  }

  const undone = h("p", { class: "row small", role: "status" });
  let undoFor = "",
    focusUndo = false;
  function showRemoved() {
    const { removed } = now;
    if (undoFor === (removed?.id ?? "")) return;
    undoFor = removed?.id ?? "";
    if (!removed) return fill(undone);
    const button = h(
      "button",
      {
        type: "button",
        class: "small",
        onclick: () => {
          button.disabled = true; // what it replaces must not replace it again
          void api
            .restoreRecording(wiring, removed.id)
            .then(show, fail)
            .finally(() => (button.disabled = false));
        },
      },
      "Bring it back",
    );
    fill(undone, h("span", {}, removedText(removed, plan.strings)), button);
    if (focusUndo) button.focus();
    focusUndo = false;
  }

  const waiting = h("span", {});
  const working = h(
    "p",
    { class: "measure-working", role: "status", hidden: true },
    h("progress", { "aria-label": "Comparing" }),
    waiting,
  );
  const find = h(
    "button",
    {
      type: "button",
      class: "main",
      onclick: async () => {
        say(problem, "");
        find.disabled = true;
        working.hidden = false;
        say(waiting, waitingText(now.recordings.length));
        try {
          const found = await judging.judge();
          show(found);
          say(problem, changedText(found.result, "find the values again"));
          if (found.result) result.title.focus();
        } catch (error) {
          fail(error);
        } finally {
          find.disabled = false;
          working.hidden = true;
        }
      },
    },
    "Find the values",
  );
  const result = resultView({
    plan: () => plan,
    take: async (found) => {
      await takeSensitivities(session, found);
      close();
    },
  });

  /** @param {Plucked} next */
  function show(next) {
    now = next;
    layOut();
    showRemoved();
    result.update(now.result);
  }
  show(first);
  const loss = () => [...places.values()].map((one) => one.loss()).find(Boolean) ?? "";
  const elements = [
    heed(plan.cautions),
    h(
      "details",
      { class: "rig-words", open: !first.recordings.length },
      h("summary", {}, "How to play and record"),
      plucksDrawing(
        plan.settings.map(({ setting }) => settingText(setting)),
        plan.advised.map((string) => stringText(string, plan.strings)),
      ),
      h("ol", { class: "small" }, ...plan.steps.map((text) => h("li", {}, text))),
    ),
    h(
      "fieldset",
      { class: "sensed-strings" },
      h("legend", {}, "Strings plucked alone"),
      ...boxes.map(({ string, box }) =>
        h("label", { class: "row small" }, box, h("span", {}, stringText(string, plan.strings))),
      ),
    ),
    h(
      "div",
      { class: "measure-row" },
      h("label", { class: "field" }, h("span", {}, "What plucks them"), hand),
      h("label", { class: "field" }, h("span", {}, "Reference coil: it keeps its values"), reference),
    ),
    h(
      "details",
      { class: "rig-words" },
      h("summary", {}, "Chord, cable and input"),
      h("div", { class: "measure-row" }, ...typed.map(({ element }) => element)),
    ),
    list,
    count,
    undone,
    h("div", { class: "actions" }, working, find),
    problem,
    result.element,
  ];
  return { elements, loss };
}

/** Take what was found, as one step of undo. @param {Session} session @param {Result} result */
async function takeSensitivities(session, { take, against }) {
  const done = await changeWiring(session, { do: "take sensitivities", coils: take, against });
  toast([`Taken: ${done.name}`, ...done.notes].join(". "), { label: "Undo", act: session.undo });
}
