/** From words to a commission: the chart is made, then sketch and chart become two versions of a wiring. */

import * as api from "./api.js";
import { createFollower } from "../shared/following.js";
import { fill, h, say } from "../shared/dom.js";
import { saveChart } from "../shared/searches.js";
import { chartInWords, shaftOf } from "./words.js";

/** @import {Charted, Made, Remedy, Words} from "./words.js" */

/** For the search of a chart, s. */
const SECONDS = 10;

/**
 * @param {{signal: AbortSignal, change: (change: Partial<Words>) => void, done: () => void}} ways
 *   change: say something else and make it again
 */
export function makingView({ signal, change, done }) {
  const said = h("p", { role: "status" }),
    failure = h("p", { class: "problem", role: "alert" }),
    bar = h("progress", { "aria-label": "The chart", hidden: true }),
    take = h("button", { type: "button", hidden: true, onclick: () => finish() }, "Take this one"),
    stop = h("button", { type: "button", hidden: true, onclick: () => halt() }, "Stop"),
    ways = h("div", { class: "worded-ways" });
  /** @type {{made: Made, words: Words, title: string, client: string} | null} */
  let order = null;
  /** @type {Charted | null} */
  let news = null;
  let finishing = false,
    halted = false;
  const follower = createFollower(
    (/** @type {Charted} */ fresh) => {
      if (halted || finishing) return;
      news = fresh;
      update();
      if (fresh.chart && (fresh.chart.final || fresh.state !== "running")) finish();
    },
    fail,
    signal,
    (waiting) => {
      if (!waiting && !finishing) idle();
    },
  );
  /** @param {unknown} error */
  function fail(error) {
    finishing = false;
    idle();
    say(failure, error instanceof Error ? error.message : String(error));
    say(said, "");
  }
  function idle() {
    bar.hidden = true;
    stop.hidden = true;
    take.hidden = true;
  }
  function halt() {
    halted = true;
    follower.stop();
    idle();
    say(said, "Stopped. Nothing was made.");
  }
  function update() {
    const running = news?.state === "running";
    bar.hidden = !running;
    stop.hidden = !running;
    take.hidden = !(running && news?.chart);
    say(said, news?.reason && !news.chart ? "" : chartInWords(news));
    const problems = (news?.problems ?? []).map(
      ([where, got, allowed]) => `${where}: got ${got}; allowed: ${allowed}.`,
    );
    say(failure, problems.join(" "));
    showWays();
  }
  /** Why there is no chart, and what would do. */
  function showWays() {
    const { reason = [], remedies, left_out: left = [], impossible, state } = news ?? {};
    if (!order || reason.length === 0 || news?.chart) return fill(ways);
    const { made } = order;
    const names = left.map((n) => made.chosen[n - 1]);
    /** @param {Remedy} one */
    const remedy = (one) =>
      h(
        "button",
        {
          type: "button",
          onclick: () =>
            change(one.switch ? { switch: one.switch, second: "", order: one.order } : { order: one.order }),
        },
        one.switch ? `Use this: ${lower(one.about)}` : "Let the sounds change places on this switch",
      );
    fill(
      ways,
      h("h3", {}, impossible ? "This switch cannot make these sounds" : "No chart was found in the time"),
      h("ul", {}, ...reason.map((line) => h("li", {}, line))),
      remedies?.length
        ? h("p", {}, "These would do:")
        : h(
            "p",
            { class: "soft small" },
            remedies || state !== "running"
              ? "No single switch of the library makes all of them."
              : "Looking for what would do…",
          ),
      ...(remedies ?? []).map(remedy),
      names.length && names.length < made.chosen.length
        ? h(
            "button",
            {
              type: "button",
              onclick: () => change({ sounds: made.chosen.filter((one) => !names.includes(one)) }),
            },
            `Leave out ${names.join("; ")}`,
          )
        : null,
      h("button", { type: "button", onclick: () => open() }, "Open the sketch without a switch"),
    );
  }
  /** Make the commission of the sketch. @param {{made: Made, title: string, client: string}} order */
  const create = ({ made: { text }, title, client }) =>
    api.createCommission({ title, client, starter: null, wiring_text: text ?? "" });
  /** Make the commission of the sketch, and open it. */
  async function open(state = {}) {
    if (!order || !order.made.text) return;
    const { words } = order;
    finishing = true;
    follower.stop();
    try {
      const { id } = await create(order);
      if (words.range) await api.saveStart(id, state);
      leave(id);
    } catch (error) {
      fail(error);
    }
  }
  /** Make the commission: the sketch is the first version of its wiring, the chart the second. */
  async function finish() {
    if (!order || !order.made.text || !news?.chart || finishing) return;
    finishing = true;
    say(said, "Saving…");
    try {
      const { id } = await create(order);
      const [{ id: wiring, versions }] = (await api.getCommissionWirings(id)).wirings;
      const note = `lug chart: ${news.chart.about}`.slice(0, 200);
      await saveChart(news.id, { wiring, base: versions[0].id, note });
      follower.stop();
      leave(id);
    } catch (error) {
      fail(error);
    }
  }
  /** @param {string} commission */
  function leave(commission) {
    done();
    location.hash = `#/c/${encodeURIComponent(commission)}`;
  }
  return {
    element: h(
      "div",
      { class: "worded-making" },
      said,
      failure,
      bar,
      h("div", { class: "row" }, take, stop),
      ways,
    ),
    /** Make it. @param {Made} made @param {Words} words @param {string} title @param {string} client */
    async make(made, words, title, client) {
      order = { made, words, title, client };
      news = null;
      finishing = halted = false;
      say(failure, "");
      fill(ways);
      if (words.range) {
        say(said, "Opening Range…");
        await open({ view: "range", switch: words.switch, count: made.stands.length });
        return;
      }
      if (!words.switch) {
        say(said, "Saving…");
        await open();
        return;
      }
      say(said, chartInWords(null));
      bar.hidden = false;
      stop.hidden = false;
      const second = words.second ? { name: words.second } : null;
      const options = {
        switch: { name: words.switch },
        second,
        shaft: shaftOf(words),
        order: words.order,
        seconds: SECONDS,
      };
      follower.begin((signal_) => api.chartText(/** @type {string} */ (made.text), options, signal_));
    },
    /** Forget what was said: something else is asked now. */
    clear() {
      if (finishing) return;
      if (order) follower.stop();
      order = null;
      news = null;
      idle();
      say(said, "");
      say(failure, "");
      fill(ways);
    },
  };
}

/** @param {string} text */
const lower = (text) => text.charAt(0).toLowerCase() + text.slice(1);
