/** The rig's tone: to play here, quiet at first, or to save for another player. */

import { h, say } from "../shared/dom.js";
import { toneUrl } from "../shared/recordings.js";

const SECONDS = 10;
/** Share of full scale where the slider starts: 40 dB below the top. */
const QUIET = 0.01;
const LOWEST_DB = -60;

/** @param {AbortSignal} signal of the dialog: the tone ends with it */
export function tonePlayer(signal) {
  const audio = new Audio();
  audio.preload = "none";
  audio.loop = true;
  audio.volume = QUIET;
  audio.src = toneUrl(48_000, SECONDS);
  signal.addEventListener("abort", () => audio.pause());
  const problem = h("p", { class: "problem small", role: "alert" });
  const play = h(
    "button",
    {
      type: "button",
      "aria-pressed": "false",
      onclick: async () => {
        say(problem, "");
        try {
          if (audio.paused) await audio.play();
          else audio.pause();
        } catch {
          say(problem, "The browser does not play the tone. Save it, and play it with another program.");
        }
      },
    },
    "Play the tone",
  );
  const showPlaying = () => {
    play.setAttribute("aria-pressed", String(!audio.paused));
    say(play, audio.paused ? "Play the tone" : "Stop the tone");
  };
  audio.addEventListener("play", showPlaying);
  audio.addEventListener("pause", showPlaying);
  const level = h("input", {
    type: "range",
    min: LOWEST_DB,
    max: 0,
    step: 1,
    value: 20 * Math.log10(QUIET),
    "aria-label": "Level of the tone",
    oninput: () => {
      audio.volume = 10 ** (Number(level.value) / 20);
      level.setAttribute("aria-valuetext", `${level.value} dB`);
    },
  });
  return h(
    "div",
    { class: "tone no-print" },
    h(
      "div",
      { class: "row" },
      play,
      h("label", { class: "row small" }, h("span", {}, "Level"), level),
      h("span", { class: "small" }, "Save it: "),
      ...[48_000, 44_100].map((rate) =>
        h("a", { href: toneUrl(rate, SECONDS), download: `tone-${rate}.wav` }, `${rate / 1000} kHz`),
      ),
    ),
    h(
      "p",
      { class: "soft small" },
      "Any player will do, a phone too: both inputs share one clock, and that is enough.",
    ),
    problem,
  );
}
