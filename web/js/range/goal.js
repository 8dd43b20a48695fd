/** A knob with a goal: what leads from today's sound to another one, as changes to try. */

import * as api from "./api.js";
import { problemText } from "../shared/http.js";
import { createFollower } from "../shared/following.js";
import { field, number } from "./form.js";
import { levelLine, travelBars } from "./travel_bars.js";
import {
  GOAL_ENDS,
  curveInWords,
  elsewhereInWords,
  goalInWords,
  humInWords,
  reachInWords,
  wayInWords,
} from "./words.js";
import { GOAL } from "../session/ranging.js";
import { hearingOf } from "../session/session.js";
import { fixed } from "../shared/units.js";
import { plainName } from "../shared/words.js";
import { fill, h, say } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */
/** @import {GoalOptions} from "../session/ranging.js" */
/** @import {Edit} from "../shared/types.js" */
/** @import {Search, Way} from "./words.js" */

/**
 * @param {Session} session
 * @param {{knob: () => string, tryIt: (edits: Edit[], what: string) => void}} ways
 */
export function goalView(session, { knob, tryIt }) {
  const { get, set, signal } = session;
  const goal = () => get().range.goal ?? GOAL;
  /** @param {Partial<GoalOptions>} change */
  const keep = (change) => set({ range: { ...get().range, goal: { ...goal(), ...change } } });
  const end = h(
    "select",
    {
      onchange: () => {
        keep({ to: end.value.split(" ") });
        explain();
      },
    },
    ...GOAL_ENDS.map(([value, label]) => h("option", { value }, label)),
  );
  end.value = goal().to.join(" ");
  const to = field("From today's sound to", end);
  const least = field(
    "By at least, dB",
    number(goal().at_least_db, 0.5, 60, (db) => keep({ at_least_db: db }), 0.5),
  );
  const within = field(
    "Within, dB",
    number(goal().within_db, 0.5, 60, (db) => keep({ within_db: db }), 0.5),
  );
  const even = field(
    "Evenness at least, of 1",
    number(goal().evenness, 0, 1, (share) => keep({ evenness: share }), 0.05),
    "1: every half unit of the knob changes alike.",
  );
  const pot = h("input", {
    type: "checkbox",
    checked: goal().keep_pot ?? false,
    onchange: () => keep({ keep_pot: pot.checked }),
  });
  const status = h("p", { role: "status" }),
    bar = h("progress", { max: 1, "aria-label": "The search for networks", hidden: true }),
    rows = h("ol", { class: "ways" });
  const begin = h("button", { type: "button", onclick: () => search() }, "Find networks"),
    stop = h("button", { type: "button", hidden: true, onclick: () => follower.stop() }, "Stop");
  const follower = createFollower(
    show,
    (error) => say(status, error instanceof Error ? error.message : String(error)),
    signal,
    (waiting) => {
      stop.hidden = !waiting;
      bar.hidden = !waiting;
    },
  );

  function explain() {
    const ofLevel = goal().to.includes("quieter");
    least.explain(ofLevel ? "Of level, from end to end." : "Of timbre, from end to end.");
    within.explain(ofLevel ? "The timbre may wander by so much." : "The level may differ by so much.");
  }
  function search() {
    const { draft, setting } = hearingOf(get());
    if (!knob() || !setting.position) return;
    say(status, `Trying every network on ${plainName(knob())}…`);
    fill(rows);
    follower.begin((ended) => api.startGoal(draft, setting, knob(), goal(), ended));
  }
  /** @param {Search} news */
  function show({ state, problems, share, goal: found }) {
    bar.value = share ?? 0;
    if (problems)
      say(
        status,
        problems.map(([where, got, allowed, hint]) => problemText({ where, got, allowed, hint })).join(" "),
      );
    else if (found) {
      say(status, goalInWords(found));
      const ofLevel = found.to.includes("quieter");
      fill(rows, ...found.candidates.map((way) => row(way, ofLevel)));
    } else if (state !== "running")
      say(status, state === "cancelled" ? "Stopped before an answer." : "The search found no answer.");
  }
  /** @param {Way} way @param {boolean} ofLevel */
  function row(way, ofLevel) {
    const where = way.only ? `only in position ${way.only}` : "in every position",
      what = `${way.network}, ${where}`;
    const { curve, curve_edits: curved } = way;
    return h(
      "li",
      { class: "way" },
      h("h4", {}, way.network),
      h("p", { class: "small" }, `${where}; pot ${way.pot}. ${wayInWords(way, ofLevel)} ${humInWords(way)}`),
      travelBars(way, ofLevel),
      levelLine(way, way.start),
      h(
        "p",
        { class: "small soft" },
        `${way.about[0].toUpperCase()}${way.about.slice(1)}. Parts to add: ${
          way.parts.map(({ name, value }) => `${plainName(name)} ${value}`).join(", ") || "none"
        }.${way.by ? ` Confined by ${way.by}.` : ""}`,
      ),
      way.elsewhere.length > 0 &&
        h(
          "details",
          { class: "small" },
          h("summary", {}, reachInWords(way.elsewhere)),
          h(
            "ul",
            { class: "soft notes" },
            ...elsewhereInWords(way.elsewhere).map((text) => h("li", {}, text)),
          ),
        ),
      curve &&
        h(
          "p",
          { class: "small" },
          `A curve to ask a pot maker for: ${curveInWords(curve)}. Evenness ${fixed(way.curve_evenness, 2)} with it.`,
        ),
      h(
        "div",
        { class: "row" },
        h(
          "button",
          { type: "button", "aria-label": `Try it: ${what}`, onclick: () => tryIt(way.edits, what) },
          "Try it",
        ),
        curved &&
          h(
            "button",
            {
              type: "button",
              "aria-label": `Try the curve: ${what}`,
              onclick: () => tryIt(curved, `${what}, and the curve`),
            },
            "Try the curve",
          ),
      ),
    );
  }
  explain();
  return {
    element: h(
      "section",
      { class: "goal", "aria-labelledby": "goal-title" },
      h("h3", { id: "goal-title" }, "Lead it to another sound"),
      h(
        "p",
        { class: "soft small" },
        "What leads this knob from today's sound to another one: in every position, or in the bench's position alone.",
      ),
      h("div", { class: "goal-form" }, to.element, least.element, within.element, even.element),
      h(
        "label",
        { class: "goal-keep small" },
        pot,
        "Keep the pot: what is confined changes no other position.",
      ),
      h("div", { class: "row" }, begin, stop),
      bar,
      status,
      rows,
    ),
    /** The wiring or its setting has changed. */
    changed() {
      if (rows.childElementCount) say(status, "The wiring or its setting has changed. Find networks again.");
    },
  };
}
