/** The form of the search: the rules of a set, with each problem beside its field. */

import { MOST_COILS, OWN_SWITCH, cancellingInWords, fieldOf, firstAsked } from "./words.js";
import { plainName } from "../shared/words.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */
/** @import {RangeOptions} from "../session/ranging.js" */
/** @import {Search, SwitchRow} from "./words.js" */

/** @param {string} label @param {HTMLElement} input @param {string} [about] */
export function field(label, input, about = "") {
  const id = uid("ask"),
    words = h("p", { class: "soft small", id: `${id}-about` }, about),
    problem = h("p", { class: "problem", role: "alert", id: `${id}-told` });
  input.id = id;
  input.setAttribute("aria-describedby", `${id}-about ${id}-told`);
  const element = h("div", { class: "ask" }, h("label", { for: id }, label), input, words, problem);
  return {
    element,
    /** @param {string} text */
    explain: (text) => say(words, text),
    /** @param {string} text */
    refuse(text) {
      say(problem, text);
      input.setAttribute("aria-invalid", String(!!text));
    },
  };
}

/**
 * A number field with limits.
 * @param {number} value @param {number} min @param {number} max @param {(to: number) => void} on
 * @param {number} [step]
 */
export function number(value, min, max, on, step = 1) {
  const input = h("input", {
    type: "number",
    min,
    max,
    step,
    value: String(value),
    onchange: () => {
      const to = Math.min(max, Math.max(min, Number(input.value) || min));
      input.value = String(to);
      on(to);
    },
  });
  return input;
}

/** @param {Session} session @param {{search: () => void, stop: () => void}} ways */
export function formView(session, { search, stop }) {
  const { get, set, on } = session;
  const asked = () => get().range.asked;
  /** @param {Partial<RangeOptions>} change */
  const ask = (change) => set({ range: { ...get().range, asked: { ...asked(), ...change } } });
  const now = asked();

  const count = field(
    "Positions",
    number(now.count, 1, 12, (to) => ask({ count: to })),
    "",
  );
  const quietInput = h("select", {
    onchange: () => ask({ quiet: quietInput.value === "all" ? "all" : Number(quietInput.value) }),
  });
  const quiet = field("Hum-cancelling at least", quietInput);
  const profile = choice(
    "Wanted",
    [
      { value: "widest", label: "widest range" },
      { value: "useful", label: "most useful" },
    ],
    now.profile ?? "widest",
    (to) => ask({ profile: to === "useful" ? "useful" : "widest" }),
  );
  const phase = choice(
    "Phase",
    [
      { value: "in", label: "in phase" },
      { value: "any", label: "out of phase too" },
    ],
    now.opposed ? "any" : "in",
    (to) => ask({ opposed: to === "any" }),
  );
  const order = choice(
    "Order",
    [
      { value: "dark", label: "dark to bright" },
      { value: "near", label: "neighbours alike" },
    ],
    now.order,
    (to) => ask({ order: to === "near" ? "near" : "dark" }),
  );
  const level = field(
    "Softest, dB below the loudest",
    number(now.window_db, 0, 60, (to) => ask({ window_db: to })),
  );
  const thin = field(
    "Lows at least, % of the energy below 250 Hz",
    number(Math.round(now.thinnest * 100), 0, 100, (to) => ask({ thinnest: to / 100 })),
    "Excludes thin sounds.",
  );
  const seconds = field(
    "Search for at most, s",
    number(now.seconds, 1, 600, (to) => ask({ seconds: to })),
    "The best set found by then stays.",
  );
  const where = h("select", {
    onchange: () => {
      const { chart } = get().range,
        on_it = { name: where.value, table: chart.switch.table, stop: null };
      ask({ switch: where.value ? on_it : null });
      // the chart uses the same switch
      if (where.value) set({ range: { ...get().range, chart: { ...chart, switch: on_it } } });
    },
  });
  const on_ = field("For", where, "Finding the best set for one switch takes longer.");
  const coils = h("div", { class: "ticks", role: "group", "aria-label": "Coils to search among" });
  const coilsProblem = h("p", { class: "problem", role: "alert" });
  const pins = h("div", { class: "kept-sounds" }),
    pinsProblem = h("p", { class: "problem", role: "alert" });
  const otherProblem = h("p", { class: "problem", role: "alert" });
  const go = h("button", { class: "main" }, "Find the widest range"),
    end = h("button", { type: "button", hidden: true, onclick: stop }, "Stop");
  const more = h(
    "details",
    { class: "more" },
    h("summary", {}, "More rules"),
    level.element,
    thin.element,
    h("div", { class: "ask" }, h("span", { class: "label" }, "Order along the selector"), order.element),
    coils,
    coilsProblem,
    seconds.element,
  );
  const element = h(
    "form",
    {
      class: "asking",
      "aria-label": "Rules of the set",
      onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        search();
      },
    },
    h(
      "div",
      { class: "ask" },
      h("span", { class: "label" }, "Wanted"),
      profile.element,
      h(
        "p",
        { class: "soft small" },
        "Most useful: in phase, at most 14 dB below the loudest, with each pickup alone and neighbours together.",
      ),
    ),
    h("div", { class: "ask-pair" }, count.element, quiet.element),
    h("div", { class: "ask" }, h("span", { class: "label" }, "Coils are"), phase.element),
    on_.element,
    more,
    pins,
    pinsProblem,
    otherProblem,
    h("div", { class: "row" }, go, end),
  );

  function show() {
    const {
      asked: { count: n, quiet: m, pins: pinned, bans },
      began,
    } = get().range;
    if (quietInput.options.length !== n + 2)
      fill(
        quietInput,
        ...Array.from({ length: n + 1 }, (_, k) => h("option", { value: k }, k === 0 ? "any" : String(k))),
        h("option", { value: "all" }, "all"),
      );
    quietInput.value = String(m === "all" ? "all" : Math.min(m, n));
    const limit = get().check?.hum_cancelling_db;
    quiet.explain(limit === undefined ? "" : cancellingInWords(limit));
    fill(
      pins,
      ...pinned.map((one) =>
        kept("Pinned", one, () => ask({ pins: pinned.filter((other) => other !== one) })),
      ),
      ...bans.map((one) => kept("Left out", one, () => ask({ bans: bans.filter((other) => other !== one) }))),
    );
    say(go, began ? "Find again" : "Find the widest range");
    showSwitch();
  }
  /** @type {SwitchRow[]} */
  let switches = [];
  function showSwitch() {
    const name = asked().switch?.name ?? "";
    if (where.options.length !== switches.length + (name === OWN_SWITCH ? 2 : 1))
      fill(
        where,
        h("option", { value: "" }, "any switch"),
        ...switches.map((row) => h("option", { value: row.name }, row.about)),
        name === OWN_SWITCH ? h("option", { value: OWN_SWITCH }, "my own switch") : null,
      );
    where.value = name;
    if (where.value !== name) where.value = "";
  }
  let built = "";
  function showCoils() {
    const all = get().check?.coils ?? [],
      next = JSON.stringify(all.map(({ name }) => name));
    if (next === built || all.length === 0) return;
    built = next;
    const known = all.map(({ name }) => name),
      wanted = asked().coils?.filter((name) => known.includes(name));
    const chosen = wanted?.length ? wanted : known.slice(0, MOST_COILS);
    if (!get().range.began) ask({ ...firstAsked(all), coils: known.length > MOST_COILS ? chosen : null });
    else if (asked().coils) ask({ coils: chosen });
    count.element.querySelector("input")?.setAttribute("value", String(asked().count));
    /** @type {HTMLInputElement} */ (count.element.querySelector("input")).value = String(asked().count);
    fill(
      coils,
      h("span", { class: "label" }, "Coils"),
      ...known.map((name) => {
        const box = h("input", {
          type: "checkbox",
          checked: chosen.includes(name),
          value: name,
          onchange: () => {
            const ticked = [
              .../** @type {NodeListOf<HTMLInputElement>} */ (coils.querySelectorAll("input:checked")),
            ].map(({ value }) => value);
            ask({ coils: ticked.length === known.length && ticked.length <= MOST_COILS ? null : ticked });
          },
        });
        return h("label", {}, box, plainName(name));
      }),
    );
  }
  on(["range"], show);
  on(["check"], showCoils);
  show();
  showCoils();
  return {
    element,
    /** @param {SwitchRow[]} rows */
    showSwitches(rows) {
      switches = rows;
      showSwitch();
    },
    /** @param {boolean} waiting for the search */
    setWaiting(waiting) {
      end.hidden = !waiting;
    },
    /** @param {Search | null} news */
    update(news) {
      const problems = news?.problems ?? [];
      /** @param {string} name */
      const of = (name) =>
        problems
          .filter(([place]) => fieldOf(place) === name)
          .map(
            ([place, got, allowed, hint]) =>
              `${name ? "" : `${place}: `}Got ${got}; allowed: ${allowed}${hint ? ` (${hint})` : ""}.`,
          )
          .join(" ");
      count.refuse(of("count"));
      quiet.refuse(of("quiet"));
      on_.refuse(of("switch"));
      say(coilsProblem, of("coils"));
      say(pinsProblem, of("pins"));
      say(otherProblem, of(""));
      if (of("coils")) more.open = true;
    },
  };
}

/** @param {string} how @param {string} expression @param {() => void} drop */
const kept = (how, expression, drop) =>
  h(
    "span",
    { class: "kept-sound" },
    h("span", {}, `${how}: ${expression}`),
    h(
      "button",
      {
        type: "button",
        class: "quiet",
        "aria-label": `No longer ${how.toLowerCase()}: ${expression}`,
        onclick: drop,
      },
      "×",
    ),
  );
