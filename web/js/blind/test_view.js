/** Blind tests of two sounds: start one, continue it, give it up, and list the earlier ones. */

import * as api from "./api.js";
import {
  chooseStretch,
  computedInWords,
  heardInWords,
  measureInWords,
  standing,
  stretchInWords,
} from "./words.js";
import { LETTERS } from "../session/compare.js";
import { learnNames } from "../session/names.js";
import { showDate } from "../shared/units.js";
import { runTrials, soundsInWords } from "./trials_view.js";
import { openDialog } from "../shared/dialog.js";
import { choice, fill, h, say } from "../shared/dom.js";
import { takeLine } from "../shared/words.js";

/** @import {Session} from "../session/session.js" */
/** @import {BlindTest, BlindTests} from "../shared/types.js" */

const LIMITS =
  "The server draws X when a trial opens and shows it after the last answer. The clips do not give it away. This keeps you from learning X by accident. It does not stop cheating: anyone can compute the sounds or read the server's files.";

/** @param {Session} session @param {() => void} toggle play and pause of the bench */
export function blindTest(session, toggle) {
  const over = new AbortController();
  if (session.get().playing) toggle();
  openDialog(
    "Blind test",
    () => {
      const body = h("div", { class: "dialog-body-inner" });
      overview(session, body, over.signal);
      return body;
    },
    { closed: () => over.abort() },
  );
}

/** @param {Session} session @param {HTMLElement} body @param {AbortSignal} signal */
async function overview(session, body, signal) {
  fill(body, h("p", { class: "soft", role: "status" }, "Looking for earlier tests…"));
  try {
    const all = await api.listBlindTests(session.get().commission.id, signal);
    const sounds = [...all.tests.flatMap((test) => test.sounds), ...session.get().slots];
    await learnNames(session, sounds).catch(() => undefined); // without the server's words, the places
    if (signal.aborted) return;
    const open = all.tests.find(({ ended }) => !ended);
    fill(
      body,
      h(
        "p",
        {},
        "Two sounds at the same level, A and B, play in step. X is one of them. Say which one, trial after trial.",
      ),
      open ? underWay(session, body, open, signal) : setUp(session, body, all, signal),
      earlier(
        session,
        all.tests.filter(({ ended }) => ended),
        all.measure,
      ),
    );
    /** @type {HTMLElement | null} */ (body.querySelector("button.main:not(:disabled)"))?.focus();
  } catch (error) {
    if (!signal.aborted)
      fill(
        body,
        trouble(error),
        h(
          "div",
          { class: "actions" },
          h("button", { type: "button", onclick: () => overview(session, body, signal) }, "Try again"),
        ),
      );
  }
}

/** @param {unknown} error */
const trouble = (error) =>
  h("p", { class: "problem", role: "alert" }, error instanceof Error ? error.message : String(error));

/** @param {Session} session @param {HTMLElement} body @param {BlindTest} test @param {AbortSignal} signal */
function underWay(session, body, test, signal) {
  const [a, b] = soundsInWords(test.sounds, session),
    problem = h("p", { class: "problem", role: "alert" });
  return h(
    "section",
    { class: "proposal" },
    h("p", {}, h("b", {}, `A test of ${test.trials} trials is under way, ${test.answered} answered.`)),
    h("p", { class: "soft small" }, `${a} against ${b}, on ${test.take_name}. ${heardInWords(test)}`),
    problem,
    h(
      "div",
      { class: "actions" },
      h(
        "button",
        {
          type: "button",
          onclick: async () => {
            try {
              await api.giveUpBlindTest(test.id);
              await overview(session, body, signal);
            } catch (error) {
              say(problem, error instanceof Error ? error.message : "");
            }
          },
        },
        "Give up",
      ),
      h(
        "button",
        {
          type: "button",
          class: "main",
          onclick: () =>
            runTrials(session, body, test, { signal, again: () => overview(session, body, signal) }),
        },
        "Continue",
      ),
    ),
  );
}

/** @param {Session} session @param {HTMLElement} body @param {BlindTests} all @param {AbortSignal} signal */
function setUp(session, body, { lengths, longest_s: longest }, signal) {
  const { slots, takes, take, loops, commission, way, ways } = session.get();
  if (slots.length < 2)
    return h(
      "p",
      { class: "soft" },
      "A test needs two sounds: press Keep to compare on the bench, then change what you want to compare.",
    );
  const playing = takes.find(({ id }) => id === take);
  if (!playing) return h("p", { class: "soft" }, "You have no take to play yet. Bring a recording first.");
  if (playing.state === "broken") return h("p", { class: "warn" }, `The take ${takeLine(playing)}`);
  if (playing.seconds === null)
    return h("p", { class: "soft" }, "The take is still being examined. Open this again in a moment.");
  const pair = [0, 1],
    heard = ways.find(({ name }) => name === way)?.about ?? "";
  let trials = 12;
  const words = soundsInWords(slots, session);
  const need = h("p", { class: "soft" }),
    problem = h("p", { class: "problem", role: "alert" });
  const tell = () =>
    say(
      need,
      `${lengths.find((one) => one.trials === trials)?.needed} of ${trials} correct answers show a difference. Guessing reaches that in fewer than 1 of 20 tests.`,
    );
  const length = choice(
    "Trials",
    lengths.map(({ trials: n }) => ({ value: String(n), label: String(n) })),
    String(trials),
    (value) => {
      trials = Number(value);
      tell();
    },
  );
  const selects = pair.map((k, j) => {
    const select = h(
      "select",
      {
        "aria-label": j ? "Second sound" : "First sound",
        onchange: () => {
          pair[j] = Number(select.value);
          start.disabled = pair[0] === pair[1];
        },
      },
      ...slots.map((_, n) => h("option", { value: n }, `${LETTERS[n]} ${words[n]}`)),
    );
    select.value = String(k);
    return select;
  });
  const stretch = chooseStretch(playing.seconds, loops[take], longest);
  const start = h(
    "button",
    {
      type: "button",
      class: "main",
      onclick: async () => {
        start.disabled = true;
        const sounds = pair
          .map((k) => slots[k])
          .map(({ version, edits, position, knobs, switches }) => ({
            draft: { version, edits },
            setting: { position, knobs, switches },
          }));
        try {
          const test = await api.startBlindTest(commission.id, {
            sounds,
            take,
            trials,
            from_s: stretch.from,
            to_s: stretch.to,
            way,
          });
          runTrials(session, body, test, { signal, again: () => overview(session, body, signal) });
        } catch (error) {
          say(problem, error instanceof Error ? error.message : String(error));
          start.disabled = false;
        }
      },
    },
    "Start",
  );
  tell();
  return h(
    "div",
    { class: "dialog-body-inner" },
    h("div", { class: "row" }, selects[0], h("span", { class: "soft" }, "against"), selects[1]),
    h("div", { class: "row" }, h("span", {}, "Trials"), length.element),
    need,
    h("p", { class: "soft small" }, stretchInWords(stretch, playing.name)),
    h(
      "p",
      { class: "soft small" },
      `${heardInWords({ way, heard })} Both in the same way: choose it on the bench.`,
    ),
    h("p", { class: "soft small" }, LIMITS),
    problem,
    h("div", { class: "actions" }, start),
  );
}

/** @param {Session} session @param {BlindTest[]} tests @param {BlindTests["measure"]} measure */
function earlier(session, tests, measure) {
  if (tests.length === 0) return null;
  return h(
    "details",
    { class: "earlier" },
    h("summary", {}, `Earlier tests of this commission (${tests.length})`),
    h(
      "ul",
      { class: "blind-list" },
      ...tests.map((test) => {
        const [a, b] = soundsInWords(test.sounds, session);
        return h(
          "li",
          {},
          h("b", {}, `${a} against ${b}`),
          h("p", { class: test.score?.heard ? "" : "soft" }, standing(test)),
          test.computed && h("p", { class: "soft small" }, computedInWords(test.computed)),
          h(
            "p",
            { class: "soft small" },
            `${test.take_name} · heard ${test.way} · ${showDate(test.created)}`,
          ),
        );
      }),
    ),
    measure.length > 0 && h("p", { class: "small" }, measureInWords(measure)),
    h(
      "p",
      { class: "soft small" },
      "The list includes tests given up: repeating a test until it succeeds makes its numbers untrue.",
    ),
  );
}
