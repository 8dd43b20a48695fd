/** The knobs below a sound: travel strips with an immediate effect. */

import { showKnob } from "../shared/units.js";
import { plainName } from "../shared/words.js";
import { fill, h, say } from "../shared/dom.js";
import { travelStrip } from "../shared/travel_strip.js";
import { same } from "../shared/store.js";
import { turnsWithWords } from "./words.js";

/** @import {ModelKnob} from "../player/live_model.js" */
/** @import {Page} from "./page.js" */
/** @import {LiveKnobs} from "./knobs.js" */

const LIVE =
  "The sound follows the knobs, for trying only: you sign for the sound as offered, not for the settings you make here. Wish for them, and the workshop can make them a sound.";

/** @param {Page} page @param {LiveKnobs} turning @param {number} number */
export function knobsView(page, turning, number) {
  const { get, on } = page,
    { live } = page.source,
    strips = h("div", { class: "strips" });
  const opener = h("button", {
    type: "button",
    class: "quiet write",
    "aria-expanded": "false",
    onclick: () => {
      if (get().turning) turning.end();
      else void turning.begin();
    },
  });
  const reset = h(
    "button",
    { type: "button", class: "quiet write", onclick: () => turning.turn(asOffered(page)) },
    "Knobs as offered",
  );
  const wish = wishButton(page, number),
    note = h("p", { class: "soft small", role: "status" });
  const box = h("div", { class: "turn" }, opener, note, strips, reset, wish);
  /** @type {(() => void)[]} */
  let updates = [];
  function build() {
    const built = get().offered.map((knob) => knobView(page, turning, knob));
    updates = built.map(({ update }) => update);
    fill(strips, ...built.map(({ element }) => element));
  }
  function show() {
    const { turning: now, number: chosen, take, offered, fetched, applied, offer } = get(),
      mine = chosen === number;
    const open = mine && now === "live";
    box.hidden = !mine || !page.item(number).clips[take];
    opener.hidden = !live.turnsWith(take);
    say(opener, mine && now ? "Done with the knobs" : "Turn the knobs");
    opener.setAttribute("aria-expanded", String(open));
    say(
      note,
      open
        ? offered.length
          ? LIVE
          : "This sound has no knobs."
        : mine && now
          ? `Loading the music for the knobs: ${Math.round(100 * fetched)} %`
          : turnsWithWords(offer.takes, take, live.turnsWith),
    );
    strips.hidden = reset.hidden = !open || offered.length === 0;
    wish.hidden = strips.hidden;
    box.dataset.applied = String(applied);
    for (const update of updates) update();
  }
  on(["offered", "turning"], () => {
    if (get().number === number && get().turning === "live") build();
  });
  on(["turning", "number", "take", "offer", "offered", "turned", "fetched", "applied"], show);
  show();
  return box;
}

/**
 * Wishes for the knobs as they stand. A wish of this browser for the same sound is taken back, unless the
 * workshop has answered it, in words or by a sound.
 * @param {Page} page @param {number} number
 */
function wishButton({ get, on, source }, number) {
  const mine = () =>
    get().offer.wishes.filter(
      (one) => one.number === number && one.device === source.device && !one.taken_back,
    );
  const button = h("button", {
    type: "button",
    class: "quiet write",
    onclick: () => {
      const before = mine(),
        knobs = get().turned;
      if (before.some((one) => same(one.knobs, knobs))) return;
      for (const { id, replies, sound, making } of before)
        if (replies.length === 0 && sound === null && making === null)
          source.say({ kind: "unwish", about: id });
      source.say({ kind: "wish", number, knobs });
    },
  });
  const show = () => {
    const wished = mine().find((one) => same(one.knobs, get().turned)),
      at = wished?.sound ? `Wished for: it is sound ${wished.sound}` : "Wished for";
    say(button, !wished ? "Wish for these settings" : source.isFile ? "Wished for, in your answer" : at);
  };
  on(["turned", "turning", "offer"], show);
  show();
  return button;
}

/** @param {Page} page @returns {Record<string, number>} */
const asOffered = ({ get }) => Object.fromEntries(get().offered.map(({ name, value }) => [name, value]));

/** @param {Page} page @param {LiveKnobs} turning @param {ModelKnob} knob */
function knobView({ get }, turning, { name, value: rest, clicks }) {
  const value = () => get().turned[name] ?? rest;
  const output = h("output", {});
  const strip = travelStrip({
    name,
    value,
    rest,
    turn: (to) => turning.turn({ [name]: to }),
    clicks: () => clicks,
  });
  function update() {
    say(output, showKnob(value()));
    strip.update();
  }
  update();
  return {
    element: h(
      "div",
      { class: "knob" },
      h("div", { class: "knob-head" }, h("b", {}, plainName(name)), output),
      strip.element,
    ),
    update,
  };
}
