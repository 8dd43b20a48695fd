/** The player: play, take, place, level. */

import { clock, placesInWords } from "./words.js";
import { choice, h, s, say } from "../shared/dom.js";
import { playIcon } from "../shared/icons.js";
import { meterView } from "../shared/meter.js";
import { outputWords } from "../shared/output.js";

/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof import("./listening.js").startListening>} Listening */
/** @import {LiveKnobs} from "./knobs.js" */

const WIDE = 480,
  TALL = 40;

/** @param {Page} page @param {Listening} listening */
export function deckView(page, listening) {
  const { get, on } = page;
  const play = h("button", { type: "button", class: "play", onclick: () => listening.toggle() });
  const show = () => {
    const { playing, held, loading } = get(),
      sounds = playing && !held;
    play.replaceChildren(playIcon(sounds));
    play.setAttribute("aria-label", sounds ? "Pause" : "Play");
    play.setAttribute("aria-busy", String(playing && loading !== null));
  };
  on(["playing", "held", "loading"], show);
  show();
  return h(
    "section",
    { class: "deck", "aria-label": "Player" },
    play,
    takeView(page),
    placeView(page, listening),
  );
}

/** @param {Page} page */
function takeView({ get, set, on }) {
  const { takes } = get().offer,
    note = h("p", { class: "soft small" });
  const say_ = () => {
    const { take, playing } = get();
    const places = placesInWords(takes.find(({ id }) => id === take)?.coil_places ?? "");
    say(note, playing ? places || "Tap another sound to switch" : places || "Tap Play, then tap the sounds");
  };
  on(["take", "playing"], say_);
  say_();
  if (takes.length === 1) return h("div", { class: "take" }, h("p", { class: "only" }, takes[0].name), note);
  const select = h(
    "select",
    {
      "aria-label": "What is played",
      onchange: () => set({ take: select.value }),
    },
    ...takes.map(({ id, name }) => h("option", { value: id, selected: id === get().take }, name)),
  );
  return h("div", { class: "take" }, select, note);
}

/** @param {Page} page @param {Listening} listening */
function placeView({ get, on }, listening) {
  const bars = s("path", { class: "bars" }),
    done = s("path", { class: "bars done" });
  const picture = s(
    "svg",
    { viewBox: `0 0 ${WIDE} ${TALL}`, preserveAspectRatio: "none", "aria-hidden": "true" },
    bars,
    done,
  );
  const length = () => get().offer.takes.find(({ id }) => id === get().take)?.seconds ?? 1;
  const slider = h("input", {
    type: "range",
    min: 0,
    max: 100,
    step: 0.1,
    value: 0,
    "aria-label": "Place in the music",
    oninput: () => {
      listening.seek((slider.valueAsNumber / 100) * length());
      move();
    },
  });
  const time = h("span", { class: "time soft small", "aria-hidden": "true" });
  function draw() {
    const { peaks } = get(),
      step = WIDE / Math.max(peaks.length, 1),
      share = listening.position() / length();
    let before = "",
      after = "";
    peaks.forEach((peak, k) => {
      const x = ((k + 0.5) * step).toFixed(1),
        tall = Math.max(1, peak * (TALL / 2 - 1));
      const bar = `M${x} ${(TALL / 2 - tall).toFixed(1)}V${(TALL / 2 + tall).toFixed(1)}`;
      if ((k + 0.5) / peaks.length <= share) before += bar;
      else after += bar;
    });
    bars.setAttribute("d", after);
    done.setAttribute("d", before);
  }
  function move() {
    const at = listening.position();
    if (document.activeElement !== slider || get().playing) slider.value = String((at / length()) * 100);
    slider.setAttribute("aria-valuetext", `${clock(at)} of ${clock(length())}`);
    say(time, `${clock(at)} / ${clock(length())}`);
    draw();
  }
  let frame = 0;
  const run = () => {
    move();
    frame = get().playing ? requestAnimationFrame(run) : 0;
  };
  on(["playing", "take", "peaks"], () => {
    cancelAnimationFrame(frame);
    run();
  });
  run();
  return h("div", { class: "place" }, h("div", { class: "wave" }, picture, slider), time);
}

/** The level of this page, its meter and its caution. @param {Page} page @param {LiveKnobs} listening */
export function levelView({ get, set, on }, listening) {
  const level = h("input", {
    type: "range",
    min: 0,
    max: 100,
    step: 1,
    value: get().travel,
    "aria-describedby": "quiet",
    oninput: () => set({ travel: level.valueAsNumber }),
  });
  const meter = meterView({ peak: listening.peak, playing: () => get().playing && !get().held });
  const show = () => level.setAttribute("aria-valuetext", outputWords(get().travel / 100));
  on(["playing", "held"], meter.follow);
  on(["travel"], show);
  show();
  return h(
    "section",
    { class: "level", "aria-label": "Listening level" },
    h("label", {}, h("span", {}, "Level"), level),
    meter.element,
    h(
      "p",
      { id: "quiet", class: "small" },
      "Start low, above all with headphones.",
      h("span", { class: "hint" }, " If the meter moves and you hear nothing, turn your device up."),
    ),
  );
}

const LOUDNESS_NOTES = {
  equal: "All sounds have the same loudness, so that you compare tone alone.",
  true: "The sounds differ in loudness as they will on the guitar.",
};

/** @param {Page} page @returns {{element: HTMLElement, note: HTMLElement}} */
export function loudnessView({ get, set, on }) {
  const note = h("span", {});
  const show = () => say(note, LOUDNESS_NOTES[get().matched ? "equal" : "true"]);
  const { element } = choice(
    "Loudness of the sounds",
    [
      { value: "equal", label: "Equal" },
      { value: "true", label: "True" },
    ],
    get().matched ? "equal" : "true",
    (value) => set({ matched: value === "equal" }),
  );
  on(["matched"], show);
  show();
  return {
    element: h("div", { class: "loudness" }, h("span", { "aria-hidden": "true" }, "Loudness"), element),
    note,
  };
}
