/**
 * The trials of a blind test: three clips, two answers, and the score at the end. The page learns X only
 * then.
 */

import * as api from "./api.js";
import { ApiError, getBytes } from "../shared/http.js";
import { createClips } from "../player/clips.js";
import { namesIn } from "../session/names.js";
import { placeOf } from "../session/session.js";
import { computedInWords, heardInWords, verdict } from "./words.js";
import { slotInWords } from "../session/compare.js";
import { guardFrom } from "../player/guard_node.js";
import { GUARD } from "../player/worklets.js";
import { outputGain, outputWords } from "../shared/output.js";
import { fill, h, say } from "../shared/dom.js";
import { playIcon } from "../shared/icons.js";

/** @import {Session} from "../session/session.js" */
/** @import {BlindTest, Slot} from "../shared/types.js" */

const LETTERS = /** @type {const} */ (["A", "B", "X"]);
/** Interval between requests while the server makes the two sounds, ms. */
const ASK_EVERY_MS = 250;

/**
 * @param {Session} session @param {HTMLElement} body @param {BlindTest} begun
 * @param {{signal: AbortSignal, again: () => void}} dialog
 */
export function runTrials(session, body, begun, { signal, again }) {
  const clips = createClips({
    source: (url) => getBytes(url, signal),
    onState: () => showPlay(),
    guard: guardFrom(GUARD),
  });
  clips.setOutput(outputGain(session.get().output));
  signal.addEventListener("abort", clips.close);

  /** @type {Partial<Record<"A" | "B" | "X", AudioBuffer>>} */
  let buffers = {};
  let test = begun,
    busy = true;
  const [a, b] = soundsInWords(begun.sounds, session);
  const where = h("p", { role: "status" }),
    problem = h("p", { class: "problem", role: "alert" });
  const pips = h(
    "div",
    { class: "pips", "aria-hidden": "true" },
    ...Array.from({ length: test.trials }, () => h("i")),
  );
  const listen = LETTERS.map((letter) =>
    h(
      "button",
      { type: "button", "aria-pressed": "false", "aria-keyshortcuts": letter, onclick: () => hear(letter) },
      letter,
    ),
  );
  const answers = /** @type {const} */ (["A", "B"]).map((letter) =>
    h("button", { type: "button", onclick: () => answer(letter) }, `X is ${letter}`),
  );
  const play = h(
    "button",
    { type: "button", class: "play", onclick: () => (clips.playing ? clips.pause() : clips.play()) },
    playIcon(true),
  );
  const output = h("input", {
    type: "range",
    min: 0,
    max: 1,
    step: 0.01,
    value: String(session.get().output),
    "aria-label": "Output level",
    "aria-valuetext": outputWords(session.get().output),
    oninput: () => {
      session.set({ output: Number(output.value) });
      clips.setOutput(outputGain(Number(output.value)));
      output.setAttribute("aria-valuetext", outputWords(Number(output.value)));
    },
  });
  const retry = h(
    "button",
    { type: "button", hidden: true, onclick: () => follow(() => api.getBlindTest(test.id, signal)) },
    "Try again",
  );

  function showPlay() {
    play.setAttribute("aria-label", clips.playing ? "Pause" : "Play");
    fill(play, playIcon(clips.playing));
  }
  /** @param {typeof LETTERS[number]} letter */
  function hear(letter) {
    const buffer = buffers[letter];
    if (!buffer) return;
    clips.hear(buffer, 0);
    listen.forEach((button, k) => button.setAttribute("aria-pressed", String(LETTERS[k] === letter)));
  }
  /** @param {boolean} on */
  function working(on) {
    busy = on;
    for (const button of [...listen, ...answers]) button.disabled = on;
  }
  /** @param {"A" | "B"} letter */
  function answer(letter) {
    if (busy) return;
    const number = test.answered + 1;
    follow(() =>
      api.answerTrial(test.id, number, letter).catch((error) => {
        const isAnswered = error instanceof ApiError && error.status === 409; // by another page
        if (isAnswered) return api.getBlindTest(test.id, signal);
        throw error;
      }),
    );
  }
  /**
   * Show the state the server reports: wait, listen, or the score.
   * @param {() => Promise<BlindTest>} asking
   */
  async function follow(asking) {
    working(true);
    retry.hidden = true;
    say(problem, "");
    try {
      test = await asking();
      while (test.state === "making" && !signal.aborted) {
        say(where, "Making the two sounds and matching their level…");
        await new Promise((done) => setTimeout(done, ASK_EVERY_MS));
        test = await api.getBlindTest(test.id, signal);
      }
      if (signal.aborted) return;
      if (!test.trial) {
        end();
        return;
      }
      const { number, clips: urls } = test.trial;
      const decoded = await Promise.all(
        LETTERS.map((letter) => clips.load({ key: `${number} ${letter}`, files: [urls[letter]] })),
      );
      clips.forget((key) => key.startsWith(`${number} `));
      buffers = Object.fromEntries(LETTERS.map((letter, k) => [letter, decoded[k]]));
      say(where, `Trial ${number} of ${test.trials}`);
      [...pips.children].forEach((pip, k) => pip.classList.toggle("done", k < test.answered));
      working(false);
      hear("A");
      listen[0].focus();
    } catch (error) {
      if (signal.aborted) return;
      say(problem, error instanceof Error ? error.message : String(error));
      retry.hidden = false;
    }
  }
  function end() {
    clips.close();
    body.onkeydown = null;
    fill(
      body,
      ...outcome(session, test),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: again }, "Back to the tests")),
    );
    /** @type {HTMLElement | null} */ (body.querySelector("[tabindex]"))?.focus();
  }
  body.onkeydown = ({ key, ctrlKey, metaKey, altKey }) => {
    const letter = LETTERS.find((one) => one === key.toUpperCase());
    if (letter && !busy && !ctrlKey && !metaKey && !altKey) hear(letter);
  };
  fill(
    body,
    where,
    pips,
    h("p", { class: "soft small" }, `A is ${a}. B is ${b}. X is one of them. ${heardInWords(test)}`),
    h("div", { class: "trial", role: "group", "aria-label": "Listen to" }, ...listen),
    h(
      "div",
      { class: "row" },
      play,
      h(
        "p",
        { class: "soft small spread" },
        "The keys A, B and X switch between the clips and keep your place in the music.",
      ),
      h("label", { class: "out" }, h("span", { class: "label" }, "out"), output),
    ),
    h("div", { class: "said" }, ...answers),
    problem,
    retry,
  );
  clips.play(); // in the press of a button, or browsers allow no sound; it starts once a clip is loaded
  follow(() =>
    Promise.resolve(begun.state === "making" || begun.trial ? begun : api.getBlindTest(begun.id, signal)),
  );
}

/** @param {Slot[]} sounds @param {Session} session */
export function soundsInWords(sounds, session) {
  const named = (/** @type {string} */ id) => {
    const place = placeOf(session.get().commission, id);
    return place ? `${place.wiring.name} ${place.version.number}` : "";
  };
  const placed = sounds.map((sound) => ({ ...sound, position: `position ${sound.position}` }));
  return placed.map((sound) => slotInWords(sound, placed, named, namesIn(session.get().names)));
}

/** The score, and X of every trial. @param {Session} session @param {BlindTest} test */
function outcome(session, test) {
  const { score } = test;
  if (!score)
    return [
      h(
        "p",
        { role: "status", tabindex: -1 },
        test.problem ? `The test could not start. ${test.problem}` : "This test was given up.",
      ),
    ];
  const [a, b] = soundsInWords(test.sounds, session);
  return [
    h("p", { role: "status", tabindex: -1 }, h("b", {}, verdict(test, score))),
    h("p", { class: "soft" }, `A was ${a}, B was ${b}, on ${test.take_name}. ${heardInWords(test)}`),
    test.computed && h("p", { class: "soft small" }, computedInWords(test.computed)),
    h(
      "div",
      { class: "scroller" },
      h(
        "table",
        {},
        h("caption", { class: "unseen" }, "Trials"),
        h(
          "thead",
          {},
          h("tr", {}, ...["Trial", "X was", "your answer"].map((text) => h("th", { scope: "col" }, text))),
        ),
        h(
          "tbody",
          {},
          ...[...score.drawn].map((drawn, k) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, k + 1),
              h("td", {}, drawn),
              h(
                "td",
                { class: drawn === score.answers[k] ? "ok" : "bad" },
                `${score.answers[k]} ${drawn === score.answers[k] ? "right" : "wrong"}`,
              ),
            ),
          ),
        ),
      ),
    ),
    h(
      "p",
      { class: "soft small" },
      "One-sided binomial test against guessing. Stopping early or repeating a test until it succeeds makes these numbers untrue. The test keeps you from learning X by accident; it does not stop deliberate cheating.",
    ),
  ];
}
