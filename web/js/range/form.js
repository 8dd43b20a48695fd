/** The form of the search: the rules of a set, with each problem beside its field. */

import * as api from "./api.js";
import { MOST_COILS, OWN_SWITCH, cancellingInWords, fieldOf, firstAsked } from "./words.js";
import { plainName } from "../shared/words.js";
import { OF_PROFILE } from "../session/ranging.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */
/** @import {RangeOptions} from "../session/ranging.js" */
/** @import {Profile, Search, SwitchRow} from "./words.js" */

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

/** Level differences so large leave nothing out. */
const ANY_DB = 200;
/** Orders along the selector. */
const ORDERS = /** @type {const} */ ([
  ["neck", "neck to bridge"],
  ["dark", "dark to bright"],
  ["thick", "thick to thin"],
  ["near", "neighbours alike"],
]);

/**
 * A number of decibels; empty for any.
 * @param {(to: number) => void} on
 */
function decibels(on) {
  const input = h("input", {
    type: "number",
    min: 0,
    max: ANY_DB,
    step: 0.5,
    placeholder: "any",
    onchange: () => {
      const to = input.value === "" ? ANY_DB : Math.min(ANY_DB, Math.max(0, Number(input.value) || 0));
      on(to);
    },
  });
  return {
    input,
    /** @param {number | null} value */
    set: (value) => {
      if (document.activeElement !== input)
        input.value = value === null || value >= ANY_DB ? "" : String(value);
    },
  };
}

/** Where levels are compared. */
const LEVELS = /** @type {const} */ ([
  ["wired", "as wired"],
  ["clean", "as heard through clean"],
]);

/** What a limit of levels means, in words. @param {number | null} spread @param {"wired" | "clean"} levels */
export const spreadInWords = (spread, levels) =>
  spread === null || spread >= ANY_DB
    ? ""
    : `No position more than ${spread} ${levels === "clean" ? "LU below the loudest, through clean" : "dB below the loudest, as wired"}.`;

/** @param {string} words @param {(to: boolean) => void} on */
function tick(words, on) {
  const box = h("input", { type: "checkbox", onchange: () => on(box.checked) });
  return { element: h("label", { class: "tick" }, box, words), box };
}

/** @param {Session} session @param {{search: (keepMap?: boolean) => void, stop: () => void}} ways */
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
    onchange: () => ask({ quiet: quietInput.value }),
  });
  const quiet = field("Hum-cancelling at least", quietInput);
  const profile = choice(
    "Wanted",
    [
      { value: "useful", label: "most useful" },
      { value: "widest", label: "widest range" },
    ],
    now.profile,
    (to) => {
      ask({ ...OF_PROFILE, profile: to === "useful" ? "useful" : "widest" });
      if (get().range.began) search(true);
    },
  );
  const about = h("p", { class: "soft small" });
  const phaseInput = h("select", {
    onchange: () => ask({ in_phase: phaseInput.value }),
  });
  const phase = field("In phase at least", phaseInput);
  const orderInput = h(
    "select",
    {
      onchange: () => ask({ order: ORDERS.find(([name]) => name === orderInput.value)?.[0] ?? null }),
    },
    ...ORDERS.map(([name, words]) => h("option", { value: name }, words)),
  );
  const order = field(
    "Order along the selector",
    orderInput,
    "Give a pinned sound a position to set the order by hand.",
  );
  const inOrder = tick("The switch must keep the order", (to) => ask({ in_order: to }));
  const usual = tick("Usual connections only", (to) => ask({ usual: to }));
  usual.element.title = "Each pickup whole, its coils in parallel or one of them; pickups in parallel.";
  const plain = tick("Keep each pickup, and neighbours together", (to) => ask({ plain: to }));
  const softest = decibels((to) => ask({ window_db: to })),
    spread = decibels((to) => ask({ spread_db: to })),
    step = decibels((to) => ask({ step_db: to }));
  const levelsInput = h(
    "select",
    {
      onchange: () => ask({ levels: LEVELS.find(([name]) => name === levelsInput.value)?.[0] ?? "wired" }),
    },
    ...LEVELS.map(([name, words]) => h("option", { value: name }, words)),
  );
  const levels = field(
    "Compare levels",
    levelsInput,
    "A loudspeaker favours bridge pickups: through clean they gain up to 6 LU.",
  );
  const level = field("Softest, dB below the loudest of all sounds", softest.input);
  const apart = field("Levels apart at most, dB", spread.input);
  const beside = field("Neighbours' levels apart at most, dB", step.input);
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
    usual.element,
    plain.element,
    levels.element,
    h("div", { class: "ask-pair" }, beside.element, apart.element),
    level.element,
    thin.element,
    inOrder.element,
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
    h("div", { class: "ask" }, h("span", { class: "label" }, "Wanted"), profile.element, about),
    h("div", { class: "ask-pair" }, quiet.element, phase.element),
    h("div", { class: "ask-pair" }, count.element, order.element),
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
    fillCounts(quietInput, n, m);
    const own = profiles.find(({ name }) => name === asked().profile);
    profile.set(asked().profile);
    say(about, own?.about ?? "");
    fillCounts(phaseInput, n, asked().in_phase ?? own?.in_phase ?? 0);
    orderInput.value = asked().order ?? own?.order ?? "neck";
    usual.box.checked = asked().usual ?? own?.usual ?? false;
    plain.box.checked = asked().plain ?? own?.plain ?? false;
    inOrder.box.checked = asked().in_order;
    inOrder.element.hidden = !asked().switch;
    softest.set(asked().window_db ?? own?.window_db ?? null);
    spread.set(asked().spread_db ?? own?.spread_db ?? null);
    step.set(asked().step_db ?? own?.step_db ?? null);
    levelsInput.value = asked().levels;
    apart.explain(spreadInWords(asked().spread_db ?? own?.spread_db ?? null, asked().levels));
    const limit = get().check?.hum_cancelling_db;
    quiet.explain(limit === undefined ? "" : cancellingInWords(limit));
    fill(
      pins,
      ...pinned.map((one) => kept("Pinned", one, () => unpin(one), placeSelect(one))),
      ...bans.map((one) => kept("Left out", one, () => ask({ bans: bans.filter((other) => other !== one) }))),
    );
    const first = asked().profile === "useful" ? "Find the most useful set" : "Find the widest range";
    say(go, began ? "Find again" : first);
    showSwitch();
  }
  /** @param {string} expression */
  function unpin(expression) {
    const { pins: pinned, places } = asked();
    ask({
      pins: pinned.filter((one) => one !== expression),
      places: places.filter((one) => one.expression !== expression),
    });
  }
  /** The position of a pinned sound by hand. @param {string} expression */
  function placeSelect(expression) {
    const { count: n, places } = asked();
    const select = h(
      "select",
      {
        "aria-label": `Position of ${expression}`,
        onchange: () => {
          const to = Number(select.value),
            others = asked().places.filter(
              (one) => one.expression !== expression && one.position !== to && one.position <= n,
            );
          ask({ places: to ? [...others, { position: to, expression }] : others });
        },
      },
      h("option", { value: 0 }, "anywhere"),
      ...Array.from({ length: n }, (_, k) => h("option", { value: k + 1 }, `position ${k + 1}`)),
    );
    select.value = String(places.find((one) => one.expression === expression)?.position ?? 0);
    return select;
  }
  /** @type {Profile[]} */
  let profiles = [];
  api
    .listProfiles()
    .then((rows) => {
      profiles = rows;
      show();
    })
    .catch(() => undefined); // the search itself says that the server is away
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
      phase.refuse(of("in_phase"));
      on_.refuse(of("switch"));
      say(coilsProblem, of("coils"));
      say(pinsProblem, of("pins"));
      say(otherProblem, of(""));
      if (of("coils")) more.open = true;
    },
  };
}

/**
 * Options for how many positions at least.
 * @param {HTMLSelectElement} select @param {number} n positions @param {number | string} value
 */
function fillCounts(select, n, value) {
  if (select.options.length !== n + 3)
    fill(
      select,
      ...Array.from({ length: n + 1 }, (_, k) => h("option", { value: k }, k === 0 ? "any" : String(k))),
      h("option", { value: "50 %" }, "half of them"),
      h("option", { value: "all" }, "all"),
    );
  select.value = typeof value === "number" ? String(Math.min(value, n)) : value;
  if (!select.value) select.value = String(n);
}

/** @param {string} how @param {string} expression @param {() => void} drop @param {HTMLElement} [where] */
const kept = (how, expression, drop, where) =>
  h(
    "span",
    { class: "kept-sound" },
    h("span", {}, `${how}: ${expression}`),
    where ?? null,
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
