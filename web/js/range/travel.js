/** How evenly a knob changes the sound, and changes that make it more even. */

import * as api from "./api.js";
import { createFollower } from "../shared/following.js";
import { goalView } from "./goal.js";
import { travelBars } from "./travel_bars.js";
import { hearingOf } from "../session/session.js";
import { fixed } from "../shared/units.js";
import { plainName } from "../shared/words.js";
import { fill, h, say } from "../shared/dom.js";
import { toast } from "../shared/notices.js";

/** @import {Session} from "../session/session.js" */
/** @import {Edit} from "../shared/types.js" */
/** @import {Search} from "./words.js" */

/** @param {Session} session */
export function travelView(session) {
  const { get, set, on, signal } = session;
  const knob = h("select", {
    onchange: () => {
      keep({ knob: knob.value });
      look();
    },
  });
  const capacitor = h("select", {
    onchange: () => {
      keep({ capacitor: capacitor.value });
      look();
    },
  });
  const status = h("p", { role: "status" }),
    picture = h("figure", {}),
    advice = h("div", { class: "advice" });
  const look_ = h("button", { type: "button", onclick: () => look() }, "Show its travel"),
    end = h("button", { type: "button", hidden: true, onclick: () => follower.stop() }, "Stop");
  const follower = createFollower(
    show,
    (error) => say(status, error instanceof Error ? error.message : String(error)),
    signal,
    (waiting) => {
      end.hidden = !waiting;
    },
  );
  /** @param {{knob?: string, capacitor?: string}} change */
  const keep = (change) => set({ range: { ...get().range, ...change } });
  const goal = goalView(session, { knob: () => knob.value, tryIt });
  let looked = false;

  function look() {
    const { draft, setting } = hearingOf(get());
    if (!knob.value || !setting.position) return;
    looked = true;
    say(status, "Turning the knob…");
    follower.begin((ended) => api.startTravel(draft, setting, knob.value, capacitor.value, ended));
  }
  /** @param {Edit[]} edits @param {string} what */
  function tryIt(edits, what) {
    session.edit(...edits);
    toast(`Now with ${what}.`, { label: "Undo", act: session.undo });
    look();
  }
  /** @param {Search} news */
  function show(news) {
    if (news.problems) {
      say(
        status,
        news.problems.map(([where, got, allowed]) => `${where}: got ${got}; allowed: ${allowed}.`).join(" "),
      );
      return;
    }
    const { travel, volume } = news;
    if (!travel) {
      if (news.state !== "running")
        say(
          status,
          news.state === "cancelled" ? "Stopped before the travel was known." : "The travel was not found.",
        );
      return;
    }
    const even = volume ? travel.level_evenness : travel.evenness;
    say(
      status,
      `${plainName(travel.knob)}: evenness ${fixed(even, 2)} of 1 in ${volume ? "level" : "timbre"}; the timbre changes by ${fixed(travel.width_db)} dB from end to end (${travel.heard}).`,
    );
    fill(
      picture,
      travelBars(travel, volume ?? false),
      h(
        "figcaption",
        { class: "small soft" },
        `${volume ? "Level" : "Timbre"} distance of every half unit of the knob, 0 to 10. Equal bars mean an even knob.`,
      ),
    );
    fill(
      advice,
      ...(news.advice?.length
        ? [h("h3", {}, "More even with")]
        : news.advice
          ? [
              h(
                "p",
                { class: "small soft" },
                "No other usual taper or nearby capacitor value makes it more even.",
              ),
            ]
          : []),
      ...(news.advice ?? []).map(({ edits, evenness, level_evenness: level, width_db: width }) => {
        const what = edits
          .map(({ path, value }) => `${path.slice(1).join(" ").replaceAll("_", " ")} ${value}`)
          .join(", ");
        return row(
          what,
          `evenness ${fixed(volume ? level : evenness, 2)}, ${fixed(width)} dB from end to end`,
          () => tryIt(edits, what),
        );
      }),
      ...(news.bypass
        ? [
            h("h3", {}, "Treble on the way down"),
            h(
              "p",
              { class: "small" },
              `Down to 2 it loses up to ${fixed(news.treble_lost_db ?? 0)} dB of treble, and the timbre wanders by ${fixed(news.wander_db ?? 0)} dB. From lug 3 to the wiper:`,
            ),
          ]
        : []),
      ...(news.bypass ?? []).map(({ parts, beside, edits, wander_db: wander, treble_lost_db: lost }) => {
        const what = parts.join(beside ? " beside " : " in line with ");
        return row(what, `treble lost ${fixed(lost)} dB, wanders ${fixed(wander)} dB`, () =>
          tryIt(edits, what),
        );
      }),
      news.no_networks && h("p", { class: "small soft" }, `No network to try: ${news.no_networks}.`),
      ...(news.networks?.length
        ? [
            h("h3", {}, "Other networks for this knob"),
            h(
              "p",
              { class: "small" },
              "First the networks that no other beats in both width and evenness, the widest first; then the best compromise of each other kind.",
            ),
          ]
        : []),
      ...(news.networks ?? []).map(
        ({ kind, network, pot, coils, width_db: width, evenness, at_ten_db: paid, edits }) => {
          const what = `${network}, pot ${pot}`,
            fades = coils.length ? `fades in ${coils.join(" and ").replaceAll("_", " ")}, ` : "";
          return row(
            what,
            `${kind}; ${fades}${fixed(width)} dB from end to end, evenness ${fixed(evenness, 2)}, ${fixed(paid)} dB from today's sound at 10`,
            () => tryIt(edits, what),
          );
        },
      ),
    );
  }
  let offered = "";
  function offer() {
    const { check, range } = get();
    if (!check?.ok) return;
    const names = JSON.stringify([check.knobs, check.parts.map(({ name, kind }) => [name, kind])]);
    if (names === offered) return; // a list that somebody has open stays
    offered = names;
    const kept = range.knob || knob.value;
    fill(knob, ...check.knobs.map(({ name }) => h("option", { value: name }, plainName(name))));
    knob.value = check.knobs.some(({ name }) => name === kept) ? kept : (check.knobs[0]?.name ?? "");
    const caps = check.parts.filter(({ kind }) => kind === "capacitor").map(({ name }) => name);
    fill(
      capacitor,
      h("option", { value: "" }, "no other part"),
      ...caps.map((name) => h("option", { value: name }, plainName(name))),
    );
    capacitor.value = caps.includes(range.capacitor) ? range.capacitor : "";
  }
  on(["check"], offer);
  offer();
  on(["slots"], () => {
    goal.changed();
    if (looked && get().view === "range")
      say(status, "The wiring or its setting has changed. Show the travel again.");
  });
  return h(
    "section",
    { class: "travel sheet", "aria-labelledby": "travel-title" },
    h("h2", { id: "travel-title" }, "How evenly a knob moves"),
    h("p", { class: "soft small" }, "At the bench's position and setting."),
    h(
      "div",
      { class: "row" },
      h("label", { class: "field" }, h("span", {}, "Knob"), knob),
      h("label", { class: "field" }, h("span", {}, "Try values of"), capacitor),
      look_,
      end,
    ),
    status,
    h("div", { class: "travel-found" }, picture, advice),
    goal.element,
  );
}

/** @param {string} what @param {string} does @param {() => void} act */
const row = (what, does, act) =>
  h(
    "div",
    { class: "other" },
    h("span", { class: "small" }, h("b", {}, what), `: ${does}`),
    h("button", { type: "button", "aria-label": `Try it: ${what}`, onclick: act }, "Try it"),
  );
