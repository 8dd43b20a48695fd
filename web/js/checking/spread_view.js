/** Ten instruments by tolerance: how far they differ, what makes it, the farthest two to hear. */

import { hearingOf, missingOf } from "../session/session.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { createFollower } from "../shared/following.js";
import { problemText } from "../shared/http.js";
import { toast } from "../shared/notices.js";
import * as api from "./api.js";
import { limitsView } from "./limits_view.js";
import { spreadPlot } from "./spread_plot.js";
import { partText, selectingText, spreadText } from "./words.js";

/** @import {AlikeState} from "../session/alike.js" */
/** @import {Session} from "../session/session.js" */
/** @import {SpreadSearch} from "./api.js" */

const BUILT = 10,
  CABLE = 0.2,
  LEAST_SHARE = 0.02;

/** @param {Session} session */
export function openSpread(session) {
  const missing = missingOf(session.get());
  if (missing.length) return toast(`The drawing is not finished. Still missing: ${missing.join(", ")}.`);
  const ending = new AbortController();
  openDialog("Built ten times", (close) => spreadBody(session, ending.signal, close), {
    closed: () => ending.abort(),
  });
}

/** @param {Session} session @param {AbortSignal} signal @param {() => void} close */
function spreadBody(session, signal, close) {
  const { get, set } = session;
  const { draft } = hearingOf(get());
  const labels = new Map((get().check?.positions ?? []).map((one) => [one.position, one.label]));
  /** @type {SpreadSearch | null} */
  let found = null;

  const bar = h("progress", { max: 1, "aria-label": "Instruments computed" });
  const working = h(
    "p",
    { class: "measure-working", role: "status" },
    bar,
    h("span", {}, "Instruments are drawn and computed…"),
  );
  const problem = h("p", { class: "problem", role: "alert" });
  const again = h("button", { type: "button", hidden: true, onclick: ask }, "Try again");
  const honest = h("p", { class: "spread-honest", role: "status" });
  const shares = h("ul", { class: "spread-shares" });
  const selecting = h("p", { class: "small" });
  const plots = h("div", { class: "spread-plots" });
  const hear = h(
    "button",
    { type: "button", class: "main", hidden: true, onclick: hearEnds },
    "Hear the farthest two",
  );
  const cable = h("input", {
    type: "checkbox",
    checked: get().alike.cable,
    onchange: () => change({ cable: cable.checked }),
  });
  const limits = limitsView({
    positions: [...labels.keys()],
    change: (next) => change({ limits: next }),
  });
  const differs = h(
    "section",
    { "aria-label": "What differs most", hidden: true },
    h("h3", {}, "What differs most"),
    shares,
    selecting,
  );
  const key = h(
    "p",
    { class: "soft small", hidden: true },
    "At each frequency the band holds 95 % of 200 instruments; so do the figures below. The line is the wiring as drawn; the dashes are the farthest two of ten.",
  );

  /** @param {Partial<AlikeState>} next */
  function change(next) {
    set({ alike: { ...get().alike, ...next } });
    ask();
  }
  const follower = createFollower(/** @type {(search: SpreadSearch) => void} */ (show), fail, signal);
  function ask() {
    const { alike } = get();
    say(problem, "");
    again.hidden = true;
    limits.show(alike.limits, undefined, new Map());
    follower.begin((stop) =>
      api.startSpread(draft, { built: BUILT, cable: alike.cable ? CABLE : 0, limits: alike.limits }, stop),
    );
  }
  /** @param {unknown} error */
  function fail(error) {
    if (signal.aborted) return;
    working.hidden = true;
    again.hidden = false;
    say(problem, error instanceof Error ? error.message : String(error));
  }
  /** @param {SpreadSearch} search */
  function show(search) {
    found = search;
    const { state, share = 0, spread, curves, problems = [] } = search;
    working.hidden = state !== "running";
    bar.value = share;
    const ofLimits = new Map(
      problems.flatMap(([where, got, allowed, hint]) => {
        const number = /^limit (\d+)/.exec(where)?.[1];
        return number ? [[Number(number), problemText({ where: "", got, allowed, hint })]] : [];
      }),
    );
    const others = problems.filter(([where]) => !/^limit \d/.test(where));
    say(
      problem,
      others.map(([where, got, allowed, hint]) => problemText({ where, got, allowed, hint })).join(" "),
    );
    if (state !== "running" && state !== "done" && problems.length === 0)
      fail(new Error("It ended before it was done."));
    limits.show(get().alike.limits, search.limits, /** @type {Map<number, string>} */ (ofLimits));
    hear.hidden = !search.ends;
    differs.hidden = !spread;
    key.hidden = !curves;
    if (!spread) return;
    say(honest, spread.honest);
    fill(
      shares,
      ...spread.shares
        .filter((one) => one.share >= LEAST_SHARE)
        .map((one) => {
          const bar = h("span", { class: "fault-bar", "aria-hidden": "true" });
          bar.style.setProperty("--share", String(one.share));
          return h("li", {}, partText(one), bar);
        }),
    );
    say(selecting, selectingText(spread.shares, spread.worth_selecting));
    fill(
      plots,
      ...spread.settings.map((row, k) => {
        const words = spreadText(row);
        const label = labels.get(row.setting);
        const title = `Position ${row.setting}`.replaceAll("=", " at ");
        return h(
          "figure",
          {},
          h("figcaption", {}, h("b", {}, title), label && h("span", { class: "soft" }, ` ${label}`)),
          curves && spreadPlot(curves, k, `${title}: ${words}.`),
          h("p", { class: "small soft" }, words),
        );
      }),
    );
  }
  /** Both ends beside what plays. */
  function hearEnds() {
    if (!found?.ends) return;
    const first = session.get().slots.length;
    if (!session.putBeside(found.ends)) {
      return say(
        problem,
        "Four sounds at most are compared: drop one or two first, then hear the farthest two.",
      );
    }
    set({ matched: true });
    close();
    const [one, other] = [first, first + 1].map((k) => "ABCD"[k]);
    const cables = get().alike.cable ? ", each with its player's cable" : "";
    toast(
      `${one} and ${other} are the farthest two of ten${cables}. Keys A to D switch between sounds; levels are matched.`,
    );
  }
  ask();
  return h(
    "div",
    { class: "alike" },
    h(
      "p",
      { class: "soft small" },
      "The same wiring from ten sets of parts. Values are drawn: 95 % lie within the tolerance, which is two standard deviations. All of it is computed.",
    ),
    h("label", { class: "row" }, cable, h("span", {}, "Their players' cables differ too, by ±20 %")),
    working,
    problem,
    again,
    honest,
    hear,
    differs,
    key,
    plots,
    limits.element,
  );
}
